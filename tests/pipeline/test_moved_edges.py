"""The coach moves the start or the end of a rep of a long film: what was said of it goes along."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from factories import make_clip_result, make_rep_result
from films import write_film

from posecheck.errors import RecordError
from posecheck.files.digest import file_digest
from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult
from posecheck.pipeline.cut_out import cut_out
from posecheck.pipeline.judge import judge_clip
from posecheck.pipeline.moved_edges import carry_over
from posecheck.practice.clips_file import Said, write_clips
from posecheck.practice.cuts import FilmCuts, SetStretch, Stretch, StretchKind
from posecheck.practice.found_cuts import write_cuts
from posecheck.practice.notes import PointedOut
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice, read_said
from posecheck.practice.roster import Player
from posecheck.practice.set_cuts import write_set
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.store.record import Record

FILM = "film-01.mp4"
KEY = "checked/cuts/film-01.mp4/0010.000-0018.000.mp4"
MOVED = SetStretch(9.0, 17.0, StretchKind.REP, (10.0, 18.0))
MOVED_KEY = "checked/cuts/film-01.mp4/0009.000-0017.000.mp4"
SAID = Said(defender=22, arrival_s=4.0, defender_at=PointedOut(1.0, 5.0, 6.0))


class Checked:
    """A checked practice with a film of 40 s and two reps in it; one is named, ruled and starred.

    Attributes:
        was: digest of the clip of that rep.
    """

    def __init__(self, folder: Path, record: Record) -> None:
        self.folder, self.record = folder, record
        self.film = write_film(folder / FILM, range(0, 40_000, 100))
        found = (Stretch(10.0, 18.0, StretchKind.REP), Stretch(25.0, 33.0, StretchKind.REP))
        cuts = FilmCuts(FILM, file_digest(self.film), 40.0, "key", found, (), found)
        cut = [replace(each, cut=cut_out(record.folder, self.film, cuts, each)) for each in found]
        write_cuts(record.folder, replace(cuts, stretches=tuple(cut)))
        write_clips(
            folder, [Player(22, "Ellis Rowan")], {KEY: SAID, "other.mp4": Said(defender=22)}
        )
        results = [self.measured(record.folder / "cuts" / str(each.cut), 2.0) for each in cut]
        self.was = results[0].clip_digest
        record.rule(self.was, 1, Ruling.WRONG)
        record.star(self.was, 1)

    @property
    def practice(self) -> Practice:
        return read_practice(self.folder)

    def measured(self, clip: Path, start_s: float) -> ClipResult:
        rep = Rep(start_s, None, start_s + 3, start_s + 4, ArrivalSource.ATTACKER)
        reps = (replace(make_rep_result(picture=True), rep=rep),)
        result = make_clip_result(clip, clip_digest=file_digest(clip), reps=reps)
        self.record.save(self.practice, result)
        judge_clip(self.record, self.practice, result, Thresholds())
        return result


@pytest.fixture
def checked(tmp_path: Path) -> Checked:
    with Record(tmp_path / "checked/record.sqlite", make=True) as record:
        yield Checked(tmp_path, record)


def test_names_rulings_and_stars_go_along(checked: Checked) -> None:
    record = checked.record
    write_set(checked.folder, {FILM: [MOVED]})
    practice = carry_over(checked.practice, record, [checked.film])
    assert read_said(checked.folder, practice)[1] == {
        MOVED_KEY: Said(defender=22, arrival_s=5.0, defender_at=PointedOut(2.0, 5.0, 6.0)),
        "other.mp4": Said(defender=22),
    }
    assert practice.noted(MOVED_KEY).defender_name == "Ellis Rowan (22)"
    with pytest.raises(RecordError, match="not on record"):
        record.outline(checked.was)
    assert len(record.measured_reps(practice)) == 1, "no rep counts twice"
    assert not [path for path in record.folder.rglob("*") if checked.was[:8] in path.name]
    now = checked.measured(checked.folder / MOVED_KEY, 3.0).clip_digest
    assert list(record.rulings(practice)) == list(record.stars(practice)) == [(now, 1)]
    assert record.rulings(practice)[now, 1].ruling is Ruling.WRONG


def test_once_more_changes_nothing(checked: Checked) -> None:
    write_set(checked.folder, {FILM: [MOVED]})
    practice = carry_over(checked.practice, checked.record, [checked.film])
    assert carry_over(checked.practice, checked.record, [checked.film]) == practice


def test_moments_outside_of_the_rep_as_set_are_dropped(checked: Checked) -> None:
    write_set(checked.folder, {FILM: [SetStretch(12.0, 13.9, StretchKind.REP, (10.0, 18.0))]})
    practice = carry_over(checked.practice, checked.record, [checked.film])
    said = read_said(checked.folder, practice)[1]
    assert said["checked/cuts/film-01.mp4/0012.000-0013.900.mp4"] == Said(defender=22)


@pytest.mark.parametrize("case", ["nothing is set", "no rep", "elsewhere", "not checked now"])
def test_otherwise_all_stays_as_it_is(checked: Checked, case: str) -> None:
    set_by_coach = {
        "no rep": [SetStretch(10.0, 18.0, StretchKind.NONE, (10.0, 18.0))],
        "elsewhere": [SetStretch(17.0, 24.0, StretchKind.REP, (10.0, 18.0))],
        "not checked now": [MOVED],
    }
    write_set(checked.folder, {FILM: set_by_coach.get(case, [])})
    before = checked.practice
    clips = [] if case == "not checked now" else [checked.film]
    assert carry_over(before, checked.record, clips) == before == checked.practice
    assert checked.record.stars(before) == ((checked.was, 1),)


def test_of_another_film_by_the_same_name_nothing_goes_along(checked: Checked) -> None:
    write_set(checked.folder, {FILM: [MOVED]})
    write_film(checked.film, range(0, 40_000, 125))
    before = checked.practice
    assert carry_over(before, checked.record, [checked.film]) == before
    assert checked.record.stars(before) == ((checked.was, 1),)
