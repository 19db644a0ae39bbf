"""Setting results beside truth, on made-up clips whose errors are known by hand."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result
from hypothesis import given
from hypothesis import strategies as st

from posecheck.errors import UsageError
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult
from posecheck.pipeline.judge import judge_rep
from posecheck.practice.practice import Practice
from posecheck.scoring.accuracy import Accuracy, FlagCount, compare
from posecheck.scoring.groups import FrameErrors, Group, Reading, groups
from posecheck.scoring.truth import Truth, read_truth


def truth_of(result: ClipResult, **changed: object) -> Truth:
    """A truth that the result meets exactly, but for what is changed."""
    rep = result.reps[0]
    facts: dict[str, object] = {key: each.value for key, each in rep.measures.items()}
    facts |= {"start_s": rep.rep.start_s, "arrival_s": rep.rep.arrival_s, "flags_expected": []}
    series = rep.series
    return Truth(
        "clip",
        facts | changed,
        series.t_s,
        series.knee_bend_deg,
        series.trunk_lean_deg,
        # True hips are known in the frames in which they were not measured as well.
        np.nan_to_num(series.defender_xy_px[:, [23, 24]].mean(axis=1)),
        np.ptp(series.defender_xy_px[..., 1], axis=1),
        np.full(len(series.t_s), 80.0),
    )


def compared(*pairs: tuple[Truth, ClipResult]) -> Accuracy:
    practice = Practice(Path("/nowhere"), "made up")
    return compare(
        [
            (
                truth,
                result,
                [judge_rep(r.measures, practice, result.path, Thresholds()) for r in result.reps],
            )
            for truth, result in pairs
        ]
    )


def test_errors_by_hand() -> None:
    result = make_clip_result(Path("a.mp4"), kind="breakdown")
    value = result.reps[0].measures["knee_bend_deg"].value
    assert value is not None
    found = compared(
        (truth_of(result, knee_bend_deg=value + 2), result),
        (truth_of(result, knee_bend_deg=value - 10), result),
    )
    row = next(row for row in found.rows if row.quantity == "Knee bend at arrival")
    assert row.n == 2
    assert row.mean_abs_error == pytest.approx(6)
    assert row.bias == pytest.approx(4)
    assert row.worst == pytest.approx(10)
    # The factory's bar is 6 degrees to either side: 2 off is inside, 10 is not.
    assert row.within_interval == 0.5
    assert found.right_player == (2, 2)
    # Of the 70 frames from start to arrival the factory leaves one out.
    assert found.followed == pytest.approx(69 / 70)


def test_arrival_is_counted_in_frames() -> None:
    result = make_clip_result(Path("a.mp4"), kind="breakdown")
    arrival = result.reps[0].rep.arrival_s
    assert arrival is not None
    frame = float(np.median(np.diff(result.reps[0].series.t_s)))
    found = compared((truth_of(result, arrival_s=arrival - 3 * frame), result))
    row = next(row for row in found.rows if row.quantity == "Arrival moment")
    assert row.bias == pytest.approx(3)
    assert found.arrival_within_two_frames == (0, 1)


@pytest.mark.parametrize(
    ("kind", "flags", "counted"),
    [
        ("upright", ["upright_run_out"], "hits"),
        ("upright", [], "false_flags"),
        ("breakdown", [], "clear"),
        ("breakdown", ["upright_run_out"], "misses"),
        ("unclear", ["upright_run_out"], "open"),
        ("unclear", [], "open_others"),
    ],
)
def test_flags_are_counted(kind: str, flags: list[str], counted: str) -> None:
    result = make_clip_result(Path("a.mp4"), kind=kind)
    flag = compared((truth_of(result, flags_expected=flags), result)).flag
    assert dataclasses.asdict(flag) == {
        name: int(name == counted) for name in dataclasses.asdict(flag)
    }


def test_a_flag_where_nobody_closes_out_is_false() -> None:
    result = make_clip_result(Path("a.mp4"), kind="upright")
    assert compared((truth_of(result, arrival_s=None), result)).flag.false_flags == 1


def test_a_clip_without_a_result_leaves_its_flag_open() -> None:
    result = make_clip_result(Path("a.mp4"), kind="upright")
    truth = truth_of(result, flags_expected=["upright_run_out"])
    found = compared((truth, dataclasses.replace(result, reps=(), fault="none")))
    assert found.flag.open == 1
    assert found.right_player == (0, 1)


def test_truth_is_projected_by_its_camera(tmp_path: Path) -> None:
    """Hips 2 m ahead and 0.5 m right of a camera with 1000 px focal length: 250 px right."""
    (tmp_path / "truth").mkdir()
    (tmp_path / "truth" / "a.json").write_text(json.dumps({"arrival_s": 1.0}))
    joints = np.zeros((2, 4, 3))
    joints[:, :, 0] = [0.4, 0.6, 0.4, 0.6]
    joints[:, :, 1] = 2.0
    camera = np.array([[1000.0, 0, 960], [0, 1000, 540], [0, 0, 1]])
    look_along_y = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    np.savez(
        tmp_path / "truth" / "a.npz",
        t_s=[0.0, 0.1],
        joint_names=["left_hip", "right_hip", "left_shoulder", "right_shoulder"],
        defender_joints_m=joints,
        camera_matrix=np.tile(camera, (2, 1, 1)),
        camera_rotation=np.tile(look_along_y, (2, 1, 1)),
        camera_centre_m=np.zeros((2, 3)),
        knee_flexion_deg=[[10.0, 20.0], [40.0, 30.0]],
        trunk_lean_deg=[5.0, 6.0],
    )
    truth = read_truth(tmp_path, "a")
    np.testing.assert_allclose(truth.hip_px, [[1210, 540]] * 2)
    np.testing.assert_allclose(truth.knee_bend_deg, [10, 30])
    # His left is on the left, so his back is to the camera, atan(0.5 / 2) off straight behind him.
    np.testing.assert_allclose(truth.view_deg, [180 - np.degrees(np.arctan(0.25))] * 2)


def test_missing_truth_is_reported(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="there is no truth to compare a with"):
        read_truth(tmp_path, "a")


def reading(**changed: object) -> Reading:
    known: dict[str, object] = {
        "key": "knee_bend_deg", "clip": "a", "defender": "#4", "view_deg": 90.0,
        "height_px": 250.0, "truth": 40.0, "value": 44.0, "low": 34.0, "high": 54.0,
    }  # fmt: skip
    return Reading(**(known | changed))  # type: ignore[arg-type]


def test_readings_are_sorted_by_view_size_and_defender() -> None:
    own = [
        reading(view_deg=45.0, value=42.0),  # 2 off; 45 begins the second range
        reading(view_deg=60.0, value=34.0, low=30.0, high=38.0),  # 6 under, its bar too
        reading(view_deg=180.0, height_px=129.9, defender="#11"),  # 180 belongs to the last
        reading(key="trunk_lean_deg"),
    ]
    single = [
        FrameErrors(
            "knee_bend_deg",
            "#4",
            np.array([10.0, 50.0, 70.0]),
            np.array([310.0, 210.0, 190.0]),
            np.array([9.0, 3.0, -5.0]),
        )
    ]
    tables = groups("knee_bend_deg", own, single)
    assert tables["View"] == (
        Group("0 to 45°", 0, None, None, 0, 1, 9.0, 9.0),
        Group("45 to 75°", 2, 4.0, -2.0, 1, 2, 4.0, -1.0),
        Group("135 to 180°", 1, 4.0, 4.0, 1, 0, None, None),
    )
    assert [(each.name, each.n, each.n_frames) for each in tables["Player's height"]] == [
        ("0 to 130 px", 1, 0), ("130 to 200 px", 0, 1), ("200 to 300 px", 2, 1),
        ("from 300 px", 0, 1),
    ]  # fmt: skip
    assert [(each.name, each.n, each.n_frames) for each in tables["Defender"]] == [
        ("#4", 2, 3), ("#11", 1, 0),
    ]  # fmt: skip


@given(
    st.lists(
        st.tuples(st.floats(0, 180), st.floats(1, 2000), st.floats(0, 90)), min_size=1, max_size=30
    )
)
def test_every_reading_falls_into_one_range(spread: list[tuple[float, float, float]]) -> None:
    own = [reading(view_deg=v, height_px=h, value=k, low=0, high=90) for v, h, k in spread]
    mean = np.mean([each.error for each in own])
    for rows in groups("knee_bend_deg", own, []).values():
        assert sum(row.n for row in rows) == len(own)
        assert sum(row.n * (row.bias or 0) for row in rows) / len(own) == pytest.approx(mean)


def test_a_later_knee_bend_counts_as_a_knee_bend() -> None:
    result = make_clip_result(Path("a.mp4"), kind="breakdown")
    found = compared((truth_of(result, knee_bend_deg=50.0, defender=7), result))
    own = [each for each in found.readings if each.key == "knee_bend_deg"]
    assert [each.error for each in own] == [8.0, 0.0]
    assert {each.defender for each in own} == {"#7"}
    assert {each.view_deg for each in own} == {80.0}
    assert [len(each.error) for each in found.frames] == [98, 98]  # one of 99 frames is not seen


def test_truth_that_errs_itself_says_so() -> None:
    result = make_clip_result(Path("a.mp4"), kind="breakdown")
    made = truth_of(result, truth_error={"knee_bend_deg": 7.0})
    rows = {row.quantity: row for row in compared((made, result)).rows}
    assert rows["Knee bend at arrival"].own_error == 7.0
    assert rows["Trunk lean at arrival"].own_error is None


def test_a_run_out_that_the_truth_leaves_open_is_not_counted() -> None:
    result = make_clip_result(Path("a.mp4"), kind="upright")
    assert compared((truth_of(result, flags_open=["upright_run_out"]), result)).flag == FlagCount(
        0, 0, 0, 0, 0, 0
    )
    assert compared((truth_of(result), result)).flag.false_flags == 1


def test_frames_without_a_truth_do_not_count_as_lost() -> None:
    result = make_clip_result(Path("a.mp4"), kind="breakdown")
    made = truth_of(result)
    made.hip_px[:20] = np.nan
    # Of the frames left from start to arrival the factory leaves one out.
    assert 0.97 < compared((made, result)).followed < 1
