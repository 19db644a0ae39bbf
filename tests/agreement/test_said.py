"""What a ruling says of each rule, and which verdicts agree with it."""

from __future__ import annotations

import pytest
from coach import AT

from posecheck.agreement.said import agrees, said_of_rules, says_only_not_clear, speaks
from posecheck.judging.ruling import CLEAN, RULE_KEYS, About, CoachRuling, Ruling
from posecheck.judging.verdict import Call, Finding, Verdict

NO_FAULT = dict.fromkeys(RULE_KEYS, False)


def ruled(ruling: Ruling, rule: str | None, call: Call | None = None, instead: str | None = None):
    about = About(call or (Call.FLAGGED if rule else Call.CLEAR), rule, "ab" * 32)
    return CoachRuling(ruling, about, AT, instead)


def verdict(*flags: str, open_: tuple[str, ...] = ()) -> Verdict:
    calls = {
        rule: Call.FLAGGED if rule in flags else Call.CANT_TELL if rule in open_ else Call.CLEAR
        for rule in RULE_KEYS
    }
    call = Call.FLAGGED if flags else Call.CANT_TELL if open_ else Call.CLEAR
    return Verdict(call, "", tuple(Finding(rule, calls[rule], "", "") for rule in RULE_KEYS))


@pytest.mark.parametrize(
    ("ruling", "says"),
    [
        (ruled(Ruling.RIGHT, "ran_past"), {"ran_past": True}),
        (ruled(Ruling.WRONG, "ran_past"), {"ran_past": False}),
        (
            # A call names the most serious fault, so the more serious ones are not there.
            ruled(Ruling.WRONG, "hands_in", instead="ran_past"),
            {"hands_in": False, "upright_run_out": False, "ran_past": True},
        ),
        (
            ruled(Ruling.WRONG, "upright_run_out", instead="ran_past"),
            {"upright_run_out": False, "ran_past": True},
        ),
        (ruled(Ruling.WRONG, "ran_past", instead=CLEAN), NO_FAULT),
        (ruled(Ruling.RIGHT, None), NO_FAULT),
        (ruled(Ruling.WRONG, None), {}),
        (ruled(Ruling.WRONG, None, instead="upright_run_out"), {"upright_run_out": True}),
        (ruled(Ruling.RIGHT, None, Call.CANT_TELL), {}),
        (ruled(Ruling.WRONG, None, Call.CANT_TELL), {}),
        (ruled(Ruling.WRONG, None, Call.CANT_TELL, CLEAN), NO_FAULT),
        (ruled(Ruling.UNDECIDED, "ran_past"), {}),
        (ruled(Ruling.UNDECIDED, None), {}),
    ],
)
def test_what_a_ruling_says_of_rules(ruling: CoachRuling, says: dict[str, bool]) -> None:
    assert said_of_rules(ruling) == says


@pytest.mark.parametrize(
    ("ruling", "of", "same"),
    [
        (ruled(Ruling.RIGHT, "ran_past"), verdict("ran_past"), True),
        (ruled(Ruling.RIGHT, "ran_past"), verdict("upright_run_out"), False),
        (ruled(Ruling.RIGHT, "ran_past"), verdict(open_=("ran_past",)), None),
        (ruled(Ruling.WRONG, "ran_past"), verdict("ran_past"), False),
        (ruled(Ruling.WRONG, "ran_past"), verdict("hands_in"), True),
        (ruled(Ruling.WRONG, "ran_past", instead="hands_in"), verdict("hands_in"), True),
        (ruled(Ruling.WRONG, "ran_past", instead="hands_in"), verdict(), False),
        (ruled(Ruling.RIGHT, None), verdict(), True),
        (ruled(Ruling.RIGHT, None), verdict("hands_in"), False),
        (ruled(Ruling.RIGHT, None), verdict(open_=("ran_past",)), None),
        (ruled(Ruling.WRONG, None), verdict("hands_in"), True),
        (ruled(Ruling.WRONG, None), verdict(), False),
        (ruled(Ruling.WRONG, None), verdict(open_=("ran_past",)), None),
        (ruled(Ruling.WRONG, "ran_past", instead=CLEAN), verdict("narrow_base"), False),
        (ruled(Ruling.UNDECIDED, "ran_past"), verdict("ran_past"), None),
        (ruled(Ruling.RIGHT, None, Call.CANT_TELL), verdict("ran_past"), None),
    ],
)
def test_which_verdicts_agree(ruling: CoachRuling, of: Verdict, same: bool | None) -> None:
    assert agrees(of, ruling) is same


def test_who_says_nothing() -> None:
    assert not speaks(ruled(Ruling.UNDECIDED, "ran_past"))
    assert not speaks(ruled(Ruling.RIGHT, None, Call.CANT_TELL))
    assert speaks(ruled(Ruling.WRONG, None))
    assert says_only_not_clear(ruled(Ruling.WRONG, None))
    assert not says_only_not_clear(ruled(Ruling.WRONG, None, instead="hands_in"))
    assert not says_only_not_clear(ruled(Ruling.WRONG, None, Call.CANT_TELL))
