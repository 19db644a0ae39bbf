"""``posecheck truth`` as typed: what is said and written, with films measured beforehand."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path

import pytest
from films import write_film
from runner import still
from two_phones import measured_together

from posecheck.cli import truth
from posecheck.cli.exit_codes import ExitCode
from posecheck.errors import NothingToMeasure, UsageError
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.multiview.take import Take
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.scoring.truth import read_truth
from posecheck.video.clip import open_clip


def made_beforehand(
    films: Sequence[Path], practices: Sequence[Practice], settings: Settings, reader: None
) -> Take:
    if films[0].name.startswith("apart"):
        raise NothingToMeasure(films[0], "nothing in it moves as in b/apart.mp4", "clap once")
    found, measured = measured_together()
    keypoints = [
        ClipKeypoints(*phone.players, still(len(phone.t_s)), "made up") for phone in found.phones
    ]
    clips = tuple(open_clip(film) for film in films)
    return Take(clips, tuple(keypoints), found, measured, ("the marks were not used",))


@pytest.fixture
def phones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    monkeypatch.setattr(truth, "measure_take", made_beforehand)
    monkeypatch.setattr(truth, "open_reader", lambda settings: contextlib.nullcontext())
    folders = [tmp_path / "a", tmp_path / "b"]
    for folder in folders:
        folder.mkdir()
        for name in ("apart.mp4", "rep.mp4"):
            write_film(folder / name)
    return folders


def test_truth_for_each_phone(
    phones: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    code = truth.make_truth(phones, out, Settings())
    said = capsys.readouterr().out
    assert code is ExitCode.SOME_FAILED
    assert "2 reps matched by name; 0 films without a match." in said
    assert "apart.mp4: nothing in it moves as in b/apart.mp4; clap once." in said
    assert f"seen from {measured_together()[0].angle_deg:.0f}° apart" in said
    assert "by sound" in said
    fastest = measured_together()[1].measures["closeout_speed_mps"].value
    assert f"Closeout speed: {fastest:.1f} m/s" in said
    assert "the marks were not used" in said
    for number in (1, 2):
        folder = out / f"phone-{number}"
        assert f"posecheck accuracy {folder}" in said
        assert read_truth(folder, "rep").has_rep
        assert (folder / "rep.mp4").exists()
        assert not (folder / "truth" / "apart.json").exists()
    assert (out / "figures.csv").exists()


def test_nothing_that_fits_together(
    phones: list[Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    single = [folder / "apart.mp4" for folder in phones]
    code = truth.make_truth(single, tmp_path / "out", Settings())
    assert code is ExitCode.NOTHING_USABLE
    assert not (tmp_path / "out").exists()


def test_truth_does_not_go_among_the_films(phones: list[Path], tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="the truth would go among them"):
        truth.make_truth(phones, phones[0], Settings())
    with pytest.raises(UsageError, match="the truth would go among them"):
        truth.make_truth(phones, tmp_path, Settings())
