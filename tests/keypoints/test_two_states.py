"""The sums of the chain against every sequence of states written out."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest

from posecheck.keypoints.two_states import COMBINATIONS, N_BEFORE, phases, second_state_share


@pytest.mark.parametrize("n", [5, 8])
def test_as_by_going_through_all_sequences(n: int) -> None:
    rng = np.random.default_rng(n)
    alone, change = rng.normal(size=(n, 1)), 0.7
    together = rng.uniform(0, 3, size=(n - N_BEFORE, 1, len(COMBINATIONS)))
    total, second = 0.0, np.zeros(n)
    for states in product((0, 1), repeat=n):
        cost = float(np.dot(states, alone[:, 0]))
        cost += change * sum(one != other for one, other in pairwise(states))
        for last in range(N_BEFORE, n):
            number = int("".join(map(str, states[last - N_BEFORE : last + 1])), 2)
            cost += together[last - N_BEFORE, 0, number]
        total += np.exp(-cost)
        second += np.exp(-cost) * np.array(states)
    np.testing.assert_allclose(second_state_share(alone, change, together)[:, 0], second / total)


def test_frames_are_dealt_out_at_high_rates_only() -> None:
    at_30, at_120 = np.arange(9) / 30, np.arange(9) / 120
    assert phases(at_30, 0.025) == [list(range(9))]
    assert phases(at_120, 0.024) == [[0, 3, 6], [1, 4, 7], [2, 5, 8]]
    # Read every tenth of a second after that, it stays one share.
    mixed = np.concatenate([at_120[:3], 1 + np.arange(4) / 10])
    assert phases(mixed, 0.024) == [[0], [1], [2, 3, 4, 5, 6]]
