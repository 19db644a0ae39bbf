"""Known points of the field, worked by hand."""

from __future__ import annotations

import numpy as np

from posecheck.practice.field import waiting_at


def test_an_attacker_waits_behind_his_cone_as_seen_from_the_goal() -> None:
    """A cone 5 m out along (3, 4): 0.4 m further is (3.24, 4.32)."""
    np.testing.assert_allclose(waiting_at(np.array([3.0, 4.0])), (3.24, 4.32))
