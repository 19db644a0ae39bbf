"""Folders of known truth, as ``posecheck accuracy`` reads them, one for each phone."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.errors import RecordError
from posecheck.files.names import POINTS_FILE, PRACTICE_FILE
from posecheck.files.whole_file import whole_file, write_whole
from posecheck.judging.verdict import Call, Verdict
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.maths.timeline import in_window
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITIES, QUANTITY
from posecheck.multiview.measured import Measured
from posecheck.multiview.set_up import SetUp
from posecheck.multiview.stance_seen import body_in_space, build_of, figures
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice

FIGURES_FILE = "figures.csv"
"""Every measure of every rep with its interval, as all phones together have it."""


def write_truth(
    folder: Path,
    number: int,
    practice: Practice,
    film: Path,
    keypoints: ClipKeypoints,
    set_up: SetUp,
    measured: Measured,
    verdict: Verdict | None,
) -> None:
    """Write one film's truth, and put the film and its practice's files beside it.

    Args:
        folder: of this phone's truth.
        number: of the phone.
        practice: that the film belongs to.
        film: as the phone filmed it.
        keypoints: read from it, for how the camera moved.
        set_up, measured: what the phones saw together.
        verdict: of the rep by the usual limits, None when there is none.

    Raises:
        RecordError: it cannot be written.
    """
    name = film.stem
    facts = _facts(set_up, measured, verdict, practice.notes_for(film), number)
    text = json.dumps(facts, indent=1) + "\n"
    write_whole(folder / "truth" / f"{name}.json", lambda file: file.write(text.encode()))
    arrays = _arrays(number, keypoints, set_up, measured)
    write_whole(folder / "truth" / f"{name}.npz", lambda file: np.savez_compressed(file, **arrays))
    _beside(folder, practice, film)


def write_figures(path: Path, rows: Sequence[tuple[str, Measured]]) -> None:
    """Write the measures of all reps as a table.

    Args:
        path: of the file.
        rows: name of the rep, and what was measured of it.

    Raises:
        RecordError: it cannot be written.
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["rep", "measure", "unit", "value", "low", "high", "missing because"])
    for name, measured in rows:
        for key, each in measured.measures.items():
            shown = ["" if v is None else f"{v:.4g}" for v in (each.value, each.low, each.high)]
            reason = each.missing_because or ""
            table.writerow([name, key, QUANTITY[key].unit, *shown, reason])
    write_whole(path, lambda file: file.write(text.getvalue().encode()))


def _facts(
    set_up: SetUp, measured: Measured, verdict: Verdict | None, notes: ClipNotes, number: int
) -> dict[str, Any]:
    """Moments, measures and flags; the standard deviations of the truth itself."""
    later_s = set_up.calibration.rig.later_s[number]
    rep = measured.rep
    findings = () if verdict is None else verdict.findings

    def rules(call: Call) -> list[str]:
        return [finding.rule for finding in findings if finding.call is call]

    def moment(first_clock_s: float | None) -> float | None:
        return None if first_clock_s is None else round(first_clock_s + later_s, 4)

    return {
        "spot": notes.spot,
        "defender": None if notes.defender is None else notes.defender.number,
        "attacker": None if notes.attacker is None else notes.attacker.number,
        "start_s": None if rep is None else moment(rep.start_s),
        "arrival_s": None if rep is None else moment(rep.arrival_s),
        **{quantity.key: _rounded(measured.measures.get(quantity.key)) for quantity in QUANTITIES},
        "flags_expected": rules(Call.FLAGGED),
        "flags_open": rules(Call.CANT_TELL),
        "truth_error": {key: round(error, 4) for key, error in measured.errors.items()},
        "phones": len(set_up.phones),
        "angle_deg": round(set_up.angle_deg, 1),
        "clock_later_s": round(later_s, 4),
        "clock_sd_s": round(set_up.calibration.later_sd_s[number], 4),
        "reprojection_m": round(set_up.calibration.typical_miss_m, 4),
        "limb_spread": round(set_up.limb_spread, 4),
    }


def _rounded(measure: Measure | None) -> float | None:
    return None if measure is None or measure.value is None else round(measure.value, 4)


def _arrays(
    number: int, keypoints: ClipKeypoints, set_up: SetUp, measured: Measured
) -> dict[str, Any]:
    """Joints and camera of every frame of this phone's film; NaN where the films do not overlap."""
    phones, rig = set_up.phones, set_up.calibration.rig
    t_s = phones[number].t_s
    first_clock_s = t_s - rig.later_s[number]
    shared = in_window(first_clock_s, *rig.overlap_s(phones))
    joints = np.full((len(t_s), len(SKELETON), 3), np.nan)
    joints[shared] = body_in_space(phones, rig, first_clock_s[shared]).xyz_m
    read = figures(joints, build_of(joints))
    knees = np.stack([read["left_knee_deg"], read["right_knee_deg"]], axis=1)
    still = rig.cameras[number]
    back = keypoints.camera_motion.to_reference
    cameras = [still if np.array_equal(h, np.eye(3)) else still.turned(h) for h in back]
    arrays = {
        "t_s": t_s,
        "joint_names": np.array(SKELETON.names),
        "camera_matrix": np.stack([camera.matrix for camera in cameras]),
        "camera_rotation": np.stack([camera.rotation for camera in cameras]),
        "camera_centre_m": np.stack([camera.centre_m for camera in cameras]),
        "defender_joints_m": joints.astype(np.float32),
        "knee_flexion_deg": np.maximum(knees, 0.0).astype(np.float32),
        "trunk_lean_deg": read["trunk_lean_deg"].astype(np.float32),
    }
    return arrays


def _beside(folder: Path, practice: Practice, film: Path) -> None:
    """The film, at the place that the practice's files know it by, and those files."""
    for name in (PRACTICE_FILE, POINTS_FILE):
        if (practice.folder / name).exists():
            with whole_file(folder / name) as part:
                shutil.copyfile(practice.folder / name, part)
    there = practice.relative(film)
    target = folder / (there if not there.is_absolute() else there.name)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.unlink(missing_ok=True)
        try:
            target.symlink_to(film.resolve())
        except OSError:  # some systems allow links to administrators only
            shutil.copyfile(film, target)
    except OSError as error:
        raise RecordError(
            f"{target}: the film cannot be put here ({error.strerror or error}); free some space "
            "or name another folder with --out."
        ) from error
