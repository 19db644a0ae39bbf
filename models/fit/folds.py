"""Bodies dealt into folds, and nets for each: every body is read by nets that never saw it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

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


def fit_folds(
    casts: Sequence[Cast], kind: Kind, fit: Fit, workers: int, *, only_whole: bool = False
) -> tuple[BodyNet, list[tuple[Cast, BodyNet]]]:
    """A net fitted on every cast; and each cast with a net fitted on the casts of other folds.

    With ``only_whole`` no cast is read by a net of other folds.
    """
    rows = {cast.number: kind.rows(cast) for cast in casts}
    folds = [] if only_whole else deal(casts, fit.folds)
    sets = [list(casts), *([c for c in casts if c not in fold] for fold in folds)]
    scaled = [_scaled([rows[cast.number] for cast in each], kind.net) for each in sets]
    tasks = [
        Task(inputs, wanted, seed) for inputs, wanted, *_ in scaled for seed in range(fit.members)
    ]
    members = iter(fit_perceptrons(tasks, kind.net, fit, workers, kind.name))
    whole, *others = (
        BodyNet(
            kind.outputs,
            kind.features,
            tuple(next(members) for _ in range(fit.members)),
            centre,
            spread,
            np.array(kind.net.unit),
        )
        for _, _, centre, spread in scaled
    )
    return whole, [(cast, net) for net, fold in zip(others, folds, strict=True) for cast in fold]


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
