"""Smoothing that keeps the timing of fast movement.

Each gap-free run is fitted with a cubic smoothing spline, which has no lag and takes the frames'
own times, however uneven. Its penalty is set so that it passes the same frequencies as the
zero-lag (forward and backward) second-order Butterworth filter usual in biomechanics: both have
the gain ``1 / (1 + (f / f0)**4)``. Spline and filter are compared in C. Craven and G. Wahba,
Numerische Mathematik 31, 1979 (the spline's gain) and D. A. Winter, Biomechanics and Motor Control
of Human Movement, 4th ed., 2009, section 3.4.4 (the filter and the choice of cut-off); both from
memory.
"""

from __future__ import annotations

import numpy as np

from posecheck.keypoints.jumps import jumped
from posecheck.keypoints.sides import put_sides_right
from posecheck.keypoints.tuning import CUTOFF_HZ, MAX_FILL_S, MIN_RUN, SCALE_OVER_S
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.timeline import stretches
from posecheck.maths.tuning import ROUNDING_S
from posecheck.pose.track import PoseTrack


def smooth_track(
    track: PoseTrack,
    cutoff_hz: float = CUTOFF_HZ,
    like: PoseTrack | None = None,
    spacing_s: float = 0.0,
) -> PoseTrack:
    """Put left and right back, leave out what jumps, fill short gaps, and smooth every landmark.

    Args:
        track: as read.
        cutoff_hz: as :func:`smooth` takes it.
        like: another reading of the same body in the same frames, smoothed; it helps to know left
            from right.
        spacing_s: as :func:`smooth` takes it.

    Returns:
        The track with the same times. Positions are NaN where no sighting is near enough; ``score``
        stays NaN where a position was filled in, so that a position without a score is known to be
        interpolated. ``exchanged`` and ``left_out`` say what was found wrong.
    """
    seen = np.isfinite(track.xy_px).all(axis=2) & np.isfinite(track.world_m).all(axis=2)
    px_per_m = _px_per_m(track)
    sides = put_sides_right(track, px_per_m, like.xy_px if like else None)
    right = sides.track
    left_out = seen & (sides.undecided | jumped(right.t_s, right.xy_px, px_per_m))
    seen &= ~left_out
    both = np.concatenate([right.xy_px, right.world_m], axis=2)
    both[~seen] = np.nan
    smoothed = np.empty_like(both)
    # Landmarks seen in the same frames go through one spline.
    together, number = np.unique(seen, axis=1, return_inverse=True)
    for each in range(together.shape[1]):
        group = number == each
        values = both[:, group].reshape(len(both), -1)
        smoothed[:, group] = smooth(track.t_s, values, cutoff_hz, spacing_s).reshape(
            both[:, group].shape
        )
    score = np.where(seen, right.score, np.nan)
    return PoseTrack(
        track.t_s, smoothed[..., :2], smoothed[..., 2:], score, sides.exchanged, left_out
    )


def smooth(
    t_s: FloatArray, values: FloatArray, cutoff_hz: float = CUTOFF_HZ, spacing_s: float = 0.0
) -> FloatArray:
    """Smooth values over time without lag.

    Args:
        t_s: ``(n_frames,)`` seconds, strictly increasing, evenly spaced or not.
        values: ``(n_frames, n)`` in any unit; a frame with a NaN in it counts as not seen.
        cutoff_hz: frequency whose amplitude falls to 0.71.
        spacing_s: seconds between sightings, where they are meant to be that far apart.

    Returns:
        ``(n_frames, n)``. Frames not seen are filled in where the sightings on both sides are near
        enough (``MAX_FILL_S`` or ``spacing_s``); NaN elsewhere. Runs of fewer than five sightings
        are returned as they are.
    """
    from scipy.interpolate import make_smoothing_spline

    # Winter's correction: two passes make the filter's half-amplitude frequency this much higher.
    half_amplitude_hz = cutoff_hz / (np.sqrt(2.0) - 1.0) ** 0.25
    penalty = (2.0 * np.pi * half_amplitude_hz) ** -4
    smoothed = np.full(values.shape, np.nan)
    seen: BoolArray = np.asarray(np.isfinite(values).all(axis=1))
    # A gap is the time between two sightings less the usual one frame.
    frame_s = float(np.median(np.diff(t_s))) if len(t_s) > 1 else 0.0
    bridged_s = max(MAX_FILL_S, spacing_s) + frame_s + ROUNDING_S
    for run in stretches(t_s, seen, bridged_s=bridged_s):
        if len(run) < MIN_RUN:
            smoothed[run] = values[run]
            continue
        # From the run's own start, so that the result cannot depend on when the clip began.
        since_s = t_s - t_s[run[0]]
        # Weighted by the time that each sighting covers, the sum of squares is an integral over
        # time, and the cut-off is the same at any frame rate.
        weight_s = np.gradient(since_s[run])
        spline = make_smoothing_spline(since_s[run], values[run], w=weight_s, lam=penalty)
        within = slice(run[0], run[-1] + 1)
        smoothed[within] = spline(since_s[within])
    return smoothed


def _px_per_m(track: PoseTrack) -> FloatArray:
    """``(n_frames,)`` scale of the body in the picture, from its spread there and in metres.

    The middle one of those around each frame, as a body read badly gives no scale.
    """
    spread_px = np.sqrt(track.xy_px.var(axis=1).sum(axis=1))
    spread_m = np.sqrt(track.world_m[..., :2].var(axis=1).sum(axis=1))
    scale = spread_px / spread_m
    read = np.flatnonzero(np.isfinite(scale))
    first = np.searchsorted(track.t_s[read], track.t_s[read] - SCALE_OVER_S)
    last = np.searchsorted(track.t_s[read], track.t_s[read] + SCALE_OVER_S, side="right")
    steady = np.full(len(scale), np.nan)
    for i, a, b in zip(read, first, last, strict=True):
        steady[i] = np.median(scale[read[a:b]])
    return steady
