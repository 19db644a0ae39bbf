"""What a ruling says of each rule, and whether a verdict agrees with it.

The coach rules on the call that heads a rep: its most serious flag, "clear", or "can't tell".
"Right" on a flag says that this fault is there, "wrong" that it is not; neither speaks of the
less serious flags below it. "Right" on a clear rep, or "clean" named instead, says that there is
no fault at all; another fault named instead says that this one is there and, since a call names
the most serious, that none of the more serious ones is. Without those, rulings would speak of a
rule more often where the fault is than where it is not, and limits fitted to them would be off to
that side. "Right" on a can't tell, and "undecided", say nothing.
"""

from __future__ import annotations

from posecheck.judging.ruling import CLEAN, RULE_KEYS, CoachRuling, Ruling
from posecheck.judging.verdict import Call, Verdict

_NO_FAULT = dict.fromkeys(RULE_KEYS, False)


def said_of_rules(ruling: CoachRuling) -> dict[str, bool]:
    """By rule, whether the coach sees the fault; a rule of which he said nothing is left out."""
    about = ruling.about
    if ruling.ruling is Ruling.RIGHT:
        if about.rule is not None:
            return {about.rule: True}
        return dict(_NO_FAULT) if about.call is Call.CLEAR else {}
    if ruling.ruling is Ruling.UNDECIDED:
        return {}
    if ruling.instead == CLEAN:
        return dict(_NO_FAULT)
    said = {} if about.rule is None else {about.rule: False}
    if ruling.instead is not None:
        more_serious = RULE_KEYS[: RULE_KEYS.index(ruling.instead)]
        said |= dict.fromkeys(more_serious, False) | {ruling.instead: True}
    return said


def sees_a_fault(ruling: CoachRuling) -> bool | None:
    """True when the coach sees any fault, False when he says that there is none, else None."""
    said = said_of_rules(ruling)
    if any(said.values()) or says_only_not_clear(ruling):
        return True
    return False if said.keys() >= _NO_FAULT.keys() else None


def agrees(verdict: Verdict, ruling: CoachRuling) -> bool | None:
    """Whether a verdict says what the coach says; None when it can't tell, or he said nothing."""
    no_fault, said = sees_a_fault(ruling) is False, said_of_rules(ruling)
    if no_fault or says_only_not_clear(ruling):
        if verdict.call is Call.CANT_TELL:
            return None
        return (verdict.call is Call.CLEAR) is no_fault
    calls = {finding.rule: finding.call for finding in verdict.findings}
    matches = {
        None
        if (call := calls.get(rule, Call.CANT_TELL)) is Call.CANT_TELL
        else (call is Call.FLAGGED) is there
        for rule, there in said.items()
    }
    if False in matches:
        return False
    return True if matches == {True} else None


def speaks(ruling: CoachRuling) -> bool:
    """True when the coach said something that a verdict can agree with or not."""
    return bool(said_of_rules(ruling)) or says_only_not_clear(ruling)


def says_only_not_clear(ruling: CoachRuling) -> bool:
    """True when he sees some fault in a clear rep and does not name it."""
    about_clear = ruling.about.call is Call.CLEAR and ruling.instead is None
    return about_clear and ruling.ruling is Ruling.WRONG
