"""What is usual of an age group, against growth charts."""

from __future__ import annotations

import pytest

from posecheck.practice.stature import AGE_GROUPS, of_a_team

# Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002, from memory: medians of
# stature in metres, boys and girls, at the middle of the group's ages; adults' at 20 years.
CHARTS_M = {
    "under-10": (1.31, 1.305),
    "under-12": (1.41, 1.41),
    "under-14": (1.525, 1.54),
    "high school": (1.735, 1.625),
    "adults": (1.77, 1.63),
}


@pytest.mark.parametrize("name", AGE_GROUPS)
def test_both_sexes_of_an_age_are_within_a_standard_deviation(name: str) -> None:
    boys, girls = CHARTS_M[name]
    usual = AGE_GROUPS[name]
    assert usual.mean_m == pytest.approx((boys + girls) / 2, abs=0.02)
    assert abs(boys - usual.mean_m) < usual.sd_m


def test_groups_grow_with_age_and_each_says_which_it_is() -> None:
    means = [each.mean_m for each in AGE_GROUPS.values()]
    assert means == sorted(means)
    assert all(name in each.known_by for name, each in AGE_GROUPS.items())


def test_a_team_of_one_height_is_surer_than_an_age_group_of_both_sexes() -> None:
    team = of_a_team(1.7)
    assert team.mean_m == 1.7
    assert team.sd_m < AGE_GROUPS["high school"].sd_m
