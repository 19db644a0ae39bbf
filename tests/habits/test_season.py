"""Finding and reading practices: who is who, what is missing, what cannot be read."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result, make_rep_result
from seasons import ROSTER, Truth, write_practice_file, write_season

from posecheck.files.names import OUTPUT_FOLDER, RECORD_FILE
from posecheck.habits.dates import points
from posecheck.habits.habit import habits
from posecheck.habits.season import PlayerId, Season, read_season
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS, Thresholds
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.layout import Side
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record

SHARE, KNEES, *_ = habits(DEFAULT_THRESHOLDS)
TWO = {player: Truth() for player in ROSTER[:2]}
DAY = dt.date(2026, 9, 1)

Row = tuple[Player | None, str, str]


def practice(
    folder: Path,
    *rows: Row,
    date: dt.date | None = DAY,
    made: bool = False,
    results: Path | None = None,
    **values: float | None,
) -> Path:
    """A practice of its own with its record: player, spot, kind of rep."""
    folder.mkdir(parents=True)
    names = [f"IMG_{number}.mp4" for number in range(1, len(rows) + 1)]
    described = [(player, spot, False, None) for player, spot, _ in rows]
    write_practice_file(folder, folder.name, date, described, names)
    known = read_practice(folder)
    with Record((results or folder / OUTPUT_FOLDER) / RECORD_FILE, make=True) as record:
        for name, (_, _, kind) in zip(names, rows, strict=True):
            clip = known.folder / name
            rep = make_rep_result(kind, picture=False, **values)
            how = provenance(Settings(), known, clip) if made else None
            record.save(known, make_clip_result(clip, reps=(rep,), provenance=how))
    return folder


def season(*places: Path, limits: Thresholds = DEFAULT_THRESHOLDS) -> Season:
    return read_season(places, lambda *_: limits)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight practices of two players, three reps each."""
    folder = tmp_path_factory.mktemp("season")
    write_season(folder, np.random.default_rng(1), TWO, reps=3)
    return folder


def test_a_season_folder_holds_its_practices_in_order_of_dates(written: Path) -> None:
    found = season(written)
    assert [each.date.isoformat() for each in found.practices][:2] == ["2026-09-01", "2026-09-08"]
    assert len(found.practices) == 8
    assert list(found.names.values()) == ["Theo Marsh", "Ellis Rowan"]
    assert not found.faults and not found.remarks
    assert all(len(each.reps) == 6 for each in found.practices)


def test_a_practice_s_page_is_known_where_there_is_one(tmp_path: Path) -> None:
    one = practice(tmp_path / "one", (ROSTER[0], "top", "upright"))
    assert season(one).practices[0].page is None
    page = one / OUTPUT_FOLDER / "practice.html"
    page.touch()
    assert season(one).practices[0].page == page.resolve()


def test_practice_results_and_season_name_the_same_record_once(written: Path) -> None:
    one = next(each for each in sorted(written.iterdir()) if each.is_dir())
    assert len(season(one, one / OUTPUT_FOLDER).practices) == 1
    assert len(season(one, written).practices) == 8


def test_reps_of_the_same_film_in_two_records_count_once(written: Path, tmp_path: Path) -> None:
    first = sorted(written.iterdir())[0]
    shutil.copytree(first / OUTPUT_FOLDER, tmp_path / "a" / OUTPUT_FOLDER)
    shutil.copy(first / "practice.toml", tmp_path / "a")
    found = season(written, tmp_path / "a")
    assert sum(len(each.reps) for each in found.practices) == 48
    assert "6 reps of the same film stand in another record as well" in found.remarks[0]


def test_clips_are_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    ten = [(ROSTER[0], "top", "breakdown")] * 11
    rows = [*ten[:9], (ROSTER[0], "top", "upright"), ten[0]]
    (only,) = season(practice(tmp_path / "a", *rows)).practices
    assert [rep.upright.value == "flagged" for rep in only.reps].index(True) == 9


def test_sides_come_from_the_layout(tmp_path: Path) -> None:
    rows = [(ROSTER[0], spot, "breakdown") for spot in ("top-left", "side-right", "top")]
    (only,) = season(practice(tmp_path / "a", *rows)).practices
    assert [rep.side for rep in only.reps] == [Side.LEFT, Side.RIGHT, Side.MIDDLE]


