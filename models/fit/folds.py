"""Bodies dealt into folds, and nets for each: every body is read by nets that never saw it.

A fold can be a family of movement as well: what is read of it then comes from nets that never saw
such movement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from models.data.stills import Cast
from models.fit.perceptrons import Rows, Task, fit_perceptrons
from models.recipe import Fit, NetRecipe
from posecheck.body.net import BodyNet, twin
from posecheck.body.tuning import FEATURE_LIMIT_SDS
from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray


@dataclass(frozen=True)
class Kind:
    """A kind of net: what it reads from what, and how it is fitted.

    Attributes:
        name: for progress.
        outputs, features: of the net.
        net: its part of the recipe.
        rows: a cast's features ``(n, n_features)`` and truth ``(n, n_outputs)``, as fitted.
    """

    name: str
    outputs: tuple[str, ...]
    features: Callable[[BodyView], FloatArray]
    net: NetRecipe
    rows: Callable[[Cast], tuple[FloatArray, FloatArray]]


def deal(casts: Sequence[Cast], folds: int) -> list[list[Cast]]:
    """Casts dealt out one by one, so that every fold holds all movements."""
    return [list(casts[k::folds]) for k in range(folds)]


def families(casts: Sequence[Cast], albums: Mapping[str, Sequence[str]]) -> list[list[Cast]]:
    """Casts by family of movement, for those families of which there are any.

    Args:
        casts: of any albums.
        albums: of each family.

    Raises:
        ValueError: an album is in no family.
    """
    known = {album for family in albums.values() for album in family}
    without = {cast.album for cast in casts} - known
    if without:
        raise ValueError(f"recipe.toml: no family holds {', '.join(sorted(without))}")
    dealt = ([cast for cast in casts if cast.album in family] for family in albums.values())
    return [fold for fold in dealt if fold]


class Part(StrEnum):
    """What of a fit is wanted."""

    ALL = "all"
    NET = "net"
    """The net fitted on every cast, alone."""
    LEFT_OUT = "left-out"
    """What the cards need, alone: each fold read by a net of the others."""


def fit_folds(
    casts: Sequence[Cast], kind: Kind, fit: Fit, workers: int, part: Part = Part.ALL
) -> tuple[BodyNet | None, list[tuple[Cast, BodyNet]]]:
    """A net fitted on every cast; and each cast with a net fitted on the casts of other folds.

    Folds are families where the net's recipe names any. Nobody uses their nets but the cards: they
    are of a single member, fitted half as long.
    """
    rows = {cast.number: kind.rows(cast) for cast in casts}
    albums = kind.net.families
    folds = deal(casts, fit.folds) if albums is None else families(casts, albums)
    left_out = [[c for c in casts if c not in fold] for fold in folds]
    nets: list[BodyNet] = []
    if part is not Part.LEFT_OUT:
        nets += _fitted([list(casts)], rows, kind, fit, workers)
    if part is not Part.NET:
        if albums is not None:
            fit, kind = replace(fit, members=1), _half_as_long(kind)
        nets += _fitted(left_out, rows, kind, fit, workers)
    whole = None if part is Part.LEFT_OUT else nets.pop(0)
    return whole, [(cast, net) for net, fold in zip(nets, folds, strict=False) for cast in fold]


def _half_as_long(kind: Kind) -> Kind:
    return replace(kind, net=replace(kind.net, epochs=max(kind.net.epochs // 2, 1)))


def _fitted(
    sets: Sequence[Sequence[Cast]],
    rows: Mapping[int, tuple[FloatArray, FloatArray]],
    kind: Kind,
    fit: Fit,
    workers: int,
) -> list[BodyNet]:
    """A net for each set of casts."""
    scaled = [_scaled([rows[cast.number] for cast in each], kind.net) for each in sets]
    tasks = [
        Task(inputs, wanted, seed) for inputs, wanted, *_ in scaled for seed in range(fit.members)
    ]
    members = iter(fit_perceptrons(tasks, kind.net, fit, workers, kind.name))
    return [
        BodyNet(
            kind.outputs,
            kind.features,
            tuple(next(members) for _ in range(fit.members)),
            centre,
            spread,
            np.array(kind.net.unit),
        )
        for _, _, centre, spread in scaled
    ]


def _scaled(
    rows: Sequence[tuple[FloatArray, FloatArray]], net: NetRecipe
) -> tuple[Rows, Rows, FloatArray, FloatArray]:
    """Scaled features, truth in units, and the features' mean and standard deviation."""
    inputs, truth = (np.concatenate(part) for part in zip(*rows, strict=True))
    centre, spread = inputs.mean(axis=0), inputs.std(axis=0) + 1e-6
    scaled = np.clip((inputs - centre) / spread, -FEATURE_LIMIT_SDS, FEATURE_LIMIT_SDS)
    return scaled.astype(np.float32), (truth / net.unit).astype(np.float32), centre, spread


def mirrored(truth: FloatArray, outputs: Sequence[str]) -> FloatArray:
    """``(n, n_outputs)`` the truth of the bodies' mirror images."""
    return np.asarray(truth[:, [outputs.index(twin(name)) for name in outputs]])
