"""The coach's rulings and stars: kept beside the calls, and longer than the measures."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest
from factories import make_clip_result, make_provenance, make_rep_result
from old_records import take_back

from posecheck.errors import RecordError
from posecheck.judging.ruling import CLEAN, About, CoachRuling, Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.measures.result import ClipResult, RepResult
from posecheck.practice.practice import Practice
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.store.record import Record

HIGH = Verdict(
    Call.FLAGGED,
    "Stayed high: knee bend 31°",
    (
        Finding("upright_run_out", Call.CLEAR, "knee bend 31°", ""),
        Finding("no_breakdown", Call.FLAGGED, "knee bend 31°", "sit"),
        Finding("hands_in", Call.FLAGGED, "hand reach 0.2", "hands out"),
    ),
)
CLEAR = Verdict(Call.CLEAR, "Broken down and under control.", ())
LIMITS = Thresholds()
AT = dt.datetime(2026, 5, 12, 19, 30, tzinfo=dt.UTC)


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    return Practice(tmp_path, "Tuesday")


@pytest.fixture
def record(practice: Practice) -> Record:
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
        yield record


def from_to(start_s: float, end_s: float, number: int = 1) -> RepResult:
    rep = Rep(start_s, None, end_s - 1, end_s, ArrivalSource.ATTACKER)
    return dataclasses.replace(make_rep_result(picture=False), number=number, rep=rep)


def saved(record: Record, practice: Practice, *reps: RepResult, name: str = "a.mp4") -> ClipResult:
    result = make_clip_result(practice.folder / name, reps=reps or (from_to(0.4, 3.7),))
    judged(record, practice, result, HIGH)
    return result


def judged(record: Record, practice: Practice, result: ClipResult, verdict: Verdict) -> None:
    record.save(practice, result)
    verdicts = {(result.clip_digest, rep.number): verdict for rep in result.reps}
    record.save_verdicts(verdicts, LIMITS)


def test_a_ruling_comes_back_with_the_call_it_is_about(record: Record, practice: Practice) -> None:
    digest = saved(record, practice).clip_digest
    assert record.rulings(practice) == {}
    record.rule(digest, 1, Ruling.WRONG, instead="hands_in", at=AT)
    about = About(Call.FLAGGED, "no_breakdown", LIMITS.digest())
    want = CoachRuling(Ruling.WRONG, about, AT, "hands_in")
    assert record.rulings(practice) == {(digest, 1): want}
    record.close()
    with Record(record.path) as again:
        assert again.rulings(practice) == {(digest, 1): want}


@pytest.mark.parametrize("ruling", Ruling)
def test_a_later_ruling_takes_the_place_of_the_one_before(
    record: Record, practice: Practice, ruling: Ruling
) -> None:
    digest = saved(record, practice).clip_digest
    record.rule(digest, 1, Ruling.WRONG, instead=CLEAN)
    kept = record.rule(digest, 1, ruling, at=AT)
    assert record.rulings(practice) == {(digest, 1): kept}
    assert (kept.ruling, kept.instead, kept.at) == (ruling, None, AT)
    record.unrule(digest, 1)
    record.unrule(digest, 1)
    assert record.rulings(practice) == {}


def test_ruling_and_judging_do_not_touch_each_other(record: Record, practice: Practice) -> None:
    digest = saved(record, practice).clip_digest
    kept = record.rule(digest, 1, Ruling.RIGHT)
    assert record.verdicts(digest) == {1: HIGH}
    record.save_verdicts({(digest, 1): CLEAR}, Thresholds(min_knee_bend_deg=20.0))
    assert record.rulings(practice)[digest, 1].about == kept.about
    assert record.verdicts(digest) == {1: CLEAR}
    # A ruling given now is about the call that stands now.
    later = record.rule(digest, 1, Ruling.RIGHT)
    assert later.about.rule is None
    assert later.about.thresholds_digest != kept.about.thresholds_digest


def test_rulings_and_stars_outlive_a_new_measuring(record: Record, practice: Practice) -> None:
    digest = saved(record, practice, from_to(0.4, 3.7), from_to(6.0, 9.5, 2)).clip_digest
    kept = record.rule(digest, 2, Ruling.RIGHT)
    record.star(digest, 2)
    # Measured again, a rep is found before the first, and the moments have moved a little.
    reps = (from_to(0.3, 1.2), from_to(1.6, 3.7, 2), from_to(6.3, 9.4, 3))
    again = make_clip_result(
        practice.folder / "a.mp4", reps=reps, provenance=make_provenance(settings_digest="12" * 32)
    )
    judged(record, practice, again, HIGH)
    assert record.rulings(practice) == {(digest, 3): kept}
    assert record.stars(practice) == ((digest, 3),)
    # Ruled again under its new number, there is still one ruling.
    kept = record.rule(digest, 3, Ruling.UNDECIDED)
    assert record.rulings(practice) == {(digest, 3): kept}
    judged(record, practice, make_clip_result(practice.folder / "a.mp4", reps=reps[:1]), HIGH)
    assert record.rulings(practice) == {}
    assert record.stars(practice) == ()
    judged(record, practice, again, HIGH)
    assert record.rulings(practice) == {(digest, 3): kept}
    assert record.stars(practice) == ((digest, 3),)


def test_a_rep_of_the_same_number_at_another_time_is_another_rep(
    record: Record, practice: Practice
) -> None:
    digest = saved(record, practice, from_to(0.4, 3.7)).clip_digest
    record.rule(digest, 1, Ruling.RIGHT)
    judged(record, practice, make_clip_result(practice.folder / "a.mp4", reps=(from_to(5, 8),)),
           HIGH)  # fmt: skip
    assert record.rulings(practice) == {}
    kept = record.rule(digest, 1, Ruling.WRONG)
    assert record.rulings(practice) == {(digest, 1): kept}


def test_a_rep_that_begins_where_a_longer_one_did_can_be_ruled(
    record: Record, practice: Practice
) -> None:
    """The shorter one is another rep; the word on the longer one must not keep the coach out."""
    first = saved(record, practice, from_to(0.0, 10.0))
    record.rule(first.clip_digest, 1, Ruling.RIGHT)
    record.star(first.clip_digest, 1)
    saved(record, practice, from_to(0.0, 4.0))
    assert not record.rulings(practice) and not record.stars(practice)
    record.rule(first.clip_digest, 1, Ruling.WRONG)
    record.star(first.clip_digest, 1)
    (ruled,) = record.rulings(practice).values()
    assert ruled.ruling is Ruling.WRONG
    assert record.stars(practice) == ((first.clip_digest, 1),)


def test_rulings_are_of_one_practice_and_go_with_a_renamed_clip(
    record: Record, practice: Practice
) -> None:
    result = saved(record, practice)
    other = Practice(practice.folder / "other", "other")
    theirs = saved(record, other, name="b.mp4")
    mine = record.rule(result.clip_digest, 1, Ruling.RIGHT)
    record.rule(theirs.clip_digest, 1, Ruling.WRONG)
    record.moved(practice, result.clip_digest, practice.folder / "renamed.mp4")
    assert record.rulings(practice) == {(result.clip_digest, 1): mine}
    assert list(record.rulings(other)) == [(theirs.clip_digest, 1)]


def test_stars_are_put_taken_and_listed_in_order(record: Record, practice: Practice) -> None:
    later = saved(record, practice, name="b.mp4").clip_digest
    digest = saved(record, practice, from_to(0.4, 3.7), from_to(6, 9, 2)).clip_digest
    for key in ((later, 1), (digest, 2), (digest, 1), (digest, 1)):
        record.star(*key)
    assert record.stars(practice) == ((digest, 1), (digest, 2), (later, 1))
    record.unstar(digest, 1)
    record.unstar(digest, 1)
    assert record.stars(practice) == ((digest, 2), (later, 1))


def test_what_cannot_be_ruled_is_refused(record: Record, practice: Practice) -> None:
    with pytest.raises(RecordError, match=r"rep 1 of clip abababababab is not on record"):
        record.rule("ab" * 32, 1, Ruling.RIGHT)
    with pytest.raises(RecordError, match="is not on record"):
        record.star("ab" * 32, 1)
    result = make_clip_result(practice.folder / "a.mp4", reps=(from_to(0.4, 3.7),))
    record.save(practice, result)
    with pytest.raises(RecordError, match="is not judged yet; check it first"):
        record.rule(result.clip_digest, 1, Ruling.RIGHT)
    judged(record, practice, result, HIGH)
    with pytest.raises(ValueError, match="only for one that is wrong"):
        record.rule(result.clip_digest, 1, Ruling.RIGHT, instead=CLEAN)
    with pytest.raises(ValueError, match="'hips_on_fire' is no call"):
        record.rule(result.clip_digest, 1, Ruling.WRONG, instead="hips_on_fire")
    assert record.rulings(practice) == {}


def test_a_record_of_version_2_is_taken_along(record: Record, practice: Practice) -> None:
    result = saved(record, practice)
    record.close()
    take_back(record.path, 2)
    with Record(record.path) as again:
        assert again.verdicts(result.clip_digest) == {1: HIGH}
        kept = again.rule(result.clip_digest, 1, Ruling.RIGHT)
        again.star(result.clip_digest, 1)
    with Record(record.path) as again:  # updated once, then left alone
        assert again.rulings(practice) == {(result.clip_digest, 1): kept}
        assert again.stars(practice) == ((result.clip_digest, 1),)
