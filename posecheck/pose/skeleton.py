"""The body as the pose model sees it: 33 named landmarks, limbs, left and right."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt


class UnknownKeypoint(KeyError):
    """No keypoint has this name."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class Skeleton:
    """Names, limbs and left/right pairs of a set of keypoints.

    Attributes:
        names: of the keypoints, in the order of every array's keypoint axis.
        edges: pairs of keypoint numbers joined by a limb.
    """

    names: tuple[str, ...]
    edges: tuple[tuple[int, int], ...]

    def __post_init__(self) -> None:
        if len(set(self.names)) != len(self.names):
            raise ValueError("names: a keypoint is named twice")
        for name in self.names:
            side, _, part = name.partition("_")
            twin = {"left": f"right_{part}", "right": f"left_{part}"}.get(side)
            if twin is not None and twin not in self.names:
                raise ValueError(f"names: {name!r} has no twin {twin!r}")
        for edge in self.edges:
            if not all(0 <= end < len(self.names) for end in edge):
                raise ValueError(f"edges: {edge} is not a pair of the {len(self.names)} keypoints")

    def __len__(self) -> int:
        return len(self.names)

    def index(self, name: str) -> int:
        """Number of the keypoint with this name.

        Raises:
            UnknownKeypoint: there is none; the message suggests the nearest name.
        """
        try:
            return self.names.index(name)
        except ValueError:
            near = difflib.get_close_matches(name, self.names, n=1)
            hint = f", did you mean {near[0]!r}?" if near else ""
            raise UnknownKeypoint(f"unknown keypoint {name!r}{hint}") from None

    def indices(self, *names: str) -> list[int]:
        """Numbers of several keypoints, to index the keypoint axis with."""
        return [self.index(name) for name in names]

    @cached_property
    def pairs(self) -> tuple[tuple[int, int], ...]:
        """Numbers of every (left, right) pair of keypoints."""
        return tuple(
            (number, self.index(name.replace("left_", "right_", 1)))
            for number, name in enumerate(self.names)
            if name.startswith("left_")
        )

    @cached_property
    def mirror(self) -> npt.NDArray[np.intp]:
        """``(n_keypoints,)`` order in which left and right have changed places.

        ``xy[:, skeleton.mirror]`` relabels the keypoints of a mirrored picture.
        """
        order = np.arange(len(self))
        for left, right in self.pairs:
            order[left], order[right] = right, left
        return order


def _edges(names: tuple[str, ...], chains: str) -> tuple[tuple[int, int], ...]:
    edges: list[tuple[int, int]] = []
    for chain in chains.split("\n"):
        numbers = [names.index(name) for name in chain.split()]
        edges += pairwise(numbers)
    return tuple(edges)


_NAMES = (
    *("nose", "left_eye_inner", "left_eye", "left_eye_outer"),
    *("right_eye_inner", "right_eye", "right_eye_outer"),
    *("left_ear", "right_ear", "left_mouth", "right_mouth"),
    *("left_shoulder", "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist"),
    *("left_pinky", "right_pinky", "left_index", "right_index", "left_thumb", "right_thumb"),
    *("left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle"),
    *("left_heel", "right_heel", "left_foot_index", "right_foot_index"),
)

SKELETON = Skeleton(
    _NAMES,
    _edges(
        _NAMES,
        "left_ear left_eye_outer left_eye left_eye_inner nose\n"
        "nose right_eye_inner right_eye right_eye_outer right_ear\n"
        "left_mouth right_mouth\n"
        "left_shoulder right_shoulder right_hip left_hip left_shoulder\n"
        "left_shoulder left_elbow left_wrist left_pinky left_index left_wrist left_thumb\n"
        "right_shoulder right_elbow right_wrist right_pinky right_index right_wrist right_thumb\n"
        "left_hip left_knee left_ankle left_heel left_foot_index left_ankle\n"
        "right_hip right_knee right_ankle right_heel right_foot_index right_ankle",
    ),
)
"""The pose model's 33 landmarks (the published order of the BlazePose topology)."""
