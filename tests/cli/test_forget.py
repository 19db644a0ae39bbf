"""``posecheck forget`` on a season with everything that posecheck keeps: all of it goes, and the
bytes of every file are searched."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result
from films import write_film

from posecheck.cli import commands as cli
from posecheck.cli.forget_choice import Chosen
from posecheck.cli.forget_files import of_nobody
from posecheck.files.cut_name import CutName
from posecheck.files.digest import file_digest
from posecheck.files.failure_log import log_failure
from posecheck.files.one_at_a_time import one_at_a_time
from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.pages.mp4 import write_mp4
from posecheck.pages.own_films import _kept
from posecheck.pages.player_page import OwnView, player_file, write_player_page
from posecheck.pages.publish import write_page
from posecheck.pages.rep_view import view_rep
from posecheck.pages.stills import drawn_path, still_name
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.cuts import FilmCuts, Stretch, StretchKind
from posecheck.practice.found_cuts import read_cuts, write_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.practice.set_cuts import read_set
from posecheck.store.database import transaction
from posecheck.store.record import Record
from posecheck.web.links import Links

Typed = Callable[..., tuple[int, str, str]]

ZOE = "Zoé O'Brien"

PRACTICE = """
name = "{name}"
date = {date}
[[players]]
number = 14
name = "Zoé O'Brien"
[[players]]
number = 7
name = "Sam Birch"
[[players]]
number = 22
name = "Zoé O'Brien-Vale"
[[clips]]
file = "{name}-own.mp4"
defender = 14
attacker = 7
[[clips]]
file = "{name}-other.mp4"
defender = 22
"""

FILMS: dict[str, bytes] = {}


def film(path: Path) -> Path:
    """A film whose content no other has."""
    if path.name not in FILMS:
        times_ms = [*range(0, 1000, 100), 1001 + len(FILMS)]
        FILMS[path.name] = write_film(path, times_ms, size=(96, 64)).read_bytes()
    path.write_bytes(FILMS[path.name])
    return path


def practised(folder: Path, name: str, date: str) -> Path:
    """A checked practice with four clips: he defends in one, attacks in one, and two are others'.

    Everything that posecheck keeps of a clip lies there, by the names it has.
    """
    place = folder / name
    place.mkdir(parents=True)
    (place / "practice.toml").write_text(PRACTICE.format(name=name, date=date), "utf-8")
    clips = [film(place / f"{name}-{kind}.mp4") for kind in ("own", "against", "other", "third")]
    write_clips(
        place,
        [Player(31, "Toby Reed")],
        {
            f"{name}-against.mp4": Said(defender=7, attacker=14, spot=None),
            f"{name}-third.mp4": Said(defender=31),
        },
    )
    practice = read_practice(place)
    with Record(place / "checked/record.sqlite", make=True) as record:
        for clip in clips:
            result = make_clip_result(clip, "upright", clip_digest=file_digest(clip))
            record.save(practice, result)
            judge_clip(record, practice, result, Thresholds())
            record.rule(result.clip_digest, 1, Ruling.RIGHT)
            record.star(result.clip_digest, 1)
            rep = result.reps[0]
            for path in (
                record.folder / f"keypoints/{result.clip_digest[:16]}-0123456789abcdef.parquet",
                record.folder / still_name(result, rep, "-1"),
                drawn_path(record.folder, result, rep),
                *_kept(record, result, rep),
            ):
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(b"made up " + result.clip_digest.encode())
            annotated = record.folder / "clips" / f"{clip.stem}-1-{result.clip_digest[:8]}.mp4"
            annotated.parent.mkdir(exist_ok=True)
            annotated.write_bytes(b"made up")
        (record.folder / "clips" / ".part-of-a-film-0123.part").touch()
        write_page(record, practice, Thresholds())
        for number in (14, 7, 22):
            write_own_file(record, practice, practice.players[number])
        log_failure(record.folder, f"{name}-own.mp4", ValueError(f"of {ZOE}"))
        links = Links.read(record.folder)
        for number in (14, 22):
            links.renew(number)
    return place


def write_own_file(record: Record, practice: Practice, player: Player) -> None:
    views = []
    for result in record.results(practice):
        if practice.notes_for(result.path).defender == player:
            verdict = record.verdicts(result.clip_digest)[1]
            judged = (result, result.reps[0], verdict)
            view = view_rep(1, practice, judged, Thresholds(), record.folder)
            views.append(OwnView(view, None))
    write_player_page(practice, player, views, 0, record.folder)


@pytest.fixture
def season(tmp_path: Path) -> Path:
    folder = tmp_path / "season"
    for name, date in (("tuesday", "2026-09-15"), ("thursday", "2026-09-17")):
        practised(folder, name, date)
    return folder


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Typed:
    def type_in(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["posecheck", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capfd.readouterr()
        return ended.value.code or 0, out, err

    return type_in


def digests_of(season: Path, *kinds: str) -> list[str]:
    return [
        file_digest(path)
        for practice in sorted(season.iterdir())
        if practice.is_dir()
        for kind in kinds
        for path in practice.glob(f"{practice.name}-{kind}.mp4")
    ]


def holding(folder: Path, *words: str) -> dict[str, list[str]]:
    """By word, the files with it in their name or bytes; looked for with nothing of posecheck's."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return {
        word: [
            str(path.relative_to(folder))
            for path in files
            if word in path.name or word.encode() in path.read_bytes()
        ]
        for word in words
    }


