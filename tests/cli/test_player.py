"""``posecheck player`` as typed: whose file, where it lies, and what cannot be done."""

from __future__ import annotations

import datetime as dt
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from factories import jpeg, make_clip_result
from seasons import ROSTER, Truth, write_season

from posecheck.cli import commands as cli
from posecheck.cli.player import _of_now
from posecheck.errors import UnreadableClip
from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.judging.ruling import CLEAN, About, CoachRuling, Ruling
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.pages import own_films
from posecheck.pages.own_clip import OwnFilm
from posecheck.pages.own_films import films_of
from posecheck.pages.player_page import player_file
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record

Typed = Callable[..., tuple[int, str, str]]

PRACTICE = """
name = "Tuesday"
[[players]]
number = 14
name = "Theo Marsh"
[[players]]
number = 22
name = "Ellis Rowan"
[[players]]
number = 7
name = "Jonah Pell"
[[clips]]
file = "a.mp4"
defender = 14
attacker = 7
[[clips]]
file = "b.mp4"
defender = 22
[[clips]]
file = "c.mp4"
defender = 14
"""


@pytest.mark.parametrize(
    ("ruling", "instead", "now", "said"),
    [
        # "Stayed high" was wrong, the rep clean; other limits call it clear now.
        (Ruling.WRONG, CLEAN, Call.CLEAR, Ruling.RIGHT),
        (Ruling.WRONG, CLEAN, Call.FLAGGED, Ruling.WRONG),
        (Ruling.WRONG, CLEAN, Call.CANT_TELL, None),
        (Ruling.RIGHT, None, Call.FLAGGED, Ruling.RIGHT),
        (Ruling.RIGHT, None, Call.CLEAR, Ruling.WRONG),
    ],
)
def test_a_ruling_speaks_of_the_call_that_stands_now(
    ruling: Ruling, instead: str | None, now: Call, said: Ruling | None
) -> None:
    about = About(Call.FLAGGED, "no_breakdown", "digest")
    ruled = CoachRuling(ruling, about, dt.datetime(2026, 9, 15, tzinfo=dt.UTC), instead)
    verdict = Verdict(now, "", (Finding("no_breakdown", now, "", ""),))
    assert _of_now(verdict, ruled) is said
    assert _of_now(verdict, None) is None


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "practice.toml").write_text(PRACTICE)
    practice = read_practice(tmp_path)
    with Record(tmp_path / OUTPUT_FOLDER / RECORD_FILE, make=True) as record:
        for name, kind, fault in (
            ("a.mp4", "upright", None),
            ("b.mp4", "breakdown", None),
            ("c.mp4", "breakdown", "c.mp4: nobody closes out in it; name only clips with a rep."),
        ):
            result = make_clip_result(practice.folder / name, kind, fault=fault)
            record.save(practice, result)
            judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
    return tmp_path


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Typed:
    """Type a command; drawing films has its own tests."""
    monkeypatch.setattr(
        "posecheck.cli.player.films_of",
        lambda record, practice, result, reps, reader: [OwnFilm(b"film", jpeg())] * len(reps),
    )

    def type_in(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["posecheck", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capfd.readouterr()
        return ended.value.code or 0, " ".join(out.split()), err

    return type_in


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / OUTPUT_FOLDER / "players").glob("*.html"))


def test_one_player_s_file(typed: Typed, folder: Path) -> None:
    code, out, err = typed("player", folder, "14")
    assert (code, err, files(folder)) == (0, "", ["player-14.html"])
    assert "Theo Marsh (14): 1 rep, 0.1 MB:" in out
    assert "Look at a file before you hand it over" in out
    page = (folder / OUTPUT_FOLDER / "players" / "player-14.html").read_text("utf-8")
    assert "1 more clip of you could not be measured." in page
    assert "Rowan" not in page and "Pell" not in page


def test_everybody_s(typed: Typed, folder: Path) -> None:
    code, out, _ = typed("player", folder, "--all")
    assert (code, files(folder)) == (0, ["player-14.html", "player-22.html"])
    assert "Ellis Rowan (22): 1 rep" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["9"], "9: nobody on the roster wears this number; it has 7, 14, 22."),
        (["7"], "Jonah Pell (7): no rep of his is on record;"),
        ([], "Name one player by his number, or give --all."),
        (["14", "--all"], "Name one player by his number, or give --all."),
    ],
)
def test_what_cannot_be_done(typed: Typed, folder: Path, words: list[str], said: str) -> None:
    code, _, err = typed("player", folder, *words)
    assert code == 2
    assert said in err
    assert not (folder / OUTPUT_FOLDER / "players").exists()


