"""Proposed limits as a thresholds file."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from posecheck.agreement.tune import Outcome, Tuned
from posecheck.files.whole_file import write_new
from posecheck.judging.thresholds import Thresholds


def write_limits(tuned: Tuned, n_rulings: int, file: Path) -> None:
    """Write all limits, each proposed one with what it rests on, into a file to judge by.

    Raises:
        UsageError: there is a file of this name, or it cannot be written.
    """
    write_new(file, limits_text(tuned, n_rulings))


def limits_text(tuned: Tuned, n_rulings: int) -> str:
    """The file's content; figures are in metres, metres a second and degrees, as its names say."""
    made = {each.name: each for each in tuned.proposals if each.outcome is Outcome.PROPOSED}
    lines = [
        f"# Limits proposed from {n_rulings} rulings of a coach. What each means, and its usual",
        "# value: posecheck thresholds.",
        "",
    ]
    for field in dataclasses.fields(Thresholds):
        if field.name in made:
            proposal = made[field.name]
            assert proposal.fit is not None and proposal.fit.low is not None
            assert proposal.fit.high is not None
            lines.append(
                f"# Was {proposal.stands:g}. {proposal.seen} rulings with the fault, "
                f"{proposal.unseen} without; 90 % interval {proposal.fit.low:.3g} to "
                f"{proposal.fit.high:.3g}."
            )
        lines.append(f"{field.name} = {getattr(tuned.proposed, field.name):g}")
    return "\n".join(lines) + "\n"
