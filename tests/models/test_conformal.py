"""Conformal factors: by hand, and on made-up data whose law is known."""

from dataclasses import replace

import numpy as np
import pytest

from models.data.windows import Window
from models.fit.conformal import group_weights, pooled, two_sided
from models.fit.stance_intervals import factors_by_group, left_out_inside, shares
from posecheck.filming.conditions import GROUPS


def test_nine_errors_by_hand():
    """Below: the ceil(10 * 0.9) = 9th smallest of 9 where 80 % are wanted; above likewise."""
    errors = np.column_stack([np.arange(1.0, 10.0), np.arange(9.0, 0.0, -1.0) / 10])
    assert two_sided(errors, 0.8) == pytest.approx([9.0, 0.9])
    # Half are wanted: ceil(10 * 0.75) = 8th.
    assert two_sided(errors, 0.5) == pytest.approx([8.0, 0.8])
    # Too few to know a 95th percentile: the largest.
    assert two_sided(errors[:3], 0.9) == pytest.approx([3.0, 0.9])


def test_two_sided_factors_cover_what_was_asked_for():
    """Coverage of new data, over many fits: at least 90 %, and 2/(n + 1) more at most, give or take
    three standard errors of what is drawn here.

    Errors are normal, in units of distances that are off by half; each side has its own factor.
    """
    rng = np.random.default_rng(0)
    n, held = 99, []
    for _ in range(400):
        error = rng.normal(0.4, 1.0, n + 200)
        sides = np.column_stack([np.maximum(error, 0) / 2.0, np.maximum(-error, 0) / 0.5])
        factors = two_sided(sides[:n], 0.9)
        held.append(np.mean((sides[n:] <= factors).all(axis=1)))
    error_of_mean = np.std(held) / np.sqrt(len(held))
    assert 0.9 - 3 * error_of_mean <= np.mean(held) <= 0.9 + 2 / (n + 1) + 3 * error_of_mean


def test_groups_weigh_alike_however_many_readings_they_have():
    assert group_weights(["a", "b", "b", "b"]) == pytest.approx([1 / 2, 1 / 6, 1 / 6, 1 / 6])


def test_pooled_by_hand():
    """Of 9 groups 9/10 are wanted: level 0.9 * 10 / 9 = 1, so the largest; of 19 the 18th."""
    assert pooled(np.arange(1.0, 10.0), list("abcdefghi"), 0.9) == 9.0
    assert pooled(np.arange(1.0, 20.0), [str(n) for n in range(19)], 0.9) == 18.0


def test_pooled_factors_cover_new_groups():
    """Two-layer data: groups with a shift of their own, five readings each."""
    rng = np.random.default_rng(1)
    held = []
    for _ in range(300):
        shift = rng.normal(0, 1, 60)
        asked = np.abs(shift[:, None] + rng.normal(0, 0.5, (60, 5)))
        names = np.repeat(np.arange(40).astype(str), 5).tolist()
        factor = pooled(asked[:40].ravel(), names, 0.9)
        held.append(np.mean(asked[40:] <= factor))
    assert 0.895 <= np.mean(held) <= 0.95


def window(off, body=0, side="front", bent=True, below=2.0, above=4.0, measure="trunk_lean_deg"):
    return Window(
        "spread", "spread-000", body, "stance", measure, 0.0, 50.0 + off, below, above,
        50.0, bent, side, 20.0, 250.0,
    )  # fmt: skip


def test_an_error_counts_on_its_side_in_units_of_the_distance_there():
    assert shares(window(3.0)) == (1.5, 0.0)  # read too much: the truth lies below
    assert shares(window(-3.0)) == (0.0, 0.75)


def test_each_side_seen_has_factors_for_bent_and_for_straight_legs():
    few = [
        window(off, side=side, bent=bent)
        for side, most in (("front", 1.0), ("side", 2.0), ("behind", 3.0))
        for bent, scale in ((True, 1.0), (False, 2.0))
        for off in (scale * most, -scale * most)
    ]
    assert factors_by_group(few, 0.9) == {
        "front_bent": (0.5, 0.25),
        "front_straight": (1.0, 0.5),
        "side_bent": (1.0, 0.5),
        "side_straight": (2.0, 1.0),
        "behind_bent": (1.5, 0.75),
        "behind_straight": (3.0, 1.5),
    }
    with pytest.raises(ValueError, match="no window is side, bent"):
        factors_by_group([each for each in few if each.side != "side"], 0.9)


def test_the_bend_of_the_knees_has_one_pair_of_factors_and_closeouts_alone_count():
    reps = [
        window(off, side=side, bent=bent, measure="knee_bend_deg")
        for side in ("front", "side", "behind")
        for bent in (True, False)
        for off in (1.0, -2.0)
    ]
    run = replace(window(9.0, measure="knee_bend_deg"), collection="captured", movement="run")
    assert factors_by_group([*reps, run], 0.9) == dict.fromkeys(GROUPS, (0.5, 0.5))
    with pytest.raises(ValueError, match="no window is of a closeout"):
        factors_by_group([run], 0.9)


def test_a_body_left_out_is_held_against_the_others():
    """The worst of three bodies is outside the interval that the other two ask for."""
    windows = [
        window(off, body=body, side=side, bent=bent)
        for side in ("front", "side", "behind")
        for bent in (True, False)
        for body, off in ((1, 1.0), (2, 2.0), (3, 9.0))
    ]
    assert left_out_inside(windows, 0.9) == [True, True, False] * 6
