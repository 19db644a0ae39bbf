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
    def own(self) -> tuple[FloatArray, FloatArray]:
        """``(n,)`` values, and of each variance the part that is the rep's own."""
        return self.values, (1 - SHARED_ERROR) * self.variances

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
    return random_effects(*readings.own).and_error(readings.shared)


def random_effects(values: FloatArray, variances: FloatArray) -> Estimate:
    """Mean of at least two values ``(n,)`` that have these variances and differ besides."""
    return Spread.of([(values, variances)]).mean(values, variances)


@dataclass(frozen=True)
class Spread:
    """How much values differ from each other beyond their own errors.

    Groups that each have a mean of their own may share one (Borenstein, Hedges, Higgins, Rothstein,
    Introduction to Meta-Analysis, 2009, chapter 19, from memory): a few values hardly show it.

    Attributes:
        variance: between values of a group, by DerSimonian and Laird.
        scatter: by how much values scatter more than that and their errors say; at least 1.
        df: degrees of freedom.
    """

    variance: float
    scatter: float
    df: int

    @classmethod
    def of(cls, groups: Sequence[tuple[FloatArray, FloatArray]]) -> Spread:
        """From groups of values and their variances, ``(n,)`` each; single values say nothing."""
        groups = [group for group in groups if len(group[0]) > 1]
        df = sum(len(values) - 1 for values, _ in groups)
        beyond, room = -float(df), 0.0
        for values, variances in groups:
            weights = 1 / variances
            beyond += _scatter(values, weights)
            room += float(weights.sum() - weights @ weights / weights.sum())
        variance = max(0.0, beyond / room) if df else 0.0
        squares = sum(_scatter(values, 1 / (own + variance)) for values, own in groups)
        return cls(variance, max(1.0, squares / df) if df else 1.0, df)

    def mean(self, values: FloatArray, variances: FloatArray) -> Estimate:
        """The random-effects mean of some values with these variances."""
        weights = 1 / (variances + self.variance)
        mean = float(weights @ values / weights.sum())
        return Estimate(mean, (Part(self.scatter / float(weights.sum()), self.df),))

    @property
    def part(self) -> Part:
        """What one more value differs by."""
        return Part(self.variance, self.df)


def _scatter(values: FloatArray, weights: FloatArray) -> float:
    mean = weights @ values / weights.sum()
    return float(weights @ (values - mean) ** 2)


def columns(estimates: Sequence[Estimate]) -> tuple[FloatArray, FloatArray]:
    """Values and variances ``(n,)`` of estimates."""
    return (
        np.array([each.value for each in estimates], dtype=np.float64),
        np.array([max(each.variance, _LEAST_VARIANCE) for each in estimates], dtype=np.float64),
    )


def over_practices(estimates: Sequence[Estimate]) -> Estimate:
    """One estimate from those of several practices; a single one stays as it is."""
    return estimates[0] if len(estimates) == 1 else random_effects(*columns(estimates))
