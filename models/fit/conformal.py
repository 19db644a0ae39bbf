"""Conformal factors: by how much to stretch an interval so that it holds in nine of ten.

- :func:`two_sided`: split-conformal quantiles of the errors either way, in units of the distance
  that a net leaves there (conformalised quantile regression, Romano, Patterson and Candès, NeurIPS
  2019, with the distance scaled rather than shifted; from memory).
- :func:`pooled`: readings of one group err together, so every group weighs the same, shared among
  its readings, and the factor is the quantile of what they ask for at ``cover (n + 1) / n`` of
  ``n`` groups (pooling of Dunn, Wasserman and Ramdas, Distribution-free prediction sets for
  two-layer hierarchical models, JASA 118, 2023; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import FloatArray


def two_sided(shares: FloatArray, cover: float) -> FloatArray:
    """Factors ``(2,)`` for the distances below and above a value.

    Args:
        shares: ``(n, 2)`` errors in units of the distance below and above, 0 on the other side.
        cover: share of the truths that is to lie inside; half of the rest beyond either end.

    On either side the ceil((n + 1) (1 + cover) / 2)-th smallest counts, the largest when there are
    too few.
    """
    ordered = np.sort(shares, axis=0)
    rank = int(np.ceil((len(ordered) + 1) * (1 + cover) / 2 - 1e-9))
    return np.asarray(ordered[min(rank, len(ordered)) - 1])


def pooled(factors: FloatArray, groups: Sequence[str], cover: float) -> float:
    """The factor that covers ``cover`` of what groups of readings ask for.

    Args:
        factors: ``(n,)`` the least factor that covers each reading's truth.
        groups: ``(n,)`` of each reading, such as the rep it is of.
        cover: share of the groups, their readings shared out.
    """
    n_groups = len(set(groups))
    level = min(cover * (n_groups + 1) / n_groups, 1.0)
    order = np.argsort(factors)
    reached = np.cumsum(group_weights(groups)[order])
    return float(factors[order][int(np.searchsorted(reached, level - 1e-9))])


def group_weights(groups: Sequence[str]) -> npt.NDArray[np.float64]:
    """``(n,)`` weights that sum to 1, the same for every group and alike within it."""
    _, which, count = np.unique(np.asarray(groups), return_inverse=True, return_counts=True)
    return np.asarray(1 / count[which] / len(count))
