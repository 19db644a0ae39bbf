"""From measures and thresholds to what is said of a rep.

Nothing here looks at film: a season can be judged again in seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Call(StrEnum):
    """What can be said of one rule in one rep."""

    FLAGGED = "flagged"
    """The whole 90 % interval is on the bad side."""
    CLEAR = "clear"
    """The whole 90 % interval is on the good side."""
    CANT_TELL = "can't tell"
    """The interval straddles the threshold, or the film does not show it."""


@dataclass(frozen=True)
class Finding:
    """One rule's result.

    Attributes:
        rule: key of the rule ("upright_run_out", "hands_in", ...).
        call: flagged, clear or can't tell.
        reason: one sentence with the numbers and thresholds it rests on.
        fix: for a flagged rule what to work on, for can't tell what filming change would settle
            it; empty when clear.
    """

    rule: str
    call: Call
    reason: str
    fix: str


@dataclass(frozen=True)
class Verdict:
    """All findings of a rep.

    Attributes:
        call: of the rep as a whole.
        headline: the sentence shown first.
        findings: one for each rule, most serious first.
    """

    call: Call
    headline: str
    findings: tuple[Finding, ...]

    @property
    def flags(self) -> tuple[Finding, ...]:
        """The flagged findings, most serious first."""
        return tuple(finding for finding in self.findings if finding.call is Call.FLAGGED)
