"""Means of reps that each have an error bar, and differences of such means.

A rep's reading errs by its own error bar, and reps differ from each other besides. Both are in a
random-effects mean: weights and spread by the method of moments of DerSimonian and Laird
(Meta-analysis in clinical trials, Controlled Clinical Trials 7, 1986), its standard error by
Hartung and Knapp (A refined method for the meta-analysis of controlled clinical trials with binary
outcome, Statistics in Medicine 20, 2001) with Student's t, since the plain one is too short for the
few reps a player has; never shorter than the plain one (Röver, Knapp, Friede, Hartung-Knapp-
Sidik-Jonkman approach and its modification, BMC Medical Research Methodology 15, 2015).

What an estimate rests on is kept in parts, each with its degrees of freedom; those of a sum follow
Welch and Satterthwaite (B. L. Welch, The generalization of Student's problem when several
different population variances are involved, Biometrika 34, 1947). All from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.habits.tuning import SHARED_ERROR
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import LEVEL, SDS_ACROSS_LEVEL
from posecheck.measures.measure import Measure

_LEAST_VARIANCE = 1e-12
"""A reading without any error bar still gets a finite weight.

Source: definition
"""


@dataclass(frozen=True)
class Part:
    """One source of error: its variance, and the degrees of freedom this is known with."""

    variance: float
    df: float


@dataclass(frozen=True)
class Estimate:
    """A value and the independent parts of its error."""

    value: float
    parts: tuple[Part, ...]

    @property
    def variance(self) -> float:
        """Of all parts together."""
        return sum(part.variance for part in self.parts)

    @property
    def df(self) -> float:
        """Degrees of freedom of :attr:`variance` by Welch and Satterthwaite; may be infinite."""
        uncertain = sum(part.variance**2 / part.df for part in self.parts)
        return self.variance**2 / uncertain if uncertain > 0 else math.inf

    @property
    def half(self) -> float:
        """Half the 90 % interval."""
        from scipy.special import stdtrit

        return float(stdtrit(self.df, (1 + LEVEL) / 2)) * math.sqrt(self.variance)

    @property
    def interval(self) -> tuple[float, float]:
        """90 % interval."""
        return self.value - self.half, self.value + self.half

    @property
    def p_value(self) -> float:
        """Two-sided, that the truth is zero."""
        from scipy.special import stdtr

        return float(2 * stdtr(self.df, -abs(self.value) / math.sqrt(self.variance)))

    def minus(self, other: Estimate) -> Estimate:
        """The difference of two estimates whose errors are independent."""
        return Estimate(self.value - other.value, self.parts + other.parts)

    def and_error(self, *parts: Part) -> Estimate:
        """The same with further error."""
        return Estimate(self.value, self.parts + parts)


@dataclass(frozen=True)
class Readings:
    """What some reps read of one measure.

    Attributes:
        values: ``(n,)``.
        variances: ``(n,)`` of each reading's own error, by its error bar.
    """

    values: FloatArray
    variances: FloatArray

    @classmethod
    def of(cls, measures: Sequence[Measure]) -> Readings:
        """The readings among the measures; missing ones are left out.

        An error bar's longer half counts: where a bar ends at zero the other half is cut off.
        """
        rows = [
            (each.value, max(each.high - each.value, each.value - each.low))
            for each in measures
            if each.value is not None and each.low is not None and each.high is not None
        ]
        values, halves = np.array(rows, dtype=np.float64).reshape(-1, 2).T
        return cls(values, np.maximum((halves / (SDS_ACROSS_LEVEL / 2)) ** 2, _LEAST_VARIANCE))

    @property
    def n(self) -> int:
        """How many."""
        return len(self.values)

    @property
    def own(self) -> Group:
        """The readings, each with the part of its error that is the rep's own."""
        return Group.around_a_mean(self.values, (1 - SHARED_ERROR) * self.variances)

    @property
    def shared(self) -> Part:
        """The part of the error that all reps of the practice have in common."""
        return Part(SHARED_ERROR * float(self.variances.mean()), math.inf)


