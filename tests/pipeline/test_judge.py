"""Judging from the record: the practice's plan meets the measures, fast enough for a season."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from factories import make_clip_result, make_measures, make_rep_result

from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call
from posecheck.pipeline import judge as judging
from posecheck.practice.field import closeout_layout
from posecheck.practice.notes import ClipNotes
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record

LEFTY = Player(7, "Sam Birch", strong_hand="left")
USUAL = Thresholds()


def wrong_side(practice: Practice, offset_m: float) -> Call:
    measures = make_measures("breakdown", approach_offset_m=offset_m)
    verdict = judging.judge_rep(measures, practice, practice.folder / "a.mp4", USUAL)
    return next(each.call for each in verdict.findings if each.rule == "wrong_side")


def practice_with(spot: str | None, attacker: Player | None = None, **plan: Plan) -> Practice:
    by_spot = {name.replace("_", "-"): side for name, side in plan.items()}
    notes = {"a.mp4": ClipNotes(spot=spot, attacker=attacker)}
    return Practice(Path("/p"), "p", layout=closeout_layout(), plan=by_spot, notes=notes)


@pytest.mark.parametrize(
    ("practice", "offset_m", "call"),
    [
        # the plan of the clip's own spot counts
        (practice_with("top-left", top_left=Plan.ALLEY, top_right=Plan.MIDDLE), 1.0, Call.CLEAR),
        (practice_with("top-right", top_left=Plan.ALLEY, top_right=Plan.MIDDLE), 1.0, Call.FLAGGED),
        # the attacker's hand counts: at a left spot the left hand is topside
        (practice_with("top-left", LEFTY, top_left=Plan.WEAK_HAND), 1.0, Call.CLEAR),
        (practice_with("top-left", LEFTY, top_left=Plan.WEAK_HAND), -1.0, Call.FLAGGED),
        # without a note there is nothing to judge by
        (practice_with("top-left", None, top_left=Plan.WEAK_HAND), 1.0, Call.CANT_TELL),
        (practice_with(None, LEFTY, top_left=Plan.ALLEY), 1.0, Call.CANT_TELL),
        (practice_with("top-right", LEFTY, top_left=Plan.ALLEY), 1.0, Call.CANT_TELL),
    ],
)
def test_notes_on_the_clip_count(practice: Practice, offset_m: float, call: Call) -> None:
    assert wrong_side(practice, offset_m) is call


def test_a_clip_is_judged_and_kept(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "p")
    reps = (make_rep_result("upright", number=1), make_rep_result(number=2, start_s=9.0))
    result = make_clip_result(tmp_path / "a.mp4", reps=reps)
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        record.save(practice, result)
        assert all(each.changed for each in judging.rejudge(record, practice, USUAL))
        verdicts = judging.judge_clip(record, practice, result, USUAL)
        assert [verdict.call for verdict in verdicts] == [Call.FLAGGED, Call.CLEAR]
        assert record.verdicts(result.clip_digest) == dict(enumerate(verdicts, start=1))
        assert not any(each.changed for each in judging.rejudge(record, practice, USUAL))


def test_a_season_is_judged_again_in_seconds(tmp_path: Path) -> None:
    """200 reps within 2 s of processor time: what the design asks for."""
    practice = Practice(tmp_path, "p")
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        for number in range(20):
            reps = tuple(
                make_rep_result("upright", number=each, start_s=6.0 * each, picture=False)
                for each in range(1, 11)
            )
            record.save(practice, make_clip_result(tmp_path / f"{number}.mp4", reps=reps))
        started = time.process_time()
        judged = judging.rejudge(record, practice, USUAL)
        judging.keep(record, judged, USUAL)
        assert time.process_time() - started < 2
        assert len(judged) == 200
