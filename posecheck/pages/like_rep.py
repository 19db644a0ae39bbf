"""The clean rep to put below one that went wrong: seen from a like camera, his own if he has one.

Two reps look alike when the defender is seen from a like direction, facing the same way in the
picture, at a like size. All of that is read off his landmarks around arrival, so that it holds for
any phone, also one that pans.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.judging.verdict import Call
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.measures.result import RepResult
from posecheck.pages.rep_view import RepView
from posecheck.pages.tuning import LIKE_SIZE, LIKE_VIEW_DEG, WIDTH_PER_TRUNK
from posecheck.pose.skeleton import SKELETON
from posecheck.reps.rep import arrival_window

_LEFT, _RIGHT = (SKELETON.indices(f"{side}_shoulder", f"{side}_hip") for side in ("left", "right"))
_HEELS = SKELETON.indices("left_heel", "right_heel")
_TOES = SKELETON.indices("left_foot_index", "right_foot_index")
_SHOULDERS = SKELETON.indices("left_shoulder", "right_shoulder")
_HIPS = SKELETON.indices("left_hip", "right_hip")


@dataclass(frozen=True)
class Seen:
    """How a player is seen in the picture.

    Attributes:
        view_deg: 0 from the front, 180 from behind, 90 side-on and facing right, -90 side-on and
            facing left.
        trunk_px: length of his trunk in the picture.
    """

    view_deg: float
    trunk_px: float

    def unlike(self, other: Seen) -> float:
        """How much two differ: up to 1 they are alike, inf when one is not known."""
        turn = abs((self.view_deg - other.view_deg + 180.0) % 360.0 - 180.0) / LIKE_VIEW_DEG
        size = abs(math.log(self.trunk_px / other.trunk_px)) / math.log(LIKE_SIZE)
        return math.inf if math.isnan(turn + size) else max(turn, size)


def like_clean_rep(view: RepView, views: Sequence[RepView]) -> RepView | None:
    """The clear rep that a rep is best compared with; None when none was filmed alike.

    His own one goes before a team-mate's; among several the one seen most alike.

    Args:
        view: the rep; never its own answer.
        views: all reps of the page.
    """
    seen = {each.number: seen_at_arrival(each.rep) for each in (*views, view)}
    return _most_alike(view, views, seen)


def like_clean_reps(views: Sequence[RepView]) -> dict[int, RepView]:
    """The same for every rep that is not clear itself, by number; those without one are not in it.

    Looks at each rep only once.
    """
    seen = {view.number: seen_at_arrival(view.rep) for view in views}
    found = {
        view.number: _most_alike(view, views, seen) for view in views if view.call is not Call.CLEAR
    }
    return {number: like for number, like in found.items() if like is not None}


def _most_alike(
    view: RepView, views: Sequence[RepView], seen: Mapping[int, Seen]
) -> RepView | None:
    clear = [other for other in views if other.call is Call.CLEAR and not _same(other, view)]
    unlike = {other.number: seen[view.number].unlike(seen[other.number]) for other in clear}
    alike = [other for other in clear if unlike[other.number] <= 1.0]
    own = [other for other in alike if other.player == view.player]
    return min(own or alike, key=lambda other: unlike[other.number], default=None)


def seen_at_arrival(rep: RepResult) -> Seen:
    """How the defender is seen around arrival, NaN when he is not, or without arrival."""
    if rep.rep.arrival_s is None:
        return Seen(math.nan, math.nan)
    xy_px = rep.series.defender_xy_px[in_window(rep.series.t_s, *arrival_window(rep.rep.arrival_s))]
    trunk = np.linalg.norm(_middle(xy_px, _SHOULDERS) - _middle(xy_px, _HIPS), axis=-1)
    width = (_middle(xy_px, _LEFT) - _middle(xy_px, _RIGHT))[:, 0]
    ahead = (_middle(xy_px, _TOES) - _middle(xy_px, _HEELS))[:, 0]
    known = np.isfinite(trunk) & np.isfinite(width) & np.isfinite(ahead)
    if not known.any():
        return Seen(math.nan, math.nan)
    front = float(np.median(width[known] / trunk[known])) / WIDTH_PER_TRUNK
    view_deg = math.degrees(math.acos(max(-1.0, min(1.0, front))))
    return Seen(
        math.copysign(view_deg, float(np.median(ahead[known]))), float(np.median(trunk[known]))
    )


def _middle(xy_px: FloatArray, landmarks: list[int]) -> FloatArray:
    return np.asarray(xy_px[:, landmarks].mean(axis=1))


def _same(one: RepView, other: RepView) -> bool:
    return (one.result.clip_digest, one.rep.number) == (other.result.clip_digest, other.rep.number)