def test_a_player_is_forgotten_over_a_season(typed: Typed, season: Path) -> None:
    assert typed("habits", season)[0] == 0
    own = digests_of(season, "own", "against")
    assert len(own) == 4
    marks = [digest[:8] for digest in own]
    before = holding(season / "tuesday/checked", "Zoé O&#39;Brien (14)", marks[-1])
    assert all(len(files) > 1 for files in before.values()), "else nothing is shown by this"
    others = {path: path.read_bytes() for path in season.rglob("*-other*") if path.is_file()}

    code, out, err = typed("forget", season, "--player", "14", "--yes")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert any(line.startswith("Forgotten: Zoé O'Brien (14); ") for line in lines)
    assert any(line.endswith(" MB): nothing is left of name and clips.") for line in lines)
    for practice in ("tuesday", "thursday"):
        results = season / practice / "checked"
        found = holding(results, *marks, "Zoé O'Brien (14)", "Zoé O&#39;Brien (14)")
        assert not any(found.values()), found
        with Record(results / "record.sqlite") as record:
            described = read_practice(season / practice)
            names = [path.name for path, _ in record.clips(described)]
            assert names == [f"{practice}-other.mp4", f"{practice}-third.mp4"]
            assert len(record.rulings(described)) == len(record.stars(described)) == 2
        assert not player_file(results, Player(14, ZOE)).exists()
        assert not player_file(results, Player(7, "Sam Birch")).exists(), "it shows one of them"
        assert player_file(results, Player(22, "")).exists()
        assert Links.read(results).shared() == {22}
        assert not (results / "posecheck.log").exists()
        assert not list(results.rglob("*.part"))
        page = (results / "practice.html").read_text("utf-8")
        assert f"{practice}-other.mp4" in page
        assert "-own" not in page
        assert "-against" not in (season / practice / "clips.toml").read_text("utf-8")
        # His film and his lines in practice.toml are the coach's own: they are named.
        assert (season / practice / f"{practice}-own.mp4").is_file()
        assert f'{season}/{practice}/practice.toml, line 6: name = "Zoé O\'Brien"' in out
        assert f"{season}/{practice}/practice.toml, line 15: defender = 14" in out
    assert "The film is still there (it is passed over from now); --film deletes it: " in out
    assert not (season / "habits/habits.html").exists()
    changed = {
        path for path, data in others.items() if not path.exists() or path.read_bytes() != data
    }
    assert not changed, "nothing of the others is touched"
    # Once more there is nothing of him but his name on the roster.
    code, out, _ = typed("forget", season, "--player", ZOE, "--yes")
    assert code == 0
    assert "nothing is left" in out


