"""What the coach says of the machine's call: kept beside it, never in its place."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from posecheck.judging.asked import Asked
from posecheck.judging.rules import rule_name, rules
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call, Verdict
from posecheck.maths.shares import share_interval

CLEAN = "clean"
"""The call a coach would make of a rep without a fault."""

RULE_KEYS = tuple(rule.key for rule in rules(DEFAULT_THRESHOLDS, Asked()))
"""Faults that a coach can name instead, most serious first."""


class Ruling(StrEnum):
    """What the coach thinks of a call. A rep he has not ruled has none of these."""

    RIGHT = "right"
    WRONG = "wrong"
    UNDECIDED = "undecided"
    """He looked, and cannot say."""


@dataclass(frozen=True)
class About:
    """The machine's call that a ruling is about, as it stood then.

    Attributes:
        call: of the rep as a whole.
        rule: its most serious flag, None when nothing was flagged.
        thresholds_digest: of the limits it was judged by.
    """

    call: Call
    rule: str | None
    thresholds_digest: str

    @classmethod
    def of(cls, verdict: Verdict, thresholds_digest: str) -> About:
        """What a ruling given now is about."""
        return cls(
            verdict.call, verdict.flags[0].rule if verdict.flags else None, thresholds_digest
        )

    @property
    def words(self) -> str:
        """The call in words: "Stayed high", "clear", "can't tell"."""
        return str(self.call) if self.rule is None else rule_name(self.rule)


@dataclass(frozen=True)
class CoachRuling:
    """One ruling on one rep.

    Attributes:
        ruling: right, wrong or undecided.
        about: the call that he ruled on.
        at: when, with its time zone.
        instead: the key of the rule that he would name, ``CLEAN``, or None when he named none.

    Raises:
        ValueError: another call is named though this one is not wrong, or it is no other call.
    """

    ruling: Ruling
    about: About
    at: dt.datetime
    instead: str | None = None

    def __post_init__(self) -> None:
        if self.instead is not None:
            if self.ruling is not Ruling.WRONG:
                raise ValueError("another call is named only for one that is wrong")
            if self.instead not in (CLEAN, *RULE_KEYS):
                raise ValueError(f"{self.instead!r} is no call")
            if self.instead == (CLEAN if self.about.call is Call.CLEAR else self.about.rule):
                raise ValueError("the call that was made cannot be the one it should have been")

    @property
    def words(self) -> str:
        """As printed after "Coach:": "right", "wrong, hands in", "wrong, clean"."""
        if self.instead is None:
            return str(self.ruling)
        return f"{self.ruling}, {call_name(self.instead).lower()}"

    def beside(self, verdict: Verdict | None) -> str:
        """:attr:`words` to stand beside a verdict, with the call they are about if it is another.

        "right, of the call stayed high" when that is no longer the call.
        """
        about = self.about
        now = None if verdict is None else About.of(verdict, about.thresholds_digest)
        return self.words if now == about else f"{self.words}, of the call {about.words.lower()}"


@dataclass(frozen=True)
class Tally:
    """Rulings counted."""

    right: int = 0
    wrong: int = 0
    undecided: int = 0

    @classmethod
    def of(cls, rulings: Iterable[CoachRuling]) -> Tally:
        """Count rulings."""
        counts = Counter(each.ruling for each in rulings)
        return cls(*(counts[each] for each in Ruling))

    @property
    def total(self) -> int:
        """Reps ruled."""
        return self.right + self.wrong + self.undecided

    @property
    def agreement(self) -> tuple[float, float] | None:
        """90 % interval of the share of calls ruled right among those ruled right or wrong.

        None when there are none.
        """
        return share_interval(self.right, self.right + self.wrong)

    @property
    def words(self) -> str:
        """The counts, and how often calls are right with the error bar of that share.

        "You ruled 23 reps: 20 right, 2 wrong, 1 undecided. Right in 91 % (75 to 97 %)."
        """
        reps = f"{self.total} rep{'' if self.total == 1 else 's'}"
        if not self.total:
            return "You have not ruled any rep yet."
        counts = f"{self.right} right, {self.wrong} wrong, {self.undecided} undecided"
        if self.agreement is None:
            return f"You ruled {reps}: {counts}."
        low, high = (f"{100 * end:.0f}" for end in self.agreement)
        share = 100 * self.right / (self.right + self.wrong)
        return f"You ruled {reps}: {counts}. Right in {share:.0f} % ({low} to {high} %)."


def call_name(call: str) -> str:
    """A call that a coach can make, as printed."""
    return CLEAN.capitalize() if call == CLEAN else rule_name(call)


CALLS = {call: call_name(call) for call in (CLEAN, *RULE_KEYS)}
"""Every call that a coach can make instead, with its name."""
