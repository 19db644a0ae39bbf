"""The stance from a body as it is seen, by a small function learned from bodies of known stance.

The pose model's landmarks lie well in the picture, but its body is off in depth: seen from behind
bent legs come out straight, from the front straight legs bent. What it gets wrong depends on the
side it sees and on the pose, so it can be learned, and so can how far off a reading may be.
``models/fit_stance.py`` is the recipe, ``models/STANCE_CARD.md`` says how well it does on bodies it
has never seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
import numpy.typing as npt

from posecheck.measures.body_view import BodyView

FloatArray = npt.NDArray[np.float64]

OUTPUTS = (
    "left_knee_deg",
    "right_knee_deg",
    "knee_bend_deg",
    "trunk_lean_deg",
    "hip_drop",
    "hand_reach",
    "hand_height",
    "base_width",
)
"""What is told of a body. The bend of the straighter leg is told by itself: the smaller of two
uncertain angles would come out too small."""

LIMIT = 4.0
"""Features further than so many standard deviations from their mean are held there: beyond what was
learned from, a net's answers run away."""

_TWIN = {"left_knee_deg": "right_knee_deg", "right_knee_deg": "left_knee_deg"}
_MIRRORED = [OUTPUTS.index(_TWIN.get(name, name)) for name in OUTPUTS]

NET_FILE = "stance_net.npz"


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
            the factors of ``intervals.toml``, which make that true of the median over a window.
    """

    value: FloatArray
    below: FloatArray
    above: FloatArray


@dataclass(frozen=True)
class StanceNet:
    """Several perceptrons that are asked together; their mean is steadier than any of them.

    Each gives, for all outputs in turn, the value, the room below and the room above; the last two
    by way of log(1 + exp(x)), which keeps them above 0.

    Attributes:
        members: perceptrons from scaled features to scaled outputs.
        centre, spread: ``(n_features,)`` mean and standard deviation of the features.
        unit: ``(n_outputs,)`` what one means in each output.
    """

    members: tuple[Perceptron, ...]
    centre: FloatArray
    spread: FloatArray
    unit: FloatArray

    def read(self, view: BodyView) -> dict[str, Told]:
        """The stance in each frame, by the names of ``OUTPUTS``.

        The body and its mirror image are both asked, so that neither side is favoured.
        """
        straight = self._outputs(view)
        mirrored = self._outputs(view.mirrored)[:, :, _MIRRORED]
        told = np.moveaxis((straight + mirrored) / 2, 2, 0)
        return {name: Told(*each) for name, each in zip(OUTPUTS, told, strict=True)}

    def _outputs(self, view: BodyView) -> FloatArray:
        """``(3, n, n_outputs)``: value, room below, room above."""
        scaled = np.clip((view.features() - self.centre) / self.spread, -LIMIT, LIMIT)
        seen = np.logical_and.reduce(np.isfinite(scaled), axis=1)
        answers = []
        for member in self.members:
            value, below, above = np.split(member(scaled[seen]), 3, axis=1)
            answers.append([value, np.logaddexp(0, below), np.logaddexp(0, above)])
        outputs = np.full((3, len(seen), len(self.unit)), np.nan)
        outputs[:, seen] = np.mean(answers, axis=0) * self.unit
        return outputs


@cache
def default_net() -> StanceNet:
    """The net that comes with posecheck."""
    file = resources.files("posecheck.measures").joinpath(NET_FILE)
    with resources.as_file(file) as path, np.load(path, allow_pickle=False) as arrays:
        return net_from_arrays(dict(arrays))


def net_from_arrays(arrays: dict[str, npt.NDArray[np.floating]]) -> StanceNet:
    """The opposite of :func:`arrays_of`."""
    members = [
        Perceptron(*(_layers(arrays, number, kind) for kind in ("weights", "offsets")))
        for number in range(int(arrays["members"]))
    ]
    rest = (arrays[name].astype(float) for name in ("centre", "spread", "unit"))
    return StanceNet(tuple(members), *rest)


def arrays_of(net: StanceNet) -> dict[str, npt.NDArray[np.floating]]:
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
    return {
        name: np.asarray(values, dtype=np.float16 if name.startswith("weights") else np.float32)
        for name, values in arrays.items()
    }


def _layers(
    arrays: dict[str, npt.NDArray[np.floating]], number: int, kind: str
) -> tuple[FloatArray, ...]:
    names = [name for name in arrays if name.startswith(f"{kind}_{number}_")]
    return tuple(arrays[f"{kind}_{number}_{layer}"].astype(float) for layer in range(len(names)))