def practice_mean(readings: Readings) -> Estimate:
    """The mean of a practice's reps, by those reps alone; of one rep that rep with its own error.

    Raises:
        ValueError: there are no readings.
    """
    if readings.n == 0:
        raise ValueError("no rep was seen")
    if readings.n == 1:
        return Estimate(float(readings.values[0]), (Part(float(readings.variances[0]), math.inf),))
    own = readings.own
    return Spread.of([own]).fit(own).and_error(readings.shared)


@dataclass(frozen=True)
class Group:
    """Values that scatter around a mean or a line.

    Attributes:
        values, variances: ``(n,)``, and of their own errors.
        design: ``(n, 1)`` ones for a mean; ``(n, 2)`` with a second column for a line over it.
    """

    values: FloatArray
    variances: FloatArray
    design: FloatArray

    @classmethod
    def around_a_mean(cls, values: FloatArray, variances: FloatArray) -> Group:
        """Values that scatter around their mean."""
        return cls(values, variances, np.ones((len(values), 1)))

    @classmethod
    def around_a_line(cls, estimates: Sequence[Estimate], at: FloatArray) -> Group:
        """Estimates that scatter around a line over ``at`` ``(n,)``."""
        mean = cls.of(estimates)
        return cls(mean.values, mean.variances, np.column_stack([mean.design, at - at.mean()]))

    @classmethod
    def of(cls, estimates: Sequence[Estimate]) -> Group:
        """Estimates that scatter around their mean."""
        values = np.array([each.value for each in estimates], dtype=np.float64)
        variances = np.array([each.variance for each in estimates], dtype=np.float64)
        return cls.around_a_mean(values, np.maximum(variances, _LEAST_VARIANCE))

    @property
    def df(self) -> int:
        """Degrees of freedom of the scatter; not positive when there is none to see."""
        return len(self.values) - int(self.design.shape[1])


@dataclass(frozen=True)
class Spread:
    """How much values differ from their group's mean or line beyond their own errors.

    Groups share one spread, as in Borenstein, Hedges, Higgins, Rothstein, Introduction to
    Meta-Analysis, 2009, chapter 19 (from memory): the few values of one group hardly show it.

    Attributes:
        variance: between values, by DerSimonian and Laird.
        scatter: by how much values scatter more than that and their errors say; at least 1.
        df: degrees of freedom.
    """

    variance: float
    scatter: float
    df: int

    @classmethod
    def of(cls, groups: Sequence[Group]) -> Spread:
        """From some groups; those too small to scatter say nothing."""
        groups = [group for group in groups if group.df > 0]
        df = sum(group.df for group in groups)
        if not df:
            return cls(0.0, 1.0, 0)
        plain = [_scatter(group, 0.0) for group in groups]
        beyond = sum(squares for squares, _ in plain) - df
        variance = max(0.0, beyond / sum(room for _, room in plain))
        squares = sum(_scatter(group, variance)[0] for group in groups)
        return cls(variance, max(1.0, squares / df), df)

    def fit(self, group: Group) -> Estimate:
        """The random-effects mean of a group, or the slope of its line (random-effects
        meta-regression; G. Knapp, J. Hartung, Statistics in Medicine 22, 2003, from memory)."""
        weighted, inverse = _weighted(group, self.variance)
        coefficients = inverse @ weighted.T @ group.values
        error = self.scatter * float(inverse[-1, -1])
        return Estimate(float(coefficients[-1]), (Part(error, self.df),))

    @property
    def part(self) -> Part:
        """What one more value differs by."""
        return Part(self.variance, self.df)


def _weighted(group: Group, between: float) -> tuple[FloatArray, FloatArray]:
    """The design times its weights ``(n, p)``, and the inverse of the normal equations."""
    weighted = group.design / (group.variances + between)[:, None]
    return weighted, np.asarray(np.linalg.inv(group.design.T @ weighted), np.float64)


def _scatter(group: Group, between: float) -> tuple[float, float]:
    """Weighted squares about the group's mean or line, and how fast they grow with its spread."""
    weighted, inverse = _weighted(group, between)
    weights = 1 / (group.variances + between)
    off = group.values - group.design @ (inverse @ weighted.T @ group.values)
    room = weights.sum() - float(np.trace(inverse @ weighted.T @ weighted))
    return float(weights @ off**2), float(room)
