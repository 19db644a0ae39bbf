"""Find known points of the field in a clip: cones, goal posts and painted lines.

An assignment is only given when it is unambiguous: enough points, in close agreement with the
layout, and clearly likelier than any other assignment. Everything else is "not found".
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import comb, perm

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.errors import SettingsError
from posecheck.ground.find.background import FieldPicture, field_picture, motion_of
from posecheck.ground.find.blobs import find_blobs
from posecheck.ground.find.candidates import POSTS
from posecheck.ground.find.cost import Assignment, shown
from posecheck.ground.find.matching import assignments
from posecheck.ground.find.paint import paint_evidence, paint_picture
from posecheck.ground.find.tuning import (
    CLEARLY,
    MAX_BLOBS,
    MAX_MISSING,
    MAX_WORST_SDS,
    MIN_ASSIGNED,
    SAME_GROUND_M,
    SPOT_UNSEEN_COST,
    THAN_CHANCE,
    UNEXPLAINED_COST,
)
from posecheck.ground.from_points import ground_from_marks
from posecheck.ground.ground import Ground
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import View
from posecheck.video.clip import Clip


class PointsNotFound(Exception):
    """No assignment, or no unambiguous one; the message is a clause that says why."""


@dataclass(frozen=True)
class FoundPoints:
    """Known points as found in a clip.

    Attributes:
        view: the points as marks in the clip's first frame; a turning camera may have seen some
            of them outside it.
        ground: calibrated by them, for the clip's first frame.
        described: what was found, such as "4 cones found in the picture".
    """

    view: View
    ground: Ground
    described: str


def find_points(
    clip: Clip, layout: Layout, motion: CameraMotion | None = None, spot: str | None = None
) -> FoundPoints:
    """Find the layout's points in a clip.

    Args:
        clip: the film.
        layout: where cones, goal and crease are.
        motion: of the camera, read from the clip when None.
        spot: the cone that this clip's rep goes to, when known.

    Raises:
        PointsNotFound: no assignment fits, or more than one does.
    """
    n_known = len(layout.cones) + sum(name in layout.points for name in POSTS)
    if n_known < MIN_ASSIGNED:
        raise PointsNotFound(
            f"the layout has {n_known} cones and goal posts to look for, "
            f"and {MIN_ASSIGNED} are needed"
        )
    picture = field_picture(clip, motion or motion_of(clip))
    chosen = choose_assignment(picture, layout, spot)
    marks: dict[str, Point] = {}
    for name, xy in chosen.xy_px.items():
        x, y = picture.to_frame(np.array(xy))
        marks[name] = (float(x), float(y))
    size = (clip.width_px, clip.height_px)
    view = View("found", size, float(clip.t_s[0]), marks)
    try:
        ground = ground_from_marks(view, layout, size)
    except SettingsError as error:
        raise PointsNotFound(f"what looks like the cones does not fit ({error})") from None
    described = f"{_counted(chosen, layout)} found in the picture"
    how_well = ground.described.partition(", ")[2]
    return FoundPoints(view, replace(ground, described=f"{described}, {how_well}"), described)


def choose_assignment(picture: FieldPicture, layout: Layout, spot: str | None = None) -> Assignment:
    """The one assignment of what a picture shows to the layout.

    Args:
        picture: of the whole clip.
        layout: where cones, goal and crease are.
        spot: the cone that the rep goes to, when known.

    Raises:
        PointsNotFound: there is none, or not only one.
    """
    blobs = find_blobs(picture.rgb, picture.seen)
    n_seen = len(blobs.foot_px) + min(len(blobs.post_px), len(POSTS))
    if n_seen < MIN_ASSIGNED:
        raise PointsNotFound(
            f"{n_seen or 'no'} cone-coloured thing{'' if n_seen == 1 else 's'} could be seen on "
            f"the ground, and {MIN_ASSIGNED} are needed"
        )
    width, height = picture.frame_size_px
    middle = np.array([(width - 1) / 2, (height - 1) / 2]) - picture.origin_px
    paint = paint_picture(picture.rgb, picture.seen)
    spot_m = layout.points.get(spot or "")
    found = []
    for each in assignments(blobs, layout, (width, height), middle, picture.seen):
        cost = each.cost - paint_evidence(paint, each.camera, layout)
        if spot_m is not None:
            spot_px = each.camera.to_image(np.array([*spot_m, 0.0]))
            cost += 0.0 if shown(picture.seen, spot_px) else SPOT_UNSEEN_COST
        found.append(replace(each, cost=cost))
    found.sort(key=lambda each: each.cost)
    if not found or not _sound(found[0], len(blobs.foot_px), layout):
        raise PointsNotFound("the coloured things on the ground do not lie as the layout says")
    best = found[0]
    other = next((each for each in found[1:] if not _same_ground(best, each)), None)
    if other is not None and other.cost - best.cost < CLEARLY:
        raise PointsNotFound("the cones that are seen fit the layout in more than one way")
    return best


def _sound(found: Assignment, n_blobs: int, layout: Layout) -> bool:
    """Whether an assignment is good by itself, whatever others there are."""
    n_tried = min(n_blobs, MAX_BLOBS)
    n_cones = sum(name in layout.cones for name in found.points)
    n_possible = comb(n_tried, n_cones) * perm(len(layout.cones), n_cones)
    than_chance = UNEXPLAINED_COST * n_tried - found.cost - np.log(n_possible)
    return bool(
        than_chance >= THAN_CHANCE
        and found.worst_sds <= MAX_WORST_SDS
        and found.n_missing <= MAX_MISSING
        and n_blobs - n_cones <= len(found.points)
    )


def _same_ground(one: Assignment, other: Assignment) -> bool:
    """Whether two assignments put the points that the first one assigns at the same places."""
    seen = np.array(list(one.xy_px.values()))
    apart = np.linalg.norm(one.camera.to_ground(seen) - other.camera.to_ground(seen), axis=1)
    return bool(np.all(apart < SAME_GROUND_M))


def _counted(found: Assignment, layout: Layout) -> str:
    n_cones = sum(name in layout.cones for name in found.points)
    n_posts = len(found.points) - n_cones
    posts = f"{n_posts} goal post{'' if n_posts == 1 else 's'}"
    cones = f"{n_cones} cone{'' if n_cones == 1 else 's'}"
    return " and ".join(part for part, n in ((cones, n_cones), (posts, n_posts)) if n)
