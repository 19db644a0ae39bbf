"""Read one measure of the stance over a window of time."""

from __future__ import annotations

import numpy as np

from posecheck.body.stance_track import StanceTrack
from posecheck.filming.conditions import Conditions, StanceReading
from posecheck.filming.look import NO_LOOKS, Looks
from posecheck.filming.tuning import (
    AROUND_HIDDEN_FRAMES,
    AROUND_HIDDEN_S,
    BENT_DEG,
    HIDDEN_STEP_S,
    MIN_RATE_HZ,
    MIN_SEEN_SHARE,
)
from posecheck.maths.arrays import BoolArray, FloatArray, finite_median
from posecheck.maths.timeline import in_window, seen_or_bridged
from posecheck.maths.tuning import ROUNDING_S


def stance_reading(
    key: str, track: StanceTrack, window_s: tuple[float, float], looks: Looks = NO_LOOKS
) -> StanceReading:
    """Read one measure of the stance over a window of time.

    Who runs past another is hidden by him for a step. If he ran on straight legs up to then and
    runs on them after it, he has not broken down between: the hidden frames count as those around.

    Args:
        key: one of ``STANCE``.
        track: the player's stance.
        window_s: first and last moment.
        looks: sharpness and light of the player in the pictures around.
    """
    values = getattr(track, key)
    window = in_window(track.t_s, *window_s)
    seen = window & np.isfinite(values)
    of = _frames(track.t_s, window_s)
    step = around = np.zeros(len(seen), bool)
    if seen.sum() < MIN_SEEN_SHARE * of:
        step, around = _hidden_step(track, np.isfinite(values), window)

    def middle(each: FloatArray) -> float:
        hidden = np.full(int(step.sum()), finite_median(each[around]))
        return finite_median(np.append(each[seen], hidden))

    conditions = Conditions(
        view_deg=finite_median(track.view_deg[seen]),
        height_px=finite_median(track.height_px[seen]),
        score=finite_median(track.score[seen]),
        seen=int(seen.sum()),
        of=of,
        look=looks.between(*window_s),
        bent=finite_median(track.knee_bend_deg[seen]) >= BENT_DEG,
        hidden=int(step.sum()),
    )
    return StanceReading(
        value=middle(values),
        below=middle(track.below[key]),
        above=middle(track.above[key]),
        conditions=conditions,
        apart=finite_median(track.apart[key][seen]) if key in track.apart else float("nan"),
    )


def _frames(t_s: FloatArray, window_s: tuple[float, float]) -> int:
    """How many frames a window has, with those that it would have where the film shows nothing:
    beyond its ends, and where a piece of it is missing. A phone may take fewer for a while."""
    first_s, last_s = window_s
    step_s = np.diff(t_s)
    within_s = np.diff(np.clip(t_s, first_s, last_s))
    usual_s = float(np.median(step_s))
    filmed_s = within_s[step_s <= max(1 / MIN_RATE_HZ, usual_s) + ROUNDING_S].sum()
    missing_s = last_s - first_s - filmed_s
    taken = in_window(t_s, first_s, last_s).sum()
    return int(max(taken, 1) + np.round(missing_s / usual_s))


def _hidden_step(
    track: StanceTrack, seen: BoolArray, window: BoolArray
) -> tuple[BoolArray, BoolArray]:
    """``(n,)`` the frames of a window in which he is hidden for a step that he runs straight-legged
    before and after, and the frames around it; none when there is no such step.

    Args:
        track: the player's stance.
        seen: ``(n,)`` the frames in which it was read.
        window: ``(n,)`` the frames that are looked at.
    """
    t_s, nothing = track.t_s, np.zeros(len(track.t_s), bool)
    step = window & ~seen & seen_or_bridged(t_s, seen, HIDDEN_STEP_S)
    if not step.any():
        return nothing, nothing
    first_s, last_s = t_s[step][0], t_s[step][-1]
    before = seen & in_window(t_s, first_s - AROUND_HIDDEN_S, first_s)
    after = seen & in_window(t_s, last_s, last_s + AROUND_HIDDEN_S)
    runs_on = all(
        side.sum() >= AROUND_HIDDEN_FRAMES and finite_median(track.knee_bend_deg[side]) < BENT_DEG
        for side in (before, after)
    )
    return (step, before | after) if runs_on else (nothing, nothing)
