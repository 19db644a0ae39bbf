"""Nets that read a quantity from a body as it is seen, learned from bodies whose truth is known.

The pose model's landmarks lie well in the picture, but its depth is wrong: seen from behind bent
legs come out straight, from the front straight legs come out bent. Its errors depend on the side it
sees and on the pose, so they can be learned, and so can the interval around a reading.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib import resources
from typing import Any

import numpy as np
import numpy.typing as npt

from posecheck.body.tuning import FEATURE_LIMIT_SDS
from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL


@dataclass(frozen=True)
class Perceptron:
    """A multilayer perceptron with rectified hidden layers.

    Attributes:
        weights: for each layer ``(n_in, n_out)``.
        offsets: for each layer ``(n_out,)``.
    """

    weights: tuple[FloatArray, ...]
    offsets: tuple[FloatArray, ...]

    def __call__(self, inputs: FloatArray) -> FloatArray:
        """``(n, n_in)`` to ``(n, n_out)``."""
        values = inputs
        for number, (weight, offset) in enumerate(zip(self.weights, self.offsets, strict=True)):
            values = (np.maximum(values, 0.0) if number else values) @ weight + offset
        return values


@dataclass(frozen=True)
class Reading:
    """One output of a net over ``n`` frames, NaN where not seen.

    Attributes:
        value: ``(n,)`` the median: the truth lies above it as often as below.
        below, above: ``(n,)`` margins that reach down to the 5 % and up to the 95 % quantile, so
            that they hold the truth in nine pictures of ten; before the factors that its user fits
            on film.
    """

    value: FloatArray
    below: FloatArray
    above: FloatArray


@dataclass(frozen=True)
class BodyNet:
    """An ensemble of perceptrons; their mean varies less than any of them.

    Each gives, for all outputs in turn, the value, the margin below and the margin above; the last
    two through log(1 + exp(x)), which keeps them positive.

    Attributes:
        outputs: names of what is read. In the mirror left and right change places.
        features: gives the ``(n, n_features)`` inputs.
        members: perceptrons from scaled features to scaled outputs.
        centre, spread: ``(n_features,)`` mean and standard deviation of the features.
        unit: ``(n_outputs,)`` scale of each output.
        made_from: what it was fitted on and with; empty where that is not known.
    """

    outputs: tuple[str, ...]
    features: Callable[[BodyView], FloatArray]
    members: tuple[Perceptron, ...]
    centre: FloatArray
    spread: FloatArray
    unit: FloatArray
    made_from: Mapping[str, Any] = field(default_factory=dict)

    def read(self, view: BodyView) -> dict[str, Reading]:
        """Every output in each frame, by name.

        The body and its mirror image are both read and averaged, so that neither side is favoured.
        """
        each = (self._outputs(view) + self._outputs(view.mirrored)[..., self._twins]) / 2
        value, below, above = np.moveaxis(each.mean(axis=0), 2, 1)
        # Members disagree about bodies unlike those they learned from (B. Lakshminarayanan, A.
        # Pritzel and C. Blundell, Simple and scalable predictive uncertainty estimation using deep
        # ensembles, NeurIPS 2017; from memory).
        apart = SDS_ACROSS_LEVEL / 2 * each[:, 0].std(axis=0, ddof=min(len(each) - 1, 1)).T
        return {
            name: Reading(value[i], np.hypot(below[i], apart[i]), np.hypot(above[i], apart[i]))
            for i, name in enumerate(self.outputs)
        }

    @cached_property
    def _twins(self) -> list[int]:
        return [self.outputs.index(twin(name)) for name in self.outputs]

    def _outputs(self, view: BodyView) -> FloatArray:
        """``(n_members, 3, n, n_outputs)``: value, margin below, margin above."""
        scaled = (self.features(view) - self.centre) / self.spread
        scaled = np.clip(scaled, -FEATURE_LIMIT_SDS, FEATURE_LIMIT_SDS)
        seen = np.logical_and.reduce(np.isfinite(scaled), axis=1)
        by_member = []
        for member in self.members:
            value, below, above = np.split(member(scaled[seen]), 3, axis=1)
            by_member.append([value, np.logaddexp(0, below), np.logaddexp(0, above)])
        outputs = np.full((len(self.members), 3, len(seen), len(self.unit)), np.nan)
        outputs[:, :, seen] = np.asarray(by_member) * self.unit
        return outputs


def twin(name: str) -> str:
    """An output's name in the mirror."""
    side, _, part = name.partition("_")
    return {"left": f"right_{part}", "right": f"left_{part}"}.get(side, name)


def packaged(
    file: str, outputs: tuple[str, ...], features: Callable[[BodyView], FloatArray]
) -> BodyNet:
    """A net that comes with posecheck."""
    found = resources.files("posecheck.body").joinpath(file)
    with resources.as_file(found) as path, np.load(path, allow_pickle=False) as arrays:
        return BodyNet(outputs, features, *from_arrays(dict(arrays)))


def from_arrays(
    arrays: dict[str, npt.NDArray[Any]],
) -> tuple[tuple[Perceptron, ...], FloatArray, FloatArray, FloatArray, dict[str, Any]]:
    """Members, centre, spread, unit and ``made_from``: the inverse of :func:`arrays_of`."""
    members = [
        Perceptron(*(_layers(arrays, number, kind) for kind in ("weights", "offsets")))
        for number in range(int(arrays["members"]))
    ]
    centre, spread, unit = (arrays[name].astype(float) for name in ("centre", "spread", "unit"))
    made_from = json.loads(str(arrays["made_from"])) if "made_from" in arrays else {}
    return tuple(members), centre, spread, unit, made_from


def arrays_of(net: BodyNet) -> dict[str, npt.NDArray[Any]]:
    """A net as named arrays: plain numbers, so that reading them back runs no code.

    Weights are in half precision, whose rounding is far finer than bodies differ.
    """
    arrays = {"centre": net.centre, "spread": net.spread, "unit": net.unit}
    arrays["members"] = np.array(len(net.members))
    for number, member in enumerate(net.members):
        for kind in ("weights", "offsets"):
            layers: Sequence[FloatArray] = getattr(member, kind)
            for layer, values in enumerate(layers):
                arrays[f"{kind}_{number}_{layer}"] = values
    numbers: dict[str, npt.NDArray[Any]] = {
        name: np.asarray(values, dtype=np.float16 if name.startswith("weights") else np.float32)
        for name, values in arrays.items()
    }
    return numbers | {"made_from": np.array(json.dumps(net.made_from, sort_keys=True))}


def _layers(arrays: dict[str, npt.NDArray[Any]], number: int, kind: str) -> tuple[FloatArray, ...]:
    names = [name for name in arrays if name.startswith(f"{kind}_{number}_")]
    return tuple(arrays[f"{kind}_{number}_{layer}"].astype(float) for layer in range(len(names)))
