"""Limits proposed from a coach's rulings, and how well calls agree with him now and then.

Nothing here changes a limit or a verdict; what comes out is a proposal.
"""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from posecheck.agreement.chance import chance_of_others, moving
from posecheck.agreement.fit import Answer, Fit, fit_limit, turning
from posecheck.agreement.ruled import RuledRep
from posecheck.agreement.said import agrees, said_of_rules, says_only_not_clear, speaks
from posecheck.agreement.tuning import FOLDS, MAX_ROUNDS, MIN_EACH, MIN_RULINGS, WIDE
from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import Limit, Thresholds, in_order
from posecheck.judging.verdict import judge
from posecheck.maths.shares import LEVEL, share_interval


class Outcome(StrEnum):
    """What comes of one limit."""

    PROPOSED = "proposed"
    AGREES = "agrees"
    """The limit as it stands lies within the error bar."""
    TOO_WIDE = "too wide"
    """The error bar says nothing."""
    OUT_OF_ORDER = "out of order"
    """It would cross another limit, such as an upright knee above a broken-down one."""
    TOO_FEW = "too few"


@dataclass(frozen=True)
class Proposal:
    """One limit as it stands and as the rulings imply it.

    Attributes:
        name: of the limit.
        stands: its value now.
        outcome: what comes of it.
        seen, unseen: rulings that turn on it, with the fault named and without it.
        fit: None when there are too few.
        value: what is proposed, rounded as figures are; None when nothing is.
    """

    name: str
    stands: float
    outcome: Outcome
    seen: int
    unseen: int
    fit: Fit | None = None
    value: float | None = None


@dataclass(frozen=True)
class Agreement:
    """How a set of calls compares with the coach's rulings.

    Attributes:
        same, against: calls that say what he says, and the opposite.
        open: can't tell, where he can.
    """

    same: int
    against: int
    open: int

    @property
    def share(self) -> tuple[float, float] | None:
        """90 % interval of the share of calls that say the same; None when there are none."""
        return share_interval(self.same, self.same + self.against + self.open)


@dataclass(frozen=True)
class Tuned:
    """What the rulings imply.

    Attributes:
        stands: the limits as they are.
        proposed: the limits with every proposal in its place.
        proposals: one for each limit that a rule looks at.
        now: agreement with the limits as they are.
        then: agreement on reps that took no part in the fit, their limits proposed from the
            others; None when nothing is proposed.
    """

    stands: Thresholds
    proposed: Thresholds
    proposals: tuple[Proposal, ...]
    now: Agreement
    then: Agreement | None


def decided(reps: Sequence[RuledRep]) -> int:
    """Rulings of right or wrong."""
    return sum(rep.ruling.ruling is not Ruling.UNDECIDED for rep in reps)


def enough(reps: Sequence[RuledRep]) -> bool:
    """True when there are rulings enough to propose anything."""
    return decided(reps) >= MIN_RULINGS


def tune(reps: Sequence[RuledRep], stands: Thresholds) -> Tuned:
    """Propose limits.

    Args:
        reps: ruled ones, of any number of practices; see :func:`enough`.
        stands: the limits as they are.
    """
    proposed, proposals = propose(reps, stands)
    now = agreement(reps, [stands] * len(reps))
    then = None if proposed == stands else agreement(reps, _cross_fitted(reps, stands))
    return Tuned(stands, proposed, proposals, now, then)


def propose(
    reps: Sequence[RuledRep], stands: Thresholds
) -> tuple[Thresholds, tuple[Proposal, ...]]:
    """The limits with every proposal in its place, and what comes of each."""
    names = [field.name for field in dataclasses.fields(stands)]
    limits, proposals = stands, tuple[Proposal, ...]()
    for _ in range(MAX_ROUNDS):
        before = limits
        proposals = _worth_it([_fitted(name, reps, stands, before) for name in names])
        limits = stands
        for number, each in enumerate(proposals):
            if each.value is None:
                continue
            moved = dataclasses.replace(limits, **{each.name: each.value})
            if in_order(moved):
                limits = moved
            else:
                refused = dataclasses.replace(each, outcome=Outcome.OUT_OF_ORDER, value=None)
                proposals = (*proposals[:number], refused, *proposals[number + 1 :])
        if limits == before:
            break
    return limits, proposals


