"""Which of two states each frame is in, when what is seen of five frames in a row depends on it.

A hidden Markov model of two states and fourth order, solved by the usual forward and backward sums
(L. R. Rabiner, Proceedings of the IEEE 77, 1989, section III; from memory). Four frames before one
are looked at so that two that were read badly can be passed over.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from posecheck.keypoints.tuning import FAR_WEIGHT, LANDMARK_NOISE_M, NEXT_WEIGHT
from posecheck.maths.arrays import FloatArray

N_BEFORE = 4
"""Frames before one that count.

Source: definition (of the order of the chain)
"""
_N_STATES = 2**N_BEFORE
"""Source: definition"""
COMBINATIONS = (np.arange(2 * _N_STATES)[:, None] >> np.arange(N_BEFORE + 1)[::-1]) & 1
"""``(32, 5)`` every combination of the states of five frames in a row, the latest frame last."""


def second_state_share(alone: FloatArray, change: float, together: FloatArray) -> FloatArray:
    """Probability of the second state in every frame.

    All costs are negative logarithms of probabilities.

    Args:
        alone: ``(n, k)`` cost of the second state of each of ``k`` things by itself.
        change: cost of a change from one state to the other between two frames.
        together: ``(n - 4, k, 32)`` cost of every one of ``COMBINATIONS`` of the states of a frame
            and the four before it.

    Returns:
        ``(n, k)``.
    """
    n, k = alone.shape
    states = np.arange(_N_STATES)
    # A state of the chain is that of four frames, the latest the lowest bit.
    bits = COMBINATIONS[:_N_STATES, 1:]
    after = np.stack([(2 * states) % _N_STATES, (2 * states + 1) % _N_STATES], axis=1)
    step = -together.reshape(n - N_BEFORE, k, _N_STATES, 2)
    step = step - change * (bits[:, -1:] != np.arange(2))
    step[..., 1] -= alone[N_BEFORE:, :, None]
    forward = np.empty((n - N_BEFORE + 1, k, _N_STATES))
    forward[0] = -(alone[:N_BEFORE].T @ bits.T) - change * np.abs(np.diff(bits)).sum(axis=1)
    for i in range(n - N_BEFORE):
        moved = (forward[i][..., None] + step[i]).reshape(k, 2, _N_STATES // 2, 2)
        forward[i + 1] = np.logaddexp(moved[:, 0], moved[:, 1]).reshape(k, _N_STATES)
    backward = np.zeros_like(forward)
    for i in range(n - N_BEFORE)[::-1]:
        ahead = step[i] + backward[i + 1][:, after]
        backward[i] = np.logaddexp(ahead[..., 0], ahead[..., 1])
    both = forward + backward
    both = np.exp(both - both.max(axis=2, keepdims=True))
    both /= both.sum(axis=2, keepdims=True)
    return np.concatenate([(both[0] @ bits).T, both[1:] @ bits[:, -1]])


class Triple:
    """Three of five frames in a row, whose places should lie on an even path.

    Attributes:
        places: of the three among the five.
        weight: that its unevenness has.
    """

    def __init__(self, places: tuple[int, int, int], t_s: FloatArray) -> None:
        self.places = places
        n = len(t_s) - N_BEFORE
        self._frames = [slice(place, place + n) for place in places]
        first, second, third = (t_s[frames] for frames in self._frames)
        self._ratio = (third - second) / (second - first)
        self._noise_m = LANDMARK_NOISE_M * np.sqrt(1 + (1 + self._ratio) ** 2 + self._ratio**2)
        self._s2 = (third - second) * (third - first) / 2
        in_a_row = places == (N_BEFORE - 2, N_BEFORE - 1, N_BEFORE)
        self.weight = NEXT_WEIGHT if in_a_row else FAR_WEIGHT

    def three(self, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The values ``(n, ...)`` in the three frames, for every five in a row."""
        first, second, third = (values[frames] for frames in self._frames)
        return first, second, third

    def off_path(self, first: FloatArray, second: FloatArray, third: FloatArray) -> FloatArray:
        """How far the third lies from where steady motion would bring it after the other two."""
        ratio = self._ratio.reshape(-1, *[1] * (first.ndim - 1))
        off: FloatArray = third - second - ratio * (second - first)
        return off

    def variance_m2(self, acceleration_mps2: FloatArray | float) -> FloatArray:
        """``(n - 4, k)`` of :meth:`off_path`, from noise and from acceleration."""
        moved_m = np.asarray(acceleration_mps2) * self._s2[:, None]
        return np.asarray(self._noise_m[:, None] ** 2 + moved_m**2)


def triples(t_s: FloatArray) -> Iterator[Triple]:
    """Every three of five frames in a row that the latest frame belongs to."""
    for first, second in combinations(range(N_BEFORE), 2):
        yield Triple((first, second, N_BEFORE), t_s)


def phases(t_s: FloatArray, least_step_s: float) -> list[list[int]]:
    """Frames dealt out so that within each share none is nearer to the next than a least step.

    At high frame rates five frames in a row would show too little movement.
    """
    shares: list[list[int]] = []
    for i, now_s in enumerate(t_s):
        free = [share for share in shares if now_s - t_s[share[-1]] >= least_step_s]
        if free:
            max(free, key=lambda share: share[-1]).append(i)
        else:
            shares.append([i])
    return shares
