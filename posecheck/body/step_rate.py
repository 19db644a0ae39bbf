"""How many steps a second a player takes.

Read from how his knees and ankles move apart, or from how his trunk goes up and down.

Which leg is the left one may be read wrongly in any frame, so nothing here depends on it: the line
from one ankle to the other is taken without a direction, by twice its angle. That repeats once a
step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.body.tuning import (
    BOUNCE_EVERY_S,
    BOUNCE_OVER_S,
    BOUNCE_SEEN_SHARE,
    LEAST_BOUNCE_SHARE,
    LEAST_BOUNCES,
    LEAST_STEPS,
    LEAST_STEPS_SHARE,
    MOST_STEPS_HZ,
    STEPS_GRID,
    TWICE_SHARE,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.pose.skeleton import SKELETON

_LEGS = tuple(SKELETON.indices(f"left_{part}", f"right_{part}") for part in ("ankle", "knee"))
_SHOULDERS = SKELETON.indices("left_shoulder", "right_shoulder")
_HIPS = SKELETON.indices("left_hip", "right_hip")


@dataclass(frozen=True)
class StepRate:
    """Steps over a stretch of time.

    Attributes:
        hz: steps a second.
        share: of all that knees and ankles do against each other, how much repeats with that rate.
    """

    hz: float
    share: float


def step_rate(t_s: FloatArray, xy_px: FloatArray) -> StepRate | None:
    """The step rate of a player who walks or runs all through a stretch of time.

    The rate whose sine and cosine explain most of the movement: Lomb's periodogram, which wants no
    even times (Lomb, Astrophysics and Space Science 39, 1976), summed over knees and ankles. From
    straight ahead it may find the stride, since one leg looks a little different from the other;
    then much is left at twice the rate, and that is the step's.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_px: ``(n, 33, 2)`` landmarks, NaN where not seen.

    Returns:
        None when nothing repeats, or the stretch is too short for three steps.
    """
    found = _periodogram(t_s, _apart(xy_px), LEAST_STEPS)
    if found is None:
        return None
    rates, share, lasts_s = found
    best = int(np.argmax(share))
    if share[best] < LEAST_STEPS_SHARE:
        return None
    near = np.abs(rates - 2 * rates[best]) <= 0.5 / lasts_s
    if near.any() and share[near].max() > TWICE_SHARE * share[best]:
        best = int(np.flatnonzero(near)[np.argmax(share[near])])
    return StepRate(float(rates[best]), float(share[best]))


def bounce_rate(
    t_s: FloatArray, steady_px: FloatArray, during_s: tuple[float, float]
) -> StepRate | None:
    """The step rate of a player by how his trunk goes up and down, which it does once a step.

    Meant for a player who is small in the picture and runs straight at the camera or away from it:
    his legs hardly part there, and the reader takes them for one another, but his trunk is read
    well. The rate is that of the stretch of ``BOUNCE_OVER_S`` seconds that it explains best, since
    he also sets off and brakes.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        steady_px: ``(n, 33, 2)`` landmarks in the steadied picture, NaN where not seen.
        during_s: from when to when the middle of such a stretch may be.

    Returns:
        None when his trunk does not go up and down regularly anywhere.
    """
    parts = [steady_px[:, each].mean(axis=1) for each in (_SHOULDERS, _HIPS)]
    height = np.mean(parts, axis=0)[:, 1:]
    best: StepRate | None = None
    for middle_s in np.arange(*during_s, BOUNCE_EVERY_S):
        from_s, to_s = middle_s - BOUNCE_OVER_S / 2, middle_s + BOUNCE_OVER_S / 2
        part = in_window(t_s, from_s, to_s)
        seen = np.isfinite(height[part]).sum()
        if from_s < t_s[0] or to_s > t_s[-1] or seen < BOUNCE_SEEN_SHARE * part.sum():
            continue
        found = _periodogram(t_s[part], height[part], LEAST_BOUNCES)
        if found is None:
            continue
        rates, share, _ = found
        one = int(np.argmax(share))
        if share[one] >= max(LEAST_BOUNCE_SHARE, best.share if best else 0.0):
            best = StepRate(float(rates[one]), float(share[one]))
    return best


def _periodogram(
    t_s: FloatArray, moved: FloatArray, least_cycles: float
) -> tuple[FloatArray, FloatArray, float] | None:
    """Of ``(n, k)`` columns, NaN where not seen: rates in hertz, how much of all they do a sine and
    cosine of each explains, and how many seconds they are seen for. None when that is too short for
    so many cycles."""
    from scipy.signal import lombscargle

    seen = np.isfinite(moved).all(axis=1)
    if seen.sum() < 2 * least_cycles:
        return None
    t, moved = t_s[seen] - t_s[seen][0], moved[seen]
    lasts_s = float(t[-1])
    # What changes slowly, such as his size in the picture, is no step.
    slow = np.stack([np.ones_like(t), t / lasts_s, (t / lasts_s) ** 2], axis=1)
    moved = moved - slow @ np.linalg.lstsq(slow, moved, rcond=None)[0]
    total = float((moved**2).sum())
    most_hz = min(MOST_STEPS_HZ, 0.5 / float(np.median(np.diff(t))))
    rates = np.arange(least_cycles / lasts_s, most_hz, STEPS_GRID / lasts_s)
    if not len(rates) or not total > 0:
        return None
    # A single rate comes back as a bare number.
    each = [np.atleast_1d(lombscargle(t, column, 2 * np.pi * rates)) for column in moved.T]
    return rates, np.asarray(2 * np.sum(each, axis=0) / total), lasts_s


def swing_rate(t_s: FloatArray, xy_px: FloatArray) -> float | None:
    """About how many steps a second a player takes, over a stretch too short to count any.

    Half the rate at which what knees and ankles do against each other goes through its mean, as it
    follows from how fast and how far they move: S. O. Rice, Mathematical Analysis of Random Noise,
    Bell System Technical Journal 24, 1945 (from memory). Noise, and all that is faster than the
    step, makes it larger; over less than half a step it cannot be small either.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        xy_px: ``(n, 33, 2)`` landmarks, smoothed, NaN where not seen.

    Returns:
        Hertz; None when nothing moves, or hardly anything is seen.
    """
    apart = _apart(xy_px)
    seen = np.isfinite(apart).all(axis=1)
    if seen.sum() < 2 * LEAST_STEPS:
        return None
    t, moved = t_s[seen] - t_s[seen][0], apart[seen]
    line = np.stack([np.ones_like(t), t / t[-1]], axis=1)
    moved = moved - line @ np.linalg.lstsq(line, moved, rcond=None)[0]
    far, fast = float((moved**2).sum()), float((np.gradient(moved, t, axis=0) ** 2).sum())
    return float(np.sqrt(fast / far)) / (2 * np.pi) if far > 0 else None


def _apart(xy_px: FloatArray) -> FloatArray:
    """``(n, 6)`` how far ankles and knees are apart in either direction, as undirected axes; over
    the square of the trunk's length."""
    trunk = xy_px[:, _SHOULDERS].mean(axis=1) - xy_px[:, _HIPS].mean(axis=1)
    square = (trunk**2).sum(axis=1)
    parts = []
    for pair in _LEGS:
        x, y = (xy_px[:, pair[0]] - xy_px[:, pair[1]]).T
        parts += [x**2 - y**2, 2 * x * y, x**2 + y**2]
    return np.asarray(np.stack(parts, axis=1) / square[:, None])