def test_players_are_known_by_number_and_name(tmp_path: Path) -> None:
    """Capitals and spaces make no difference; another name or number does, and is said."""
    vale, other, moved = Player(12, "Robin Vale"), Player(12, "Sam Birch"), Player(21, "Robin Vale")
    days = [DAY + dt.timedelta(days=7 * week) for week in range(4)]
    for number, player in enumerate([vale, Player(12, " Robin  vale"), other, moved]):
        practice(tmp_path / f"w{number}", (player, "top", "breakdown"), date=days[number])
    found = season(tmp_path)
    assert [who.number for who in found.players] == [12, 12, 21]
    own = list(points(found, PlayerId.of(vale), KNEES))
    assert [point.practice.date for point in own] == days[:2]
    number, name = found.remarks
    assert number.startswith("Number 12 goes by 2 names: ")
    assert "Sam Birch (from 2026-09-15); they are kept apart." in number
    assert name == "Robin vale wears the numbers 12 and 21; they are kept apart."


def test_reps_without_a_name_are_counted_and_in_nobodys_figures(tmp_path: Path) -> None:
    nobody = (None, "top", "upright")
    practice(tmp_path / "a", nobody, nobody, (ROSTER[0], "top", "breakdown"))
    practice(tmp_path / "b", nobody, date=DAY + dt.timedelta(days=7))
    found = season(tmp_path)
    assert [(each.date.day, count) for each, count in found.unnamed] == [(1, 2), (8, 1)]
    assert found.players == [PlayerId.of(ROSTER[0])]
    (point,) = points(found, found.players[0], SHARE)
    assert (point.value, point.seen, point.reps) == (0.0, 1, 1)


def test_what_the_film_hides_is_counted(tmp_path: Path) -> None:
    kinds = ["breakdown", "upright", "unclear"]
    practice(tmp_path / "a", *[(ROSTER[0], "top", kind) for kind in kinds])
    practice(
        tmp_path / "b",
        *[(ROSTER[0], "top", "breakdown")] * 2,
        date=DAY + dt.timedelta(days=7),
        knee_bend_deg=None,
    )
    found = season(tmp_path)
    first, _ = points(found, found.players[0], SHARE)
    assert (first.value, first.seen, first.missing) == (0.5, 2, 1)
    assert first.low is not None and first.low < 0.2
    knees = list(points(found, found.players[0], KNEES))
    assert (knees[1].value, knees[1].low, knees[1].seen, knees[1].reps) == (None, None, 0, 2)


def test_one_rep_has_its_own_bar(tmp_path: Path) -> None:
    found = season(practice(tmp_path / "a", (ROSTER[0], "top", "breakdown")))
    (point,) = points(found, found.players[0], KNEES)
    assert (point.value, point.low, point.high) == (58, 52, 64)


def test_all_reps_are_judged_by_the_limits_given(tmp_path: Path) -> None:
    practice(tmp_path / "a", (ROSTER[0], "top", "upright"))
    strict = Thresholds(max_arrival_speed_mps=9, max_overrun_m=9)
    assert [point.value for point in points(season(tmp_path), PlayerId.of(ROSTER[0]), SHARE)] == [1]
    found = season(tmp_path, limits=strict)
    assert [point.value for point in points(found, PlayerId.of(ROSTER[0]), SHARE)] == [0]


def test_reps_measured_as_today_are_told_from_others(tmp_path: Path) -> None:
    practice(tmp_path / "a", (ROSTER[0], "top", "breakdown"), made=True)
    later = DAY + dt.timedelta(days=7)
    practice(tmp_path / "b", (ROSTER[0], "top", "breakdown"), date=later)
    first, second = season(tmp_path).practices
    assert [rep.as_now for rep in (*first.reps, *second.reps)] == [True, False]


def test_what_cannot_be_read_costs_only_itself(written: Path, tmp_path: Path) -> None:
    broken = practice(tmp_path / "broken", (ROSTER[0], "top", "breakdown"))
    (broken / "practice.toml").write_text("name = 3")
    undated = practice(tmp_path / "undated", (ROSTER[0], "top", "breakdown"), date=None)
    damaged = tmp_path / "damaged" / OUTPUT_FOLDER
    damaged.mkdir(parents=True)
    (damaged / RECORD_FILE).write_bytes(b"no database" * 100)
    rep, results = (ROSTER[1], "top", "breakdown"), tmp_path / "results"
    shutil.rmtree(practice(tmp_path / "gone", rep, results=results))
    (tmp_path / "empty").mkdir()
    places = [broken, undated, damaged, results, tmp_path / "empty", tmp_path / "no"]
    found = season(*places, written)
    assert len(found.practices) == 8
    wanted = [
        "no: there is no such folder",
        "empty: nothing has been checked here",
        "practice.toml: name is 3",
        "undated: the practice has no date; add a line such as date = 2026-05-12",
        "record.sqlite: this is no record of posecheck",
        "its practice is no longer in",
    ]
    for words in wanted:
        assert sum(words in fault for fault in found.faults) == 1, (words, found.faults)
    assert len(found.faults) == len(wanted)