def agreement(reps: Sequence[RuledRep], limits: Sequence[Thresholds]) -> Agreement:
    """How the calls by these limits, one for each rep, compare with the coach's rulings."""
    found = Counter(
        agrees(judge(rep.measures, each, rep.asked), rep.ruling)
        for rep, each in zip(reps, limits, strict=True)
        if speaks(rep.ruling)
    )
    return Agreement(found[True], found[False], found[None])


def _worth_it(fitted: Sequence[Proposal]) -> tuple[Proposal, ...]:
    """Propose the limits that differ from those as they stand by more than chance.

    By Bonferroni's rule: were every limit the coach's own, one tuning in ten would propose any.
    """
    usable = [each for each in fitted if each.outcome is Outcome.AGREES]
    return tuple(
        dataclasses.replace(each, outcome=Outcome.PROPOSED, value=value)
        if each in usable
        and each.fit is not None
        and each.fit.p_as_it_stands < (1 - LEVEL) / len(usable)
        and (value := rounded(each.name, each.fit.value)) != each.stands
        else each
        for each in fitted
    )


def rounded(name: str, value: float) -> float:
    """A limit with the digits that figures of its quantity have."""
    return round(value, Limit.named(name).quantity.decimals)


def _fitted(
    name: str, reps: Sequence[RuledRep], stands: Thresholds, limits: Thresholds
) -> Proposal:
    """What comes of one limit, all others being ``limits``."""
    now, bounds = getattr(stands, name), Limit.named(name)
    answers = []
    for rep in reps:
        conditions, said = moving(limits, name, rep.asked), said_of_rules(rep.ruling)
        if says_only_not_clear(rep.ruling):
            others = chance_of_others(limits, name, rep.asked, rep.measures)
            answers.append(Answer(rep.measures, tuple(conditions.values()), others=others))
            continue
        there, not_there = (
            tuple(conditions[rule] for rule in said if rule in conditions and said[rule] is sees)
            for sees in (True, False)
        )
        answers.append(Answer(rep.measures, there, not_there))
    if sum(bool(each.there) and not each.others for each in answers) < MIN_EACH:
        answers = [each for each in answers if each.there or each.not_there]
    else:
        answers = turning(answers)
    seen = sum(bool(each.there) and not each.others for each in answers)
    unseen = sum(not each.there for each in answers)
    proposal = Proposal(name, now, Outcome.TOO_FEW, seen, unseen)
    if min(proposal.seen, proposal.unseen) < MIN_EACH:
        return proposal
    fit = fit_limit(answers, now, bounds.least, bounds.greatest)
    if fit is None:
        return proposal
    proposal = dataclasses.replace(proposal, fit=fit, outcome=Outcome.AGREES)
    if fit.low is None or fit.high is None or _is_wide(fit.high - fit.low, fit):
        return dataclasses.replace(proposal, outcome=Outcome.TOO_WIDE)
    return proposal


def _is_wide(length: float, fit: Fit) -> bool:
    low, high = fit.ruled
    return length > WIDE * (high - low)


def _cross_fitted(reps: Sequence[RuledRep], stands: Thresholds) -> list[Thresholds]:
    """For each rep the limits proposed from the folds that it is not in.

    Folds hold right and wrong in like shares.
    """
    from sklearn.model_selection import StratifiedKFold

    kinds = [rep.ruling.ruling is Ruling.RIGHT for rep in reps]
    fewest = min(Counter(kinds).values())
    if fewest < 2:
        kinds = [True] * len(reps)
    folds = StratifiedKFold(min(FOLDS, max(fewest, 2)), shuffle=True, random_state=0)
    limits = [stands] * len(reps)
    for rest, held_out in folds.split(kinds, kinds):
        proposed, _ = propose([reps[i] for i in rest], stands)
        for i in held_out:
            limits[i] = proposed
    return limits
