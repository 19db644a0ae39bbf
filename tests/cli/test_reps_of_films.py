"""Long films and the reps cut out of them, as the command line speaks of them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from factories import make_clip_result
from films import write_film
from rich.console import Console

from posecheck.cli import run
from posecheck.cli.commands import _find_clip
from posecheck.cli.printing import say_films
from posecheck.cli.run import Run
from posecheck.errors import UsageError
from posecheck.files.cut_name import CutName
from posecheck.files.digest import file_digest
from posecheck.judging.thresholds import Thresholds
from posecheck.pipeline.batch import Checked, Source
from posecheck.pipeline.settings import Settings
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.cuts import FilmCuts, SetStretch, Stretch, StretchKind
from posecheck.practice.found_cuts import write_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.practice.set_cuts import write_set
from posecheck.store.record import Record


def test_a_rep_of_a_film_goes_by_film_and_time(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "practice")
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        for digest, from_s in (("a" * 64, 10.0), ("b" * 64, 872.4)):
            name = CutName("clips/film.mp4", from_s, from_s + 8).within(".mp4")
            path = tmp_path / "checked" / "cuts" / name
            record.save(practice, make_clip_result(path, clip_digest=digest))
        for name in ("film.mp4 at 14:32", "clips/film.mp4 at 14:32", "0872.400-0880.400"):
            assert _find_clip(record, name)[1] == "b" * 64
        with pytest.raises(UsageError, match=r"2 clips go by this name; .*film\.mp4 at 0:10"):
            _find_clip(record, "clips/film.mp4")


def test_a_check_knows_a_rep_again_whose_start_was_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    film = write_film(tmp_path / "film.mp4", range(0, 30_000, 100))
    rep = Stretch(10.0, 18.0, StretchKind.REP, cut="film.mp4/0010.000-0018.000.mp4")
    results = tmp_path / "checked"
    Record(results / "record.sqlite", make=True).close()
    write_cuts(results, FilmCuts("film.mp4", file_digest(film), 30.0, "key", (rep,), (), (rep,)))
    write_clips(tmp_path, [Player(22, "Ellis Rowan")], {f"checked/cuts/{rep.cut}": Said(None, 22)})
    write_set(tmp_path, {"film.mp4": [SetStretch(9.0, 17.0, StretchKind.REP, (10.0, 18.0))]})
    seen: list[Practice] = []
    monkeypatch.setattr(run, "check_clips", lambda clips, practice, *_, **__: seen.append(practice))
    monkeypatch.setattr(run, "pose_model_path", lambda *_: None)
    run.Run(read_practice(tmp_path), Settings(), Thresholds(), results).check([film], jobs=1)
    moved = "checked/cuts/film.mp4/0009.000-0017.000.mp4"
    assert [each.noted(moved).defender_name for each in seen] == ["Ellis Rowan (22)"]


def test_of_each_film_it_is_said_how_many_reps_it_holds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not of one in which no run was found: what measuring it as one clip came to says more."""
    rep = Stretch(10.0, 18.0, StretchKind.REP, "somebody runs at somebody who stands")
    unsure = Stretch(40.0, 45.5, StretchKind.UNSURE, "somebody runs")
    for digest, found in (("a" * 64, (rep, unsure)), ("b" * 64, ())):
        write_cuts(
            tmp_path / "checked",
            FilmCuts(f"{digest[0]}.mp4", digest, 90.0, "key", found, (), found),
        )
    paths = [tmp_path / "a.mp4", tmp_path / "b.mp4"]
    say_films(Console(width=100), Practice(tmp_path, "practice"), tmp_path / "checked", paths)
    said = capsys.readouterr().out.splitlines()
    assert said == [
        "a.mp4: 1.5 min, 1 rep, 1 stretch unsure.",
        "    0:40 to 0:45: somebody runs",
        "    They are listed in films.html, where each can be set.",
    ]


def test_nameless_players_of_a_new_film_are_counted_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_film(tmp_path / "film.mp4")

    def two_reps(
        clips: object,
        practice: Practice,
        settings: Settings,
        record: Record,
        jobs: int,
        on_result: Callable[[Checked], None],
        **_: object,
    ) -> None:
        for digest, from_s in (("a" * 64, 10.0), ("b" * 64, 872.4)):
            name = CutName("film.mp4", from_s, from_s + 8).within(".mp4")
            result = make_clip_result(tmp_path / "checked/cuts" / name, clip_digest=digest)
            record.save(practice, result)
            on_result(Checked(result.path, Source.MEASURED, result))

    monkeypatch.setattr(run, "check_clips", two_reps)
    monkeypatch.setattr(run, "pose_model_path", lambda *_: Path("pose.task"))
    Run(Practice(tmp_path, "practice"), Settings(), Thresholds(), tmp_path / "checked").check(
        [tmp_path], jobs=1
    )
    rows = [line.split()[:3] for line in capsys.readouterr().out.splitlines()]
    assert ["unknown", "1", "1"] in rows and ["unknown", "2", "1"] in rows
