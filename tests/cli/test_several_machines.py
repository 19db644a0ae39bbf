"""``posecheck check --scheduler``, as typed, with real film and with what cannot be carried out."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from clusters import scheduler
from places import ROOT

from posecheck.store.finding import find_record
from posecheck.store.record import Record

pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

CLIPS = ("rep-01.mp4", "rep-12.mp4")
CHECK = "from posecheck.cli.commands import main; main()"


def typed(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", CHECK, *map(str, words)],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        capture_output=True,
        text=True,
        timeout=600,
    )


def content(folder: Path) -> list[object]:
    """All that is on record of a practice, and the files that lie beside it."""
    with Record(find_record(folder)) as record:
        (practice,) = record.practices()
        found: list[object] = [
            (
                practice.relative(result.path).as_posix(),
                result.clip_digest,
                result.fault,
                result.provenance,
                [
                    (rep.number, rep.rep, rep.measures, rep.picture, rep.quality)
                    for rep in result.reps
                ],
                record.verdicts(result.clip_digest),
            )
            for result in record.results(practice)
        ]
    for kind in ("keypoints", "series", "clips"):
        found.append(sorted(path.name for path in (folder / "checked" / kind).iterdir()))
    return found


@pytest.mark.film
def test_real_film_gives_the_record_of_one_machine(pose_model: Path, tmp_path: Path) -> None:
    """Drawn clips and kept landmarks too; workers see the folder under another path."""
    for name in ("here", "alone"):
        (tmp_path / name / "clips").mkdir(parents=True)
        shutil.copy(ROOT / "sample_clips" / "practice.toml", tmp_path / name)
        for clip in CLIPS:
            shutil.copy(ROOT / "sample_clips" / "clips" / clip, tmp_path / name / "clips")
    (tmp_path / "mounted").symlink_to(tmp_path / "here")
    with scheduler(tmp_path, ["one", "two"]) as started:
        words = ("--scheduler", started.address, "--seen-as", tmp_path / "mounted")
        done = typed("check", tmp_path / "here", *words)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    alone = typed("check", tmp_path / "alone", "--jobs", "1")
    assert (alone.returncode, alone.stderr) == (0, "")
    assert content(tmp_path / "here") == content(tmp_path / "alone")
    assert (tmp_path / "here" / "checked" / "practice.html").exists()


USAGE = {
    "--tls x": "--seen-as and --tls go with --scheduler; add it.",
    "--seen-as /x": "--seen-as and --tls go with --scheduler; add it.",
    "--scheduler tls://host:8786": "--scheduler tls://host:8786: an address with tls:// goes with "
    "--tls FOLDER, and no other.",
    "--scheduler tcp://host:8786 --tls x": "--scheduler tcp://host:8786: an address with tls:// "
    "goes with --tls FOLDER, and no other.",
    "--scheduler tcp://host:8786 --seen-as x": "--seen-as x: give the whole path, as workers see "
    "it.",
}


@pytest.mark.parametrize("words", USAGE)
def test_options_that_do_not_fit_together(words: str, tmp_path: Path) -> None:
    done = typed("check", tmp_path, *words.split())
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"posecheck: {USAGE[words]}\n"
