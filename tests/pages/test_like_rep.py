"""Which clean rep stands below one that went wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result, make_rep_result

from posecheck.judging.asked import Asked
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call, judge
from posecheck.pages.like_rep import like_clean_rep, seen_at_arrival
from posecheck.pages.rep_view import RepView, view_rep
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.layout import Side
from posecheck.practice.notes import ClipNotes
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

ASKED = Asked(Plan.ALLEY, "right", "top-left", Side.LEFT)


def body(view_deg: float, trunk_px: float) -> np.ndarray:
    """Shoulders, hips and feet of somebody seen from a direction, by hand: 0 from the front."""
    xy = np.zeros((33, 2))
    turn = np.radians(view_deg)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        # Seen from the front his left is on the right.
        across = sign * 0.55 / 2 * trunk_px * np.cos(turn)
        for joint, up in (("shoulder", 2.0), ("hip", 1.0), ("heel", 0.0), ("foot_index", 0.0)):
            ahead = 0.3 * trunk_px * np.sin(turn) if joint == "foot_index" else 0.0
            xy[SKELETON.index(f"{side}_{joint}")] = across + ahead, -up * trunk_px
    return xy


def view(number: int, player: str, kind: str, view_deg: float = 80.0, px: float = 70.0) -> RepView:
    rep = make_rep_result(kind)
    shape = (len(rep.series.t_s), 33, 2)
    series = replace(rep.series, defender_xy_px=np.broadcast_to(body(view_deg, px), shape))
    path = Path(f"/practice/rep-{number}.mp4")
    result = make_clip_result(path, reps=(replace(rep, series=series),))
    practice = Practice(
        Path("/practice"), "T", notes={path.name: ClipNotes(defender=Player(number, player))}
    )
    verdict = judge(rep.measures, DEFAULT_THRESHOLDS, ASKED)
    judged = (result, result.reps[0], verdict)
    made = view_rep(number, practice, judged, DEFAULT_THRESHOLDS, Path("/nowhere"))
    return replace(made, player=player)


@pytest.mark.parametrize("view_deg", [-150.0, -90.0, -20.0, 15.0, 90.0, 160.0])
def test_the_view_is_read_off_the_body(view_deg: float) -> None:
    seen = seen_at_arrival(view(1, "Al", "upright", view_deg).rep)
    assert seen.view_deg == pytest.approx(view_deg, abs=0.5)
    assert seen.trunk_px == pytest.approx(70.0)


def test_his_own_goes_before_a_team_mates_seen_more_alike() -> None:
    bad = view(1, "Al", "upright", 80)
    own, mate = view(2, "Al", "breakdown", 60), view(3, "Bo", "breakdown", 80)
    assert [each.call for each in (bad, own, mate)] == [Call.FLAGGED, Call.CLEAR, Call.CLEAR]
    assert like_clean_rep(bad, [bad, own, mate]) is own
    assert like_clean_rep(bad, [bad, mate]) is mate


def test_among_several_the_one_seen_most_alike() -> None:
    bad = view(1, "Al", "upright", 80)
    far, near = view(2, "Bo", "breakdown", 50), view(3, "Cy", "breakdown", 85)
    assert like_clean_rep(bad, [bad, far, near]) is near


@pytest.mark.parametrize(
    "other",
    [
        view(2, "Al", "breakdown", -80),
        view(2, "Al", "breakdown", 170),
        view(2, "Al", "breakdown", 80, px=20),
        view(2, "Al", "upright", 80),
        view(2, "Al", "unclear", 80),
    ],
    ids=["facing the other way", "another side", "far smaller", "not clean", "can't tell"],
)
def test_none_when_none_is_like_it(other: RepView) -> None:
    bad = view(1, "Al", "upright", 80)
    assert like_clean_rep(bad, [bad, other]) is None


def test_never_the_rep_itself() -> None:
    good = view(1, "Al", "breakdown", 80)
    assert like_clean_rep(good, [good]) is None
    again = view(2, "Al", "breakdown", 80)
    assert like_clean_rep(good, [good, again]) is again


def test_a_rep_without_arrival_or_body_has_none() -> None:
    bad, good = view(1, "Al", "upright"), view(2, "Al", "breakdown")
    rep = replace(bad.rep, rep=replace(bad.rep.rep, arrival_s=None, source=None))
    assert like_clean_rep(replace(bad, rep=rep), [bad, good]) is None
    series = replace(bad.rep.series, defender_xy_px=bad.rep.series.defender_xy_px * np.nan)
    assert like_clean_rep(replace(bad, rep=replace(bad.rep, series=series)), [bad, good]) is None


def test_a_player_not_named_is_nobodys_other_self() -> None:
    bad = replace(view(1, "", "upright", 80), player="unknown 1", named=False)
    other = replace(view(2, "", "breakdown", 60), player="unknown 2", named=False)
    mate = view(3, "Bo", "breakdown", 80)
    assert like_clean_rep(bad, [bad, other, mate]) is mate