def test_film_that_was_there_before_goes_with_whoever_is_forgotten(
    typed: Typed, season: Path
) -> None:
    """Results of an earlier version still hold what another film under its name has replaced."""
    results = season / "tuesday/checked"
    before, third = "62252dee" * 8, digests_of(season, "third")[1]
    for name in (
        f"keypoints/{before[:16]}-0123456789abcdef.parquet",
        f"series/{before[:16]}-0123456789abcdef.parquet",
        f"pictures/{before[:16]}-0123456789abcdef-1.jpg",
        f"clips/tuesday-own-1-{before[:8]}.mp4",
        f"stills/tuesday-own-1-{before[:8]}-thumb.jpg",
        f"stills/tuesday-own-1-{before[:8]}.json",
        f"players/films/{before[:16]}-1-01234567.mp4",
    ):
        (results / name).write_bytes(b"made up")
    with Record(results / "record.sqlite") as record, transaction(record._db, record.path):
        for table in ("rulings", "stars"):
            record._db.execute(f"UPDATE {table} SET clip_digest = ? WHERE clip_digest = ?",
                               (before, third))  # fmt: skip
    mine = results / "clips/warm-up-20260512.mp4"
    mine.touch()
    code, out, _ = typed("forget", season, "--player", "14", "--yes")
    assert code == 0
    assert "nothing is left" in out
    assert not any(holding(season, before[:8]).values())
    assert all(len(files) > 1 for files in holding(results, third[:8]).values()), "of the others"
    assert mine.is_file()


def test_film_of_which_nobody_knows_whom_it_shows_is_named(typed: Typed, season: Path) -> None:
    place = season / "tuesday"
    other, own = (place / f"tuesday-{kind}.mp4" for kind in ("other", "own"))
    with Record(place / "checked/record.sqlite") as record:
        record.moved(read_practice(place), file_digest(other), own)
    earlier = f"tuesday-own (earlier film {file_digest(own)[:8]})"
    code, out, _ = typed("forget", place, "--player", "14", "--yes")
    assert code == 0
    assert f"so that nobody knows who is in it: {earlier}.mp4; --clip forgets " in out
    assert typed("forget", place, "--clip", earlier, "--yes")[0] == 0
    assert not any(holding(place / "checked", file_digest(own)[:8]).values())


def test_of_results_beside_the_clips_only_what_posecheck_drew_goes(tmp_path: Path) -> None:
    result = make_clip_result(tmp_path / "a.mp4")
    mine = [tmp_path / "clips/drill-1-20260512.mp4", tmp_path / "stills/drill-1-20260512.jpg"]
    drawn = [tmp_path / "clips/a-1-62252dee.mp4", tmp_path / "stills/a-1-62252dee-thumb.jpg",
             tmp_path / "stills/a-1-62252dee.json"]  # fmt: skip
    for path in (*mine, *drawn):
        path.parent.mkdir(exist_ok=True)
        path.touch()
    write_mp4(drawn[0], (96, 64), [(0.0, np.zeros((64, 96, 3), np.uint8))])
    practice = Practice(tmp_path, "Tuesday")
    path = tmp_path / "record.sqlite"
    with Record(path, make=True) as record:
        record.save(practice, result)
    assert list(of_nobody(Chosen(path, practice, ()))) == drawn


def test_habits_of_a_season_with_folders_in_it_go_too(typed: Typed, tmp_path: Path) -> None:
    season = tmp_path / "season"
    place = practised(season / "week 1", "tuesday", "2026-09-15")
    (season / "season.toml").write_text(f'[[players]]\nnumber = 14\nname = "{ZOE}"\n', "utf-8")
    assert typed("habits", season)[0] == 0
    assert (season / "habits/habits.html").is_file()
    mine = tmp_path / "habits/habits.csv"
    mine.parent.mkdir()
    mine.write_text("coffee, 3")
    code, out, _ = typed("forget", place, "--player", "14", "--yes")
    assert code == 0
    assert not list((season / "habits").iterdir())
    assert "The habits counted it and went too; " in out
    assert f"Yours to change: {season}/season.toml, line 3: " in out
    assert mine.is_file(), "no habits of posecheck's"