def test_a_film_that_is_gone_is_said_and_the_file_is_written(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posecheck.cli.player.films_of", films_of)
    code, out, _ = typed("player", folder, "14")
    assert code == 3
    assert "a.mp4: there is no such file" in out
    page = (folder / OUTPUT_FOLDER / "players" / "player-14.html").read_text("utf-8")
    assert "There is no film of this rep here." in page


def test_a_film_is_drawn_once_and_again_when_measured_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = []

    def draw(clip: object, rep: object, followed: object) -> OwnFilm:
        drawn.append(rep)
        return OwnFilm(b"film %d" % len(drawn), jpeg())

    monkeypatch.setattr(own_films, "own_film", draw)
    monkeypatch.setattr(own_films, "open_clip", lambda path, slow_motion: path)
    monkeypatch.setattr(own_films, "follow_players", lambda clip, reader: None)
    practice = read_practice(folder)
    with Record(folder / OUTPUT_FOLDER / RECORD_FILE) as record:
        result = next(iter(record.results(practice)))
        for _ in range(2):
            (film,) = films_of(record, practice, result, list(result.reps), lambda: None)
            assert film.mp4 == b"film 1"
        for kept in (folder / OUTPUT_FOLDER / "players" / "films").iterdir():
            # The name is made of digests alone, so that it says nothing of the clip's own name.
            assert re.fullmatch(r"[0-9a-f]{16}-1-[0-9a-f]{8}\.(mp4|jpg)", kept.name)
        monkeypatch.setattr(own_films, "_drawn_by", lambda: "0123abcd")
        (film,) = films_of(record, practice, result, list(result.reps), lambda: None)
        assert film.mp4 == b"film 2"
        kept_films = folder / OUTPUT_FOLDER / "players" / "films"
        assert {path.stem[-8:] for path in kept_films.iterdir()} == {"0123abcd"}
        os.utime(record.series_path(result), (2**31, 2**31))
        (film,) = films_of(record, practice, result, list(result.reps), lambda: None)
    assert film.mp4 == b"film 3"


def test_a_clip_that_cannot_be_opened_is_a_clip_s_error(folder: Path) -> None:
    practice = read_practice(folder)
    with Record(folder / OUTPUT_FOLDER / RECORD_FILE) as record:
        result = next(iter(record.results(practice)))
        with pytest.raises(UnreadableClip):
            films_of(record, practice, result, list(result.reps), lambda: None)


def test_what_changed_since_earlier_practices_is_told_only_where_it_may_be_called(
    tmp_path: Path, typed: Typed
) -> None:
    """Theo sits 25 degrees lower in the last practice; the others go on as before."""
    theo, ellis, cal = ROSTER[:3]
    truths = {
        theo: Truth(last={"knee_bend_deg": 25}, upright=lambda practice: 0.0),
        ellis: Truth(upright=lambda practice: 0.0),
        cal: Truth(upright=lambda practice: 0.0),
    }
    folders = write_season(tmp_path, np.random.default_rng(3), truths, practices=5, unseen=0.0)
    last = read_practice(folders[-1])
    with Record(last.folder / OUTPUT_FOLDER / RECORD_FILE) as record:
        for result in record.results(last):
            judge_clip(record, last, result, DEFAULT_THRESHOLDS)
    code, _, err = typed("player", last.folder, "--all", "--earlier", tmp_path)
    assert (code, err) == (0, "")

    def page(player: Player) -> str:
        return player_file(last.folder / OUTPUT_FOLDER, player).read_text("utf-8")

    assert re.search(r"Knee bend: \d+° more \(\d+ to \d+°\) than in your earlier", page(theo))
    assert "6 reps against 24." in page(theo)
    for other in (ellis, cal):
        assert "Nothing that the error bars bear out as a change." in page(other)
    code, *_ = typed("player", last.folder, str(theo.number))
    assert code == 0 and "earlier practices" not in page(theo)


@pytest.mark.parametrize("words", [["player", "22"], ["stars"], ["rejudge"], ["rep", "a"]])
def test_of_a_check_that_was_stopped_at_once_nothing_can_be_shown(
    typed: Typed, tmp_path: Path, words: list[str]
) -> None:
    with Record(tmp_path / OUTPUT_FOLDER / RECORD_FILE, make=True):
        pass
    code, out, err = typed(words[0], tmp_path, *words[1:])
    assert (code, out) == (2, "")
    assert "nothing has been measured here yet; run posecheck check first." in err
