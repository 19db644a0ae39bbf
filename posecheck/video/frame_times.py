"""Which of a film's pictures are its frames, and when each is shown."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.video.tuning import MAX_OUT_OF_PLACE, MAX_UNTIMED_SHARE


def frame_times(stated_s: Sequence[float | None]) -> tuple[FloatArray, frozenset[int]] | None:
    """Times that increase strictly, from what the file says of each picture.

    A picture without a time, or with one that was said before, is passed over. Times that are out
    of order by a few places belong to pictures that were stored in another order than they are
    shown in, and are sorted: decoders give pictures in the order in which they are shown.

    Args:
        stated_s: of every picture in the order shown, seconds, None where not stated.

    Returns:
        Seconds of each frame, and the numbers of the pictures that are none; None when the times
        make no sense.
    """
    found = _increasing(stated_s)
    if _few(found[1], stated_s):
        return found
    times = np.array([np.nan if each is None else each for each in stated_s])
    order = np.argsort(times, kind="stable")
    if np.abs(order - np.arange(len(times))).max(initial=0) > MAX_OUT_OF_PLACE:
        return None
    found = _increasing(times[order].tolist())
    return found if _few(found[1], stated_s) else None


def _increasing(stated_s: Sequence[float | None]) -> tuple[FloatArray, frozenset[int]]:
    times: list[float] = []
    passed_over: list[int] = []
    for number, each in enumerate(stated_s):
        if each is not None and np.isfinite(each) and (not times or each > times[-1]):
            times.append(each)
        else:
            passed_over.append(number)
    return np.array(times), frozenset(passed_over)


def _few(passed_over: frozenset[int], of: Sequence[float | None]) -> bool:
    return len(passed_over) <= MAX_UNTIMED_SHARE * len(of)


def lost_within_s(
    t_s: FloatArray, step_s: float, after_loss: Sequence[int], passed_over: frozenset[int]
) -> float:
    """How much is lost between frames, from the numbers of the pictures that follow a loss."""
    place = [number - sum(other < number for other in passed_over) for number in after_loss]
    gaps = [t_s[at] - t_s[at - 1] - step_s for at in place if 0 < at < len(t_s)]
    return float(sum(max(0.0, gap) for gap in gaps))
