"""Nets that read something off a body as it is seen, learned from bodies whose truth is known.

The pose model's landmarks lie well in the picture, but its body is off in depth: seen from behind
bent legs come out straight, from the front straight legs bent. What it gets wrong depends on the
side it sees and on the pose, so it can be learned, and so can how far off a reading may be.
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

from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray

LIMIT = 4.0
"""Features further than so many standard deviations from their mean are held there: beyond what was
learned from, a net's answers run away."""


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
class Told:
    """One output over ``n`` frames, NaN where not seen.

    Attributes:
        value: ``(n,)`` the truth lies above it as often as below.
        below, above: ``(n,)`` in nine pictures of ten it lies no further off than so much; before
            whatever factors its user fits on film.
    """

    value: FloatArray
    below: FloatArray
    above: FloatArray


@dataclass(frozen=True)
class BodyNet:
    """Several perceptrons that are asked together; their mean is steadier than any of them.

    Each gives, for all outputs in turn, the value, the room below and the room above; the last two
    by way of log(1 + exp(x)), which keeps them above 0.

    Attributes:
        outputs: names of what is read. In the mirror left and right change places.
        features: ``(n, n_features)`` what it is read from.
        members: perceptrons from scaled features to scaled outputs.
        centre, spread: ``(n_features,)`` mean and standard deviation of the features.
        unit: ``(n_outputs,)`` what one means in each output.
        made_from: what it was fitted on and with; empty where that is not known.
    """

    outputs: tuple[str, ...]
    features: Callable[[BodyView], FloatArray]
    members: tuple[Perceptron, ...]
    centre: FloatArray
    spread: FloatArray
    unit: FloatArray
    made_from: Mapping[str, Any] = field(default_factory=dict)

    def read(self, view: BodyView) -> dict[str, Told]:
        """Every output in each frame, by name.

        The body and its mirror image are both asked, so that neither side is favoured.
        """
        straight = self._asked(view)
        mirrored = self._asked(view.mirrored)[:, :, self._twins]
        told = np.moveaxis((straight + mirrored) / 2, 2, 0)
        return {name: Told(*each) for name, each in zip(self.outputs, told, strict=True)}

    @cached_property
    def _twins(self) -> list[int]:
        return [self.outputs.index(twin(name)) for name in self.outputs]

    def _asked(self, view: BodyView) -> FloatArray:
        """``(3, n, n_outputs)``: value, room below, room above."""
        scaled = np.clip((self.features(view) - self.centre) / self.spread, -LIMIT, LIMIT)
        seen = np.logical_and.reduce(np.isfinite(scaled), axis=1)
        answers = []
        for member in self.members:
            value, below, above = np.split(member(scaled[seen]), 3, axis=1)
            answers.append([value, np.logaddexp(0, below), np.logaddexp(0, above)])
        outputs = np.full((3, len(seen), len(self.unit)), np.nan)
        outputs[:, seen] = np.mean(answers, axis=0) * self.unit
        return outputs


def twin(name: str) -> str:
    """The output's name in the mirror."""
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
    """Members, centre, spread, unit and ``made_from``: the opposite of :func:`arrays_of`."""
    members = [
        Perceptron(*(_layers(arrays, number, kind) for kind in ("weights", "offsets")))
        for number in range(int(arrays["members"]))
    ]
    centre, spread, unit = (arrays[name].astype(float) for name in ("centre", "spread", "unit"))
    made_from = json.loads(str(arrays["made_from"])) if "made_from" in arrays else {}
    return tuple(members), centre, spread, unit, made_from


def arrays_of(net: BodyNet) -> dict[str, npt.NDArray[Any]]:
    """A net as named arrays: plain numbers, so that reading them back runs no code.

    Weights in half precision: they are rounded far finer than bodies differ.
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


def _layers(
    arrays: dict[str, npt.NDArray[Any]], number: int, kind: str
) -> tuple[FloatArray, ...]:
    names = [name for name in arrays if name.startswith(f"{kind}_{number}_")]
    return tuple(arrays[f"{kind}_{number}_{layer}"].astype(float) for layer in range(len(names)))