def test_forgotten_film_is_known_until_that_is_taken_back(typed: Typed, season: Path) -> None:
    typed("forget", season / "tuesday", "--clip", "tuesday-own", "--yes")
    (digest,) = (file_digest(season / "tuesday/tuesday-own.mp4"),)
    path = season / "tuesday/checked/record.sqlite"
    with Record(path) as record:
        assert record.is_forgotten(digest)
        assert not record.is_forgotten(digest[::-1])
    assert digest.encode() not in path.read_bytes()
    code, out, _ = typed("forget", season, "--clip", "tuesday-own", "--again")
    assert code == 0
    assert out.strip().endswith("tuesday-own.mp4: the next posecheck check measures it again.")
    with Record(path) as record:
        assert not record.is_forgotten(digest)
    code, out, _ = typed("forget", season, "--clip", "tuesday-own", "--again")
    assert (code, out) == (4, "tuesday-own: no clip of this name was forgotten.\n")


def test_a_clip_is_forgotten_with_its_film(typed: Typed, season: Path) -> None:
    digest = file_digest(season / "tuesday/tuesday-other.mp4")
    copy = season / "tuesday/copy.mp4"
    copy.write_bytes((season / "tuesday/tuesday-other.mp4").read_bytes())
    code, out, _ = typed("forget", season, "--clip", "tuesday-other.mp4", "--film", "--yes")
    assert code == 0
    assert "2 films deleted" in out
    assert not copy.exists()
    assert not (season / "tuesday/tuesday-other.mp4").exists()
    assert not any(holding(season, digest[:8]).values())
    assert len(list(season.rglob("*.mp4"))) > 6, "no other film is touched"


