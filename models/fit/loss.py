"""What nets are fitted by: a value, and the quantiles on either side of it.

The loss of a quantile is Koenker and Bassett's (Regression quantiles, Econometrica 46, 1978).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from torch import Tensor


def quantile_loss(residual: Tensor, level: float) -> Tensor:
    """Loss of truth minus quantile: least on average where ``level`` of the truths lie below."""
    import torch

    return torch.maximum(level * residual, (level - 1) * residual)


def interval_loss(
    value: Tensor, below: Tensor, above: Tensor, truth: Tensor, *, cover: float, huber: float | None
) -> Tensor:
    """Mean loss of values and of the distances to the outer quantiles.

    Args:
        value: ``(n, n_outputs)``; the median is asked for, by the absolute error, unless ``huber``
            is given.
        below, above: ``(n, n_outputs)``; log(1 + exp(x)) of them, which is above 0, leads from the
            value to the quantiles with half of 1 - ``cover`` beyond them.
        truth: ``(n, n_outputs)``.
        cover: share of all truths that is to lie between the quantiles.
        huber: the mean is asked for instead, errors beyond this counting by their size alone
            (Huber, Robust estimation of a location parameter, Annals of Mathematical Statistics 35,
            1964).
    """
    from torch.nn.functional import huber_loss, softplus

    tail = (1 - cover) / 2
    off = truth - value
    middle = off.abs() if huber is None else huber_loss(value, truth, "none", huber) / huber
    # The quantiles do not pull at the value.
    low = quantile_loss(off.detach() + softplus(below), tail)
    high = quantile_loss(off.detach() - softplus(above), 1 - tail)
    return (middle + low + high).mean()
