"""Truth files made from several phones are those that the accuracy table reads."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from runner import still
from two_phones import HIPS, LATER_S, corner, measured_together, run

from posecheck.judging.thresholds import Thresholds
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.multiview.measured import Measured
from posecheck.multiview.phone import between
from posecheck.multiview.set_up import SetUp
from posecheck.multiview.written import FIGURES_FILE, write_figures, write_truth
from posecheck.pipeline.judge import judge_rep
from posecheck.practice.practice import Practice
from posecheck.scoring.truth import Truth, read_truth


@pytest.fixture
def together() -> tuple[SetUp, Measured]:
    return measured_together()


@pytest.fixture
def truth_of_other(together: tuple[SetUp, Measured], tmp_path: Path) -> Truth:
    """The truth of the second phone's film, written and read."""
    found, measured = together
    source, out = tmp_path / "corner", tmp_path / "out"
    (source / "clips").mkdir(parents=True)
    (source / "practice.toml").write_text('name = "made up"\n')
    path = source / "clips" / "rep.mp4"
    path.write_bytes(b"film")
    practice = Practice(source, "made up")
    defender, attacker = found.phones[1].players
    keypoints = ClipKeypoints(defender, attacker, still(len(defender.t_s)), "made up")
    verdict = judge_rep(measured.measures, practice, path, Thresholds())
    write_truth(out, 1, practice, path, keypoints, found, measured, verdict)
    assert (out / "clips" / "rep.mp4").read_bytes() == b"film"
    assert (out / "practice.toml").read_text() == 'name = "made up"\n'
    return read_truth(out, "rep")


def test_on_the_clock_of_its_own_film(truth_of_other: Truth) -> None:
    joints = between(run().t_s, run().joints_m, truth_of_other.t_s - LATER_S)
    true_px = corner().to_image(joints)[:, HIPS].mean(axis=1)
    off_px = np.linalg.norm(truth_of_other.hip_px - true_px, axis=1)
    assert np.nanmedian(off_px) < 6
    apart = np.linalg.norm(run().ground_m - [0.3, 15.2], axis=1)
    arrival_s = run().t_s[np.argmax(apart <= 1.8)] + LATER_S
    assert truth_of_other.facts["arrival_s"] == pytest.approx(arrival_s, abs=0.05)


def test_what_it_says_of_itself(together: tuple[SetUp, Measured], truth_of_other: Truth) -> None:
    measure = together[1].measures["trunk_lean_deg"]
    assert measure.value is not None and measure.high is not None
    half = measure.high - measure.value
    assert truth_of_other.own_error["trunk_lean_deg"] == pytest.approx(half, abs=1e-3)
    assert truth_of_other.facts["trunk_lean_deg"] == pytest.approx(measure.value, abs=1e-3)
    assert truth_of_other.facts["phones"] == 2
    assert truth_of_other.facts["clock_later_s"] == pytest.approx(LATER_S, abs=0.02)


def test_frames_that_one_phone_lacks_have_no_truth(truth_of_other: Truth) -> None:
    # The first phone's film ends 0.2 s before the second one's.
    assert np.isnan(truth_of_other.hip_px[-5:]).all()
    assert np.isfinite(truth_of_other.hip_px[10:-10]).mean() > 0.9


def test_a_rule_the_truth_leaves_open_is_said(truth_of_other: Truth) -> None:
    facts = json.dumps(truth_of_other.facts)
    assert "flags_open" in facts
    assert not set(truth_of_other.open_rules) & set(truth_of_other.facts["flags_expected"])


def test_the_table_of_all_measures(together: tuple[SetUp, Measured], tmp_path: Path) -> None:
    write_figures(tmp_path / FIGURES_FILE, [("rep", together[1])])
    with (tmp_path / FIGURES_FILE).open() as file:
        rows = {row["measure"]: row for row in csv.DictReader(file)}
    fastest = rows["closeout_speed_mps"]
    assert float(fastest["low"]) < run().speed_mps.max() < float(fastest["high"])
    assert fastest["unit"] == "m/s"