def test_showing_removes_nothing_and_no_is_no(
    typed: Typed, season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def content() -> dict[Path, bytes]:
        return {path: path.read_bytes() for path in season.rglob("*") if path.is_file()}

    before = content()
    code, out, _ = typed("forget", season, "--player", "14", "--show")
    assert code == 0
    assert "2 clips: thursday-against.mp4, thursday-own.mp4" in out
    assert "The file of Sam Birch (7) goes too, since it shows one of them." in out
    monkeypatch.setattr("typer.confirm", lambda question: False)
    code, out, _ = typed("forget", season, "--player", "14")
    assert code == 130
    assert out.splitlines()[-1] == "Nothing was removed."
    monkeypatch.undo()
    assert content() == before


def test_nobody_there_to_answer(
    typed: Typed, season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Path(os.devnull).open() as nothing:
        monkeypatch.setattr("sys.stdin", nothing)
        code, _, err = typed("forget", season, "--player", "14")
    assert code == 2
    assert err.endswith(
        "posecheck: Nothing was removed: add --yes where nobody can answer, or --show to see what "
        "would go.\n"
    )


def test_a_practice_is_forgotten_and_the_coach_keeps_what_is_his(
    typed: Typed, season: Path
) -> None:
    results = season / "tuesday/checked"
    (results / "notes.txt").write_text("mine")
    code, out, _ = typed("forget", season / "tuesday", "--practice", "--yes")
    assert code == 0
    assert [path.name for path in results.iterdir()] == ["notes.txt"]
    assert (season / "tuesday/practice.toml").is_file()
    assert len(list((season / "tuesday").glob("*.mp4"))) == 4
    assert "The film is still there (it would be measured again); --film deletes it: " in out
    assert (season / "thursday/checked/record.sqlite").is_file()
    (season / "thursday/checked/clips").mkdir(exist_ok=True)
    code, _, _ = typed("forget", season / "thursday", "--practice", "--film", "--yes")
    assert code == 0
    assert sorted(path.name for path in (season / "thursday").iterdir()) == [
        "clips.toml",
        "practice.toml",
    ]


def test_results_beside_the_clips_cost_no_clip(typed: Typed, tmp_path: Path) -> None:
    """As older versions allowed with --out."""
    (tmp_path / "clips").mkdir()
    clip = film(tmp_path / "clips/beside.mp4")
    practice = Practice(tmp_path, "beside")
    with Record(tmp_path / "record.sqlite", make=True) as record:
        result = make_clip_result(clip, "upright", clip_digest=file_digest(clip))
        record.save(practice, result)
        judge_clip(record, practice, result, Thresholds())
        write_page(record, practice, Thresholds())
    annotated = tmp_path / "clips" / f"beside-1-{result.clip_digest[:8]}.mp4"
    write_mp4(annotated, (96, 64), [])
    assert typed("forget", tmp_path, "--practice", "--yes")[0] == 0
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [clip]


def with_long_film(season: Path) -> Path:
    """A practice with a long film besides, two reps of which were cut out."""
    place = season / "tuesday"
    practice = read_practice(place)
    whole = film(place / "long.mp4")
    cuts = FilmCuts(
        "long.mp4",
        file_digest(whole),
        60.0,
        "key",
        (
            Stretch(1.0, 9.0, StretchKind.REP, "a run", "long/1.mp4"),
            Stretch(20.0, 28.0, StretchKind.REP, "a run", "long/2.mp4"),
        ),
        (),
        (),
    )
    write_cuts(place / "checked", cuts)
    (place / "checked/cuts/long").mkdir()
    strip = place / "checked/strips" / f"{cuts.digest[:16]}-row-000.jpg"
    strip.parent.mkdir()
    strip.touch()
    with Record(place / "checked/record.sqlite") as record:
        for name in ("1.mp4", "2.mp4"):
            cut = film(place / "checked/cuts/long" / name)
            result = make_clip_result(cut, "upright", clip_digest=file_digest(cut))
            record.save(practice, result)
            judge_clip(record, practice, result, Thresholds())
    return place


def test_a_long_film_is_forgotten_by_its_name(typed: Typed, season: Path) -> None:
    place = with_long_film(season)
    digest = file_digest(place / "long.mp4")
    code, out, _ = typed("forget", place, "--clip", "long", "--yes")
    assert code == 0
    assert "2 clips: " in out
    assert not any(holding(place / "checked", digest[:8]).values())
    assert not list((place / "checked/cuts/long").iterdir())
    assert (place / "long.mp4").is_file()
    assert read_set(place) == {}
    with Record(place / "checked/record.sqlite") as record:
        assert record.is_forgotten(digest), "the next check does not scan it"
    assert typed("forget", place, "--clip", "long", "--again")[0] == 0


def test_a_long_film_that_is_taken_back_brings_its_reps_along(typed: Typed, season: Path) -> None:
    place = with_long_film(season)
    reps = [file_digest(path) for path in sorted((place / "checked/cuts/long").iterdir())]
    typed("forget", place, "--clip", "long", "--yes")
    assert typed("forget", place, "--clip", "long", "--again")[0] == 0
    with Record(place / "checked/record.sqlite") as record:
        assert not any(map(record.is_forgotten, reps))


@pytest.mark.parametrize("said", ["long", "long.mp4", "long.mp4 at 0:20"])
def test_a_rep_of_a_long_film_is_taken_back(typed: Typed, season: Path, said: str) -> None:
    """Forgotten alone, and cut out again since the coach set it again."""
    place = with_long_film(season)
    name = CutName("long.mp4", 20.0, 28.0).within(".mp4")
    cut = place / "checked/cuts" / name
    cut.parent.mkdir()
    film(cut)
    (cuts,) = read_cuts(place / "checked")
    again = replace(cuts.stretches[1], cut=name)
    write_cuts(place / "checked", replace(cuts, stretches=(cuts.stretches[0], again)))
    with Record(place / "checked/record.sqlite") as record:
        record.forget([file_digest(cut)])
        code, out, _ = typed("forget", place, "--clip", said, "--again")
        assert (code, out) == (
            0,
            "long.mp4 at 0:20: the next posecheck check measures it again.\n",
        )
        assert not record.is_forgotten(file_digest(cut))


def test_one_rep_of_a_long_film(typed: Typed, season: Path) -> None:
    place = with_long_film(season)
    cut = place / "checked/cuts/long/2.mp4"
    code, out, _ = typed("forget", place, "--clip", cut, "--film", "--yes")
    assert code == 0
    assert not cut.exists()
    assert (place / "checked/cuts/long/1.mp4").is_file()
    assert (place / "long.mp4").is_file()
    assert not list((place / "checked/strips").iterdir())
    assert "long.mp4: the long film still shows what was cut out of it; " in out
    assert [(each.from_s, each.kind) for each in read_set(place)["long.mp4"]] == [
        (20.0, StretchKind.NONE)
    ], "the next check does not cut it out again"
    assert len(read_cuts(place / "checked")) == 1


USAGE = {
    "nothing": ((), "Say what to forget: one of --player, --clip and --practice."),
    "two things": (
        ("--player", "14", "--practice"),
        "Say what to forget: one of --player, --clip and --practice.",
    ),
    "nobody": (
        ("--player", "99"),
        "99: nobody on the roster goes by this; it has Sam Birch (7), Toby Reed (31), Zoé O'Brien "
        "(14), Zoé O'Brien-Vale (22). Who was taken off it is forgotten by his clips, with --clip, "
        "or put back on it first.",
    ),
    "no clip": (
        ("--clip", "tuesday-onw"),
        "tuesday-onw: no clip of this name is on record; did you mean tuesday-own?",
    ),
    "again without a clip": (
        ("--player", "14", "--again"),
        "--again goes with --clip: name the clips that are to be measured again.",
    ),
}


@pytest.mark.parametrize("case", USAGE)
def test_what_cannot_be_forgotten(typed: Typed, season: Path, case: str) -> None:
    words, sentence = USAGE[case]
    code, out, err = typed("forget", season, *words, "--yes")
    assert (code, out, err) == (2, "", f"posecheck: {sentence}\n")


def test_a_number_that_goes_by_two_names(typed: Typed, season: Path) -> None:
    path = season / "thursday/practice.toml"
    path.write_text(path.read_text("utf-8").replace("Zoé O'Brien\"", 'Ida Holm"'), "utf-8")
    code, _, err = typed("forget", season, "--player", "14", "--yes")
    assert code == 2
    assert err == (
        "posecheck: Number 14 goes by 2 names: Ida Holm, Zoé O'Brien; name one of them instead.\n"
    )
    player_file(season / "thursday/checked", Player(14, ZOE)).unlink()  # from when he wore it
    code, out, _ = typed("forget", season, "--player", "zoé o'brien", "--yes")
    assert code == 0
    assert "tuesday-own.mp4" in out
    assert "thursday-own.mp4" not in out


def test_what_cannot_be_removed_is_said(
    typed: Typed, season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unlink = Path.unlink

    def refused(self: Path, missing_ok: bool = False) -> None:
        if "stills" in self.parts:
            raise PermissionError(13, "Permission denied", str(self))
        unlink(self, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", refused)
    code, _, err = typed("forget", season / "tuesday", "--clip", "tuesday-own", "--yes")
    assert code == 1
    assert "it cannot be removed (Permission denied)" in err
    monkeypatch.setattr(Path, "unlink", unlink)
    assert typed("forget", season / "tuesday", "--clip", "tuesday-own", "--yes")[0] == 0


def test_what_is_left_is_named(typed: Typed, season: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = season / "tuesday/checked/notes.txt"
    kept.write_text(f"Talk to {ZOE}")
    code, out, _ = typed("forget", season / "tuesday", "--player", "14", "--yes")
    assert code == 1
    assert f"name and clips still stand in {kept}; delete what is listed." in out


def test_a_check_that_is_running_is_not_disturbed(typed: Typed, season: Path) -> None:
    results = season / "tuesday/checked"
    before = holding(results, "tuesday-own")
    with one_at_a_time(results):
        code, _, err = typed("forget", season, "--clip", "tuesday-own", "--yes")
    assert code == 1
    assert f"{results}: a check is running in this folder; " in err
    assert holding(results, "tuesday-own") == before
