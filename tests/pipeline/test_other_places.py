"""A short film with a run from another place is no one clip; what else it shows does no harm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from posecheck.camera.motion import CameraMotion
from posecheck.errors import NothingToMeasure, SeveralPlaces
from posecheck.pipeline.other_places import not_measured_elsewhere, refuse_other_places

T_S = np.arange(300) / 30
CLIP = Path("rep-01.mp4")


def lost(from_s: float, to_s: float) -> CameraMotion:
    tracked = ~((from_s <= T_S) & (to_s > T_S))
    return CameraMotion(np.tile(np.eye(3), (len(T_S), 1, 1)), tracked)


def test_a_run_from_another_place_is_refused_and_says_from_when() -> None:
    with pytest.raises(SeveralPlaces) as raised:
        refuse_other_places(CLIP, T_S, lost(4.8, 99), [(0.5, 3.2), (5.3, 8.1)])
    assert str(raised.value) == (
        "rep-01.mp4: from 4.8 s on it is filmed from another place; cut it there into a film for "
        "each place."
    )
    assert isinstance(raised.value, NothingToMeasure)


@pytest.mark.parametrize(
    ("motion", "runs_s"),
    [
        (lost(99, 99), [(0.5, 3.2), (5.3, 8.1)]),  # one place
        (lost(4.8, 99), [(0.5, 3.2)]),  # the phone is lowered
        (lost(4.8, 99), []),
        (lost(2.9, 3.7), [(0.5, 3.2)]),  # a swing of the phone, for less than a second
        (lost(5.0, 7.0), [(0.5, 3.2), (7.5, 9.0)]),  # looks away between two reps
    ],
)
def test_what_is_one_place_or_shows_nothing_elsewhere_is_measured(
    motion: CameraMotion, runs_s: list[tuple[float, float]]
) -> None:
    refuse_other_places(CLIP, T_S, motion, runs_s)


def test_a_part_from_another_place_in_which_no_run_is_seen_is_said() -> None:
    assert not_measured_elsewhere(T_S, lost(4.8, 99)) == (
        "From 4.8 to 10.0 s it shows another place, or none that can be followed, and nothing of "
        "that is measured; if there is a rep, cut it into a film of its own."
    )
    assert not_measured_elsewhere(T_S, lost(99, 99)) is None
    assert not_measured_elsewhere(T_S, lost(8.5, 99)) is None  # the phone is lowered at the end
