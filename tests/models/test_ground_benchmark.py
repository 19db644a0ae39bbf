"""The benchmark of metres and sides: its arithmetic, worked by hand; its marks, by OpenCV."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest

from posecheck.camera.pinhole import Camera
from posecheck.measures.intervals import Spread

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "models"))
readings: Any = importlib.import_module("ground_readings")
bars: Any = importlib.import_module("ground_bars")
benchmark: Any = importlib.import_module("ground_benchmark")

MATRIX = np.array([[1000.0, 0, 639.5], [0, 1000, 359.5], [0, 0, 1]])
WEST = np.array([[0.0, 1, 0], [0, 0, -1], [-1, 0, 0]])
"""A level camera that looks towards -x: its right is +y, its down is -z."""


def read(value: float, truth: float, sd: float = 1.0) -> Any:
    return readings.Read(value, sd, value, value, truth)


def outcome(source: str, clip: str = "a", **reads: Any) -> Any:
    return readings.Outcome(clip, "spread", "tripod", source, None, 1.0, 1.0, 0.0, 0.1, reads)


def test_places_as_a_camera_sees_them():
    camera = Camera(MATRIX, WEST, np.array([10.0, 9.0, 1.8]))
    got = readings.on_camera_axes(camera, np.array([(4.0, 9.0), (4.0, 12.0), (9.0, 8.5)]))
    np.testing.assert_allclose(got, [(0, 6), (3, 6), (-0.5, 1)], atol=1e-12)


@pytest.mark.parametrize(
    ("value", "truth", "source", "near"),
    [
        (5.25, 5.0, "6 marks", True),  # a quarter of a metre a second
        (5.27, 5.0, "found", False),
        (6.29, 6.0, "6 marks", True),  # 5 % of a fast run is more than that
        (6.31, 6.0, "6 marks", False),
        (5.55, 5.0, "players", True),  # 11 %
        (5.65, 5.0, "players, heights stated", False),  # 13 %
        (1.2, 1.0, "players", False),  # a slow arrival gets no allowance
    ],
)
def test_reach_of_a_speed(value: float, truth: float, source: str, near: bool):
    assert benchmark.in_reach(read(value, truth), source) is near


def test_side_counts_only_where_there_is_one():
    reads = [read(0.2, 0.5), read(-0.1, 0.5), read(-0.4, -0.31), read(-0.2, 0.29)]
    assert benchmark.sides_right(reads) == (2, 3)


def of_reps(n: int) -> list[Any]:
    """One reading a rep, off by 0.1 to 0.1 n, with a deviation of 1."""
    return [
        outcome("found", f"spread-{each:03d}", bow_m=read(0.1 * each, 0.0, sd=1.0))
        for each in range(1, n + 1)
    ]


def test_nine_in_ten_of_nineteen_reps_are_covered_by_the_eighteenth():
    """Split conformal: the ceil(20 * 0.9) = 18th smallest of 19 scores, here 1.8."""
    asked = bars.of_measure(of_reps(19), "bow_m", "marks")
    got = bars.fitted(asked)
    assert asked.half(got) == pytest.approx(1.8, abs=0.02)
    assert asked.covered(got) == pytest.approx(18 / 19)
    assert bars.fitted(bars.of_measure(of_reps(9), "bow_m", "marks")) is None
    assert not bars.of_measure(of_reps(19), "bow_m", "players").reads


def test_a_rep_filmed_many_times_weighs_no_more_than_one_filmed_once():
    """Were they forty reps, forty ways to film one that is far off would widen all bars to it."""
    often = [
        outcome("found", f"moving-903-{way}", bow_m=read(9.0, 0.0, sd=1.0)) for way in range(40)
    ]
    asked = bars.of_measure([*of_reps(19), *often], "bow_m", "marks")
    # ceil(21 * 0.9) = 19th of 20: 1.9, and not 9.
    assert asked.half(bars.fitted(asked)) == pytest.approx(1.9, abs=0.02)
    assert asked.weights.sum() == pytest.approx(1.0)


def test_bars_of_the_other_reps_hold_on_one_left_out():
    """Of twenty, off by 0.1 to 2: without one the 18th of 19 is 1.8 or 1.9, so 1.9 and 2 fail."""
    held = bars.left_out_cover(bars.of_measure(of_reps(20), "bow_m", "marks"))
    assert held == {f"spread-{n:03d}": float(n < 19) for n in range(1, 21)}


def test_nothing_read_where_nothing_was_tells_nothing():
    asked = bars.of_measure(
        [*of_reps(19), outcome("found", "spread-040", bow_m=read(0.0, 0.0))], "bow_m", "marks"
    )
    assert "spread-040" not in asked.reps


def test_the_floor_is_the_one_that_is_narrowest_on_average():
    """Errors of 1 whatever the deviation says: the largest floor takes least notice of it."""
    same = [
        outcome("found", f"spread-{n:03d}", bow_m=read(1.0, 0.0, sd=0.1 if n % 2 else 1.0))
        for n in range(20)
    ]
    got = bars.fitted(bars.of_measure(same, "bow_m", "marks"))
    assert got.floor == max(bars.FLOORS)


def test_bars_are_written_where_they_were():
    table = (
        "[ground.bow_m]\n# why\n"
        "[ground.overrun_m]\nmarks = { factor = 1.6, floor = 0.1 }\n"
        "players = { factor = 1.6, floor = 0.1 }\n"
    )
    got = bars.written(table, {"overrun_m": {"players": Spread(0.9, 0.5)}, "bow_m": {}})
    assert got == table.replace(
        "players = { factor = 1.6, floor = 0.1 }", "players = { factor = 0.9, floor = 0.5 }"
    )
    with pytest.raises(ValueError, match="no one place for the bars of bow_m from marks"):
        bars.written(table, {"bow_m": {"marks": Spread(1.0, 0.1)}})


def test_missing_film_widens_one_end_only():
    """Read 0.5 m past, up to 2 m more unseen: 2.4 m is covered without any spread, 0.3 m is not."""
    plain = Spread(1.0, 0.0)
    for truth, covered, asked in ((2.4, True, 0.0), (0.3, False, 2.0)):
        each = readings.Read(0.5, 0.1, 0.5, 2.5, truth)
        assert each.covered(plain) is covered
        assert each.asked(0.0) == pytest.approx(asked)


def test_floor_and_deviation_add_as_right_angles_do():
    """3 and 4 make 5: an error of 10 asks for twice that."""
    assert read(10.0, 0.0, sd=4.0).asked(3.0) == pytest.approx(2.0)


def test_marks_are_where_opencv_projects_them_give_or_take_a_click(tmp_path: Path):
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
    film = readings.Film(tmp_path / "clips" / "rep-1.mp4", "rep", "tripod", [], {}, "top", None)
    clip = SimpleNamespace(width_px=1280, height_px=720)
    view = readings.marked(film, clip, 8)
    assert len(view.marks) == 8 and view.size == (1280, 720)
    xyz = np.array([(*readings.GRID[name], 0.0) for name in view.marks])
    turn, _ = cv2.Rodrigues(WEST)
    wanted, _ = cv2.projectPoints(xyz, turn, -WEST @ camera.centre_m, MATRIX, None)
    off = np.array(list(view.marks.values())) - wanted[:, 0]
    assert 0 < np.abs(off).max() < 4 * readings.CLICK_SD_PX
    assert readings.marked(film, clip, 8) == view  # the same draw every time
    assert readings.marked(film, clip, 999) is None


def test_row_of_the_table():
    tried = [
        outcome(
            "6 marks",
            closeout_speed_mps=read(5.1, 5.0),
            arrival_speed_mps=read(2.0, 2.4),
            approach_offset_m=read(-0.5, -0.6),
        ),
        readings.Outcome("b", "spread", "tripod", "6 marks", "no arrival found", 1.0, 1.0),
    ]
    assert benchmark._row("6 marks", tried) == (
        "| 6 marks | 1 of 2 | 0.10 (+0.10) m/s | 100% | 0.40 (-0.40) m/s | 0% "
        "| 0.10 (+0.10) m | 1 of 1 | 100% | 10 cm |"
    )
