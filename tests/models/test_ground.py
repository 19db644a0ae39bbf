"""Ground readings and their intervals: arithmetic worked by hand; marks, by OpenCV."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from models.data.film import Film
from models.data.ground import GRID, Outcome, Reading, marked, on_camera_axes
from models.fit.ground_intervals import fit_spread, left_out_cover, sample_of
from models.fit.intervals_file import with_ground
from models.recipe import recipe
from posecheck.camera.pinhole import Camera
from posecheck.measures.intervals import Spread

GROUND = recipe().intervals.ground
COVER = recipe().intervals.cover

MATRIX = np.array([[1000.0, 0, 639.5], [0, 1000, 359.5], [0, 0, 1]])
WEST = np.array([[0.0, 1, 0], [0, 0, -1], [-1, 0, 0]])
"""A level camera that looks towards -x: its right is +y, its down is -z."""


def read(value: float, truth: float, sd: float = 1.0) -> Reading:
    return Reading(value, sd, value, value, truth)


def outcome(source: str, clip: str, bow_m: Reading) -> Outcome:
    readings = {"bow_m": bow_m}
    return Outcome(clip, "spread", "tripod", source, None, 1.0, 1.0, 0.0, 0.1, readings)


def fitted(sample, **changed):
    return fit_spread(sample, replace(GROUND, **changed), COVER)


def test_places_as_a_camera_sees_them():
    camera = Camera(MATRIX, WEST, np.array([10.0, 9.0, 1.8]))
    got = on_camera_axes(camera, np.array([(4.0, 9.0), (4.0, 12.0), (9.0, 8.5)]))
    np.testing.assert_allclose(got, [(0, 6), (3, 6), (-0.5, 1)], atol=1e-12)


def of_reps(n: int) -> list[Outcome]:
    """One reading a rep, off by 0.1 to 0.1 n, with a deviation of 1."""
    return [
        outcome("found", f"spread-{each:03d}", bow_m=read(0.1 * each, 0.0, sd=1.0))
        for each in range(1, n + 1)
    ]


def test_nine_in_ten_of_nineteen_reps_are_covered_by_the_eighteenth():
    """Split conformal: the ceil(20 * 0.9) = 18th smallest of 19 scores, here 1.8."""
    sample = sample_of(of_reps(19), "bow_m", "marks")
    got = fitted(sample)
    assert sample.half(got) == pytest.approx(1.8, abs=0.02)
    assert sample.covered(got) == pytest.approx(18 / 19)
    assert fitted(sample_of(of_reps(9), "bow_m", "marks")) is None
    assert not sample_of(of_reps(19), "bow_m", "players").readings


def test_a_rep_filmed_many_times_weighs_no_more_than_one_filmed_once():
    """Were they forty reps, forty films of one that is far off would widen all bars to it."""
    often = [outcome("found", f"moving-903-{n}", bow_m=read(9.0, 0.0, sd=1.0)) for n in range(40)]
    sample = sample_of([*of_reps(19), *often], "bow_m", "marks")
    # ceil(21 * 0.9) = 19th of 20: 1.9, and not 9.
    assert sample.half(fitted(sample)) == pytest.approx(1.9, abs=0.02)
    assert sample.weights.sum() == pytest.approx(1.0)


def test_bars_of_the_other_reps_hold_on_one_left_out():
    """Of twenty, off by 0.1 to 2: without one the 18th of 19 is 1.8 or 1.9, so 1.9 and 2 fail."""
    held = left_out_cover(sample_of(of_reps(20), "bow_m", "marks"), GROUND, COVER)
    assert held == {f"spread-{n:03d}": float(n < 19) for n in range(1, 21)}


def test_nothing_read_where_nothing_was_tells_nothing():
    sample = sample_of(
        [*of_reps(19), outcome("found", "spread-040", bow_m=read(0.0, 0.0))], "bow_m", "marks"
    )
    assert "spread-040" not in sample.reps


def test_the_floor_is_the_one_that_is_narrowest_on_average():
    """Errors of 1 whatever the deviation says: the largest floor takes least notice of it."""
    same = [
        outcome("found", f"spread-{n:03d}", bow_m=read(1.0, 0.0, sd=0.1 if n % 2 else 1.0))
        for n in range(20)
    ]
    got = fitted(sample_of(same, "bow_m", "marks"))
    assert got.floor == max(GROUND.floors)


def test_bars_are_written_where_they_were():
    table = (
        "[ground.bow_m]\n# why\n"
        "[ground.overrun_m]\nmarks = { factor = 1.6, floor = 0.1 }\n"
        "players = { factor = 1.6, floor = 0.1 }\n"
    )
    got = with_ground(table, {"overrun_m": {"players": Spread(0.9, 0.5)}, "bow_m": {}})
    assert got == table.replace(
        "players = { factor = 1.6, floor = 0.1 }", "players = { factor = 0.9, floor = 0.5 }"
    )
    with pytest.raises(ValueError, match="not one place for bow_m from marks but 0"):
        with_ground(table, {"bow_m": {"marks": Spread(1.0, 0.1)}})


def test_missing_film_widens_one_end_only():
    """Read 0.5 m past, up to 2 m more unseen: 2.4 m is covered without any spread, 0.3 m is not."""
    plain = Spread(1.0, 0.0)
    for truth, covered, asked in ((2.4, True, 0.0), (0.3, False, 2.0)):
        each = Reading(0.5, 0.1, 0.5, 2.5, truth)
        assert each.covered(plain) is covered
        assert each.factor(0.0) == pytest.approx(asked)


def test_floor_and_deviation_add_as_right_angles_do():
    """3 and 4 make 5: an error of 10 asks for twice that."""
    assert read(10.0, 0.0, sd=4.0).factor(3.0) == pytest.approx(2.0)


@pytest.mark.parametrize("k1", [0.0, -0.2, 0.1])
def test_marks_are_where_opencv_projects_them_give_or_take_a_click(tmp_path: Path, k1: float):
    camera = Camera(MATRIX, WEST, np.array([12.0, 9.0, 2.0]))
    (tmp_path / "truth").mkdir()
    (tmp_path / "clips").mkdir()
    np.savez(
        tmp_path / "truth" / "rep-1.npz",
        t_s=np.array([0.0]),
        camera_matrix=MATRIX[None],
        camera_rotation=WEST[None],
        camera_centre_m=camera.centre_m[None],
    )
    clip = tmp_path / "clips" / "rep-1.mp4"
    film = Film(clip, "rep", "tripod", 1, "upright", [], {}, "top", None, {"k1": k1})
    view = marked(film, (1280, 720), 8, 0.7)
    assert len(view.marks) == 8 and view.size == (1280, 720)
    xyz = np.array([(*GRID[name], 0.0) for name in view.marks])
    turn, _ = cv2.Rodrigues(WEST)
    bends = np.array([k1, 0, 0, 0.0])
    wanted, _ = cv2.projectPoints(xyz, turn, -WEST @ camera.centre_m, MATRIX, bends)
    off = np.array(list(view.marks.values())) - wanted[:, 0]
    assert 0 < np.abs(off).max() < 4 * 0.7
    assert marked(film, (1280, 720), 8, 0.7) == view  # the same draw every time
    assert marked(film, (1280, 720), 999, 0.7) is None
