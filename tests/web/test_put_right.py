"""From the contact sheet to other measures: what the coach puts right is measured again."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from places import SAMPLES

from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.measures.result import ClipResult
from posecheck.pipeline.batch import Checked, Source, check_clips
from posecheck.pipeline.judge import judge_clip
from posecheck.pipeline.settings import Settings
from posecheck.practice.reading import read_practice
from posecheck.reps.rep import ArrivalSource
from posecheck.store.record import Record
from posecheck.web.sheet import ContactSheet

CLIP = "clips/rep-02.mp4"


def check(folder: Path) -> tuple[Source, ClipResult]:
    """What the next check of the practice makes of its one clip."""
    done: list[Checked] = []
    practice = read_practice(folder)
    settings = Settings(keypoints_folder=folder / "checked" / "keypoints")
    with Record(folder / "checked" / "record.sqlite", make=True) as record:
        check_clips([folder / CLIP], practice, settings, record, 1, done.append)
        (checked,) = done
        assert checked.result is not None
        if checked.source is Source.MEASURED:
            judge_clip(record, practice, checked.result, DEFAULT_THRESHOLDS)
    return checked.source, checked.result


@pytest.mark.film
def test_a_corrected_arrival_and_defender_change_what_is_measured(
    pose_model: Path, tmp_path: Path
) -> None:
    (tmp_path / "clips").mkdir()
    (tmp_path / CLIP).symlink_to(SAMPLES / CLIP)
    shutil.copy(SAMPLES / "practice.toml", tmp_path)
    source, before = check(tmp_path)
    assert source is Source.MEASURED
    (read,) = before.reps
    assert read.rep.source is ArrivalSource.ATTACKER
    assert read.rep.arrival_s is not None
    sheet = ContactSheet(tmp_path, tmp_path / "checked" / "record.sqlite")

    # He runs out upright and past; half a second earlier he was still 2.5 m and more away.
    stated_s = round(read.rep.arrival_s - 0.5, 2)
    (said,) = sheet.say({"clips": {CLIP: {"arrival_s": stated_s}}})["clips"]
    assert said["again"]
    source, after = check(tmp_path)
    assert source is Source.MEASURED
    (rep,) = after.reps
    assert (rep.rep.arrival_s, rep.rep.source) == (stated_s, ArrivalSource.STATED)
    assert rep.picture_t_s == pytest.approx(stated_s, abs=0.11)
    ran, sooner = (each.measures["time_to_arrival_s"].value for each in (read, rep))
    assert ran is not None and sooner is not None
    assert ran - sooner == pytest.approx(0.5, abs=0.02)
    for key in ("knee_bend_deg", "arrival_speed_mps", "overrun_m", "approach_offset_m"):
        measure = rep.measures[key]
        assert measure.read_from.endswith("; arrival as stated") or measure.value is None, key
        assert measure.value != read.measures[key].value, key
    assert check(tmp_path)[0] is Source.ON_RECORD
    assert not sheet.state()["clips"][0]["again"]

    # The attacker, who stands, is pointed out instead: he closes out on nobody.
    frame = len(read.series.t_s) // 2
    x_px, y_px = read.series.attacker_xy_px[frame][23:25].mean(axis=0)
    place = {"t_s": float(read.series.t_s[frame]), "x_px": float(x_px), "y_px": float(y_px)}
    sheet.say({"clips": {CLIP: {"arrival_s": None, "defender_at": place}}})
    source, other = check(tmp_path)
    assert source is Source.MEASURED
    assert other.fault is not None
    assert other.fault.startswith("rep-02.mp4: nobody closes out in it: the defender ")
