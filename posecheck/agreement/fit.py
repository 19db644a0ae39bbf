"""The limit that rulings imply, with its 90 % interval.

A coach who sees a fault where a measure is beyond his own limit answers yes with a chance that
climbs from 0 to 1 about it: a psychometric function, here a normal one whose width is the error bar
of each measure and the blur of his limit together, and which stops short of 0 and 1 by the share of
rulings that are slips. Limit, blur and slips are those of greatest likelihood, and the interval is
that of the profile likelihood.

Source: F. A. Wichmann and N. J. Hill, The psychometric function: I. Fitting, sampling, and goodness
of fit, Perception & Psychophysics 63, 2001 (slips, so that one far-off answer does not drag the
limit along); measures with error of their own in a probit: R. J. Carroll and others, Measurement
Error in Nonlinear Models, 2nd edition, 2006 (an interval that says where the truth lies is
their Berkson error); the interval: S. S. Wilks, The large-sample distribution of the likelihood
ratio, Annals of Mathematical Statistics 9, 1938. From memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.agreement.chance import Moving, crossings
from posecheck.agreement.tuning import BLURS, GRID, PADDING, SLIPS, SWING, UNMOVED
from posecheck.judging.odds import Odds, Term
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import LEVEL
from posecheck.measures.measure import Measure

_NEVER = 1e-12
"""Chance of what cannot be, so that its logarithm is a number.

Source: definition
"""


@dataclass(frozen=True)
class Answer:
    """What the coach says of one rep, of the rules that the limit to be fitted takes part in.

    Attributes:
        measures: of the rep, by key.
        there: the conditions of the rules whose fault he sees.
        not_there: of those whose fault he does not see.
        others: for a coach who sees some fault and does not say which, the chance that it is one
            of another rule; then ``there`` is of every rule that the limit takes part in.
    """

    measures: Mapping[str, Measure]
    there: tuple[Moving, ...] = ()
    not_there: tuple[Moving, ...] = ()
    others: float = 0.0

    def chance(self, limit: FloatArray, blur: FloatArray) -> FloatArray:
        """Of this answer; arguments as in :class:`~posecheck.judging.odds.Odds`."""
        odds = Odds(self.measures, limit, blur)
        not_there = _terms(self.not_there)
        none_of_these = odds.of_any(not_there)
        if not self.there:
            return 1 - none_of_these
        there = odds.of_any(_terms(self.there) + not_there) - none_of_these
        return 1 - (1 - there) * (1 - self.others)

    @property
    def ruled(self) -> list[float]:
        """Where the limit would stand just at each measure that it looks at."""
        conditions = (*self.there, *self.not_there)
        return [at for each in conditions for at in crossings(each, self.measures)]


@dataclass(frozen=True)
class Fit:
    """The limit that a set of answers implies.

    Attributes:
        value: the likeliest.
        low, high: 90 % interval, None at an end that the answers leave open.
        ruled: smallest and greatest value that was ruled on.
        p_as_it_stands: chance of answers that speak as loudly against the limit as it stands, were
            that the coach's own.
    """

    value: float
    low: float | None
    high: float | None
    ruled: tuple[float, float]
    p_as_it_stands: float


def turning(answers: Sequence[Answer]) -> list[Answer]:
    """The answers that turn on the limit, less the rules in which other limits decide.

    Chosen by what was measured, never by what the coach said, which would bias the fit.
    """
    ruled = _ruled(answers)
    if ruled is None:
        return []
    grid, sharp = _grid(ruled, -np.inf, np.inf), np.array(BLURS[0] * (ruled[1] - ruled[0]))

    def turns(rule: Moving, measures: Mapping[str, Measure]) -> bool:
        without = Odds(measures, grid, sharp).of_any(rule)
        if np.ptp(without) < SWING:
            return False
        keys = {part.fault.key for term in rule for part in term}
        if all(measures[key].value is not None for key in keys):
            return True
        with_it = Odds(measures, grid, sharp, if_missing=True).of_any(rule)
        return bool(np.abs(with_it - without).max() <= UNMOVED)

    kept = [
        Answer(
            each.measures,
            tuple(rule for rule in each.there if turns(rule, each.measures)),
            tuple(rule for rule in each.not_there if turns(rule, each.measures)),
            each.others,
        )
        for each in answers
    ]
    return [each for each in kept if each.there or each.not_there]


def fit_limit(
    answers: Sequence[Answer], stands: float, least: float, greatest: float
) -> Fit | None:
    """Fit one limit.

    Args:
        answers: those that turn on it.
        stands: its value now.
        least, greatest: between which the limit makes sense.

    Returns:
        None when all answers are at one value.
    """
    from scipy.stats import chi2

    ruled = _ruled(answers)
    if ruled is None:
        return None
    grid = _grid(ruled, least, greatest)
    profile = _profile(answers, ruled, np.append(grid, stands))
    profile, at_stands = profile[:-1], profile[-1]
    best = max(profile.max(), at_stands)
    inside = np.flatnonzero(profile >= best - chi2.ppf(LEVEL, df=1) / 2)
    if not len(inside):  # as it stands is likeliest, far from all that was ruled on
        return None
    first, last = int(inside[0]), int(inside[-1])
    return Fit(
        # Where the likelihood is level, as between answers that a limit parts cleanly, its middle.
        value=float(grid[profile >= profile.max() - 1e-6].mean()),
        low=None if first == 0 else float(grid[first]),
        high=None if last == len(grid) - 1 else float(grid[last]),
        ruled=ruled,
        p_as_it_stands=float(chi2.sf(2 * (best - at_stands), df=1)),
    )


def _profile(
    answers: Sequence[Answer], ruled: tuple[float, float], limit: FloatArray
) -> FloatArray:
    """Log-likelihood of each limit with the blur and the slips that suit it best."""
    blur = (np.array(BLURS) * (ruled[1] - ruled[0]))[:, None]
    chances = np.stack([each.chance(limit[None, :], blur) for each in answers])
    by_slips = [
        np.log(np.maximum(slip + (1 - 2 * slip) * chances, _NEVER)).sum(axis=0).max(axis=0)
        for slip in SLIPS
    ]
    return np.asarray(np.max(by_slips, axis=0), np.float64)


def _ruled(answers: Sequence[Answer]) -> tuple[float, float] | None:
    ruled = [at for each in answers for at in each.ruled]
    return (min(ruled), max(ruled)) if ruled and min(ruled) < max(ruled) else None


def _grid(ruled: tuple[float, float], least: float, greatest: float) -> FloatArray:
    beyond = PADDING * (ruled[1] - ruled[0])
    return np.linspace(max(ruled[0] - beyond, least), min(ruled[1] + beyond, greatest), GRID)


def _terms(conditions: Sequence[Moving]) -> tuple[Term, ...]:
    return tuple(term for condition in conditions for term in condition)
