"""How a net that reads something off a body is fitted: perceptrons, medians and the room around."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from posecheck.body.net import BodyNet, Perceptron, twin
from posecheck.body.tuning import FEATURE_LIMIT_SDS
from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray

MEMBERS = 2
BATCH, DECAY = 256, 0.01
FAR = 4.0
"""In units of an output: errors further off no longer count by their square where a mean is asked
for; there something else was read than what was meant."""
COVER = 0.9
"""Share of the pictures whose truth is to lie in the room left, half of the rest on either side."""


@dataclass(frozen=True)
class Recipe:
    """What a net reads from what, and how it is fitted.

    Attributes:
        outputs, features: of the net.
        unit: ``(n_outputs,)`` about the spread of each output, so that all weigh alike.
        hidden: units of its layers.
        dropout, epochs, rate: of the fit.
        mean: the value is to be the truth's mean rather than its median: where readings are
            averaged over time, and the truth lies further off on one side than on the other.
    """

    outputs: tuple[str, ...]
    features: Callable[[BodyView], FloatArray]
    unit: FloatArray
    hidden: tuple[int, ...]
    dropout: float
    epochs: int
    rate: float = 2e-3
    mean: bool = False


def mirrored(truth: FloatArray, outputs: Sequence[str]) -> FloatArray:
    """``(n, n_outputs)`` the truth of the bodies' mirror images."""
    return truth[:, [outputs.index(twin(name)) for name in outputs]]


def fit_net(
    inputs: FloatArray,
    truth: FloatArray,
    recipe: Recipe,
    begin: BodyNet | None = None,
) -> BodyNet:
    """A net fitted on rows of features and truth, from scratch or from another net on.

    Features that the net to begin from does not know come after those it knows, and count for
    nothing at first.
    """
    import torch

    torch.set_num_threads(1)
    centre, spread = inputs.mean(axis=0), inputs.std(axis=0) + 1e-6
    if begin:
        known = len(begin.centre)
        centre[:known], spread[:known] = begin.centre, begin.spread
    scaled = np.clip((inputs - centre) / spread, -FEATURE_LIMIT_SDS, FEATURE_LIMIT_SDS)
    members = [
        _member(seed, scaled, truth / recipe.unit, recipe, begin.members[seed] if begin else None)
        for seed in range(MEMBERS)
    ]
    return BodyNet(recipe.outputs, recipe.features, tuple(members), centre, spread, recipe.unit)


def _member(
    seed: int,
    inputs: FloatArray,
    wanted: FloatArray,
    recipe: Recipe,
    begin: Perceptron | None,
) -> Perceptron:
    """One perceptron: medians by the absolute error, the room around them by quantile regression.

    The loss of a quantile is Koenker and Bassett's (Regression quantiles, Econometrica 46, 1978).
    """
    import torch
    from torch import nn
    from torch.nn.functional import huber_loss, softplus

    torch.manual_seed(seed)
    n_outputs, hidden = len(recipe.outputs), recipe.hidden
    x, y = (torch.tensor(rows, dtype=torch.float32) for rows in (inputs, wanted))
    layers: list[nn.Module] = []
    for before, after in pairwise((x.shape[1], *hidden)):
        layers += [nn.Linear(before, after), nn.ReLU(), nn.Dropout(recipe.dropout)]
    net = nn.Sequential(*layers, nn.Linear(hidden[-1], 3 * n_outputs))
    linear = [layer for layer in net if isinstance(layer, nn.Linear)]
    if begin:
        with torch.no_grad():
            for layer, weight, offset in zip(linear, begin.weights, begin.offsets, strict=True):
                layer.weight.zero_()
                layer.weight[:, : len(weight)] = torch.tensor(weight.T)
                layer.bias.copy_(torch.tensor(offset))
    tail = (1 - COVER) / 2

    def loss_of(rows: torch.Tensor) -> torch.Tensor:
        value, below, above = net(x[rows]).split(n_outputs, dim=1)
        off = y[rows] - value
        under, over = off.detach() + softplus(below), off.detach() - softplus(above)
        return (
            (huber_loss(value, y[rows], "none", FAR) / FAR if recipe.mean else off.abs())
            + torch.maximum(tail * under, (tail - 1) * under)
            + torch.maximum((1 - tail) * over, -tail * over)
        ).mean()

    steps = recipe.epochs * -(-len(x) // BATCH)
    optimizer = torch.optim.AdamW(net.parameters(), lr=recipe.rate, weight_decay=DECAY)
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimizer, recipe.rate, total_steps=steps, pct_start=0.1
    )
    for _ in range(recipe.epochs):
        for rows in torch.randperm(len(x)).split(BATCH):
            optimizer.zero_grad()
            loss_of(rows).backward()
            optimizer.step()
            schedule.step()
    return Perceptron(
        tuple(layer.weight.detach().numpy().T.astype(float) for layer in linear),
        tuple(layer.bias.detach().numpy().astype(float) for layer in linear),
    )
