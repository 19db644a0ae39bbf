"""Find known points of the field in a clip: cones, goal posts and painted lines, by themselves.

A fit is only given when it is the one fit: enough points, close together with the layout, and
clearly likelier than any other way of naming what is seen. Everything else is "not found".
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import comb, perm

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.errors import SettingsError
from posecheck.ground.find.background import FieldPicture, field_picture, motion_of
from posecheck.ground.find.blobs import find_spots
from posecheck.ground.find.cost import STRANGE_COST, Naming, shown
from posecheck.ground.find.matching import MIN_NAMED, name_spots
from posecheck.ground.find.paint import paint_evidence, paint_picture
from posecheck.ground.find.things import MAX_SPOTS, POSTS
from posecheck.ground.from_points import ground_from_marks
from posecheck.ground.ground import Ground
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import View
from posecheck.video.clip import Clip

CLEARLY = 7.0
"""The best fit must be likelier than the next one by this much, as a logarithm: a thousandfold."""

THAN_CHANCE = 14.0
"""And likelier by this much, beyond the number of ways to name as many cones, than that the cones
stand anywhere. Of some hundred drawn fields with cones at random the luckiest reached 13.5."""

MAX_WORST_SD = 3.5
"""No named thing may be further off than this many standard deviations."""

MAX_MISSING = 2
"""Cones that should be in the picture but are not."""

SAME_GROUND_M = 0.6
"""Fits that put the named things this near to one another on the ground are one and the same."""

SPOT_UNSEEN_COST = 5.0
"""A clip of a rep shows the cone it goes to, so a fit without it in the picture is unlikely."""


class PointsNotFound(Exception):
    """No fit, or no unambiguous one; the text is a clause that says why."""


@dataclass(frozen=True)
class FoundPoints:
    """Known points as found in a clip.

    Attributes:
        view: the points as marks in the clip's first frame; a turning camera may have seen some
            of them outside it.
        ground: that follows, for the clip's first frame.
        described: what was found, e.g. "4 cones found in the picture".
    """

    view: View
    ground: Ground
    described: str


def find_points(
    clip: Clip, layout: Layout, motion: CameraMotion | None = None, spot: str | None = None
) -> FoundPoints:
    """Look for the layout's points in a clip.

    Args:
        clip: the film.
        layout: where cones, goal and crease are.
        motion: of the camera, read from the clip when None.
        spot: the cone that this clip's rep goes to, when known.

    Raises:
        PointsNotFound: nothing that fits, or more than one way to fit it.
    """
    n_known = len(layout.cones) + sum(name in layout.points for name in POSTS)
    if n_known < MIN_NAMED:
        raise PointsNotFound(
            f"the layout has {n_known} cones and goal posts to look for, and {MIN_NAMED} are needed"
        )
    picture = field_picture(clip, motion or motion_of(clip))
    naming = choose_naming(picture, layout, spot)
    marks: dict[str, Point] = {}
    for name, xy in naming.xy_px.items():
        x, y = picture.to_frame(np.array(xy))
        marks[name] = (float(x), float(y))
    size = (clip.width_px, clip.height_px)
    view = View("found", size, float(clip.t_s[0]), marks)
    try:
        ground = ground_from_marks(view, layout, size)
    except SettingsError as error:
        raise PointsNotFound(f"what looks like the cones does not fit ({error})") from None
    described = f"{_counted(naming, layout)} found in the picture"
    how_well = ground.described.partition(", ")[2]
    return FoundPoints(view, replace(ground, described=f"{described}, {how_well}"), described)


def choose_naming(picture: FieldPicture, layout: Layout, spot: str | None = None) -> Naming:
    """The one way to name what stands in a picture.

    Raises:
        PointsNotFound: there is none, or not only one.
    """
    spots = find_spots(picture.rgb, picture.seen)
    n_seen = len(spots.foot_px) + min(len(spots.post_px), len(POSTS))
    if n_seen < MIN_NAMED:
        raise PointsNotFound(
            f"{n_seen or 'no'} cone-coloured thing{'' if n_seen == 1 else 's'} could be seen on "
            f"the ground, and {MIN_NAMED} are needed"
        )
    width, height = picture.frame_size_px
    middle = np.array([(width - 1) / 2, (height - 1) / 2]) - picture.origin_px
    paint = paint_picture(picture.rgb, picture.seen)
    spot_m = layout.points.get(spot or "")
    namings = []
    for naming in name_spots(spots, layout, (width, height), middle, picture.seen):
        cost = naming.cost - paint_evidence(paint, naming.camera, layout)
        if spot_m is not None:
            spot_px = naming.camera.to_image(np.array([*spot_m, 0.0]))
            cost += 0.0 if shown(picture.seen, spot_px) else SPOT_UNSEEN_COST
        namings.append(replace(naming, cost=cost))
    namings.sort(key=lambda naming: naming.cost)
    if not namings or not _sound(namings[0], len(spots.foot_px), layout):
        raise PointsNotFound("the coloured things on the ground do not lie as the layout says")
    best = namings[0]
    other = next((n for n in namings[1:] if not _same_ground(best, n)), None)
    if other is not None and other.cost - best.cost < CLEARLY:
        raise PointsNotFound("the cones that are seen fit the layout in more than one way")
    return best


def _sound(naming: Naming, n_spots: int, layout: Layout) -> bool:
    """Whether a fit is good by itself, whatever others there are."""
    n_tried = min(n_spots, MAX_SPOTS)
    n_cones = sum(name in layout.cones for name in naming.points)
    ways = comb(n_tried, n_cones) * perm(len(layout.cones), n_cones)
    than_chance = STRANGE_COST * n_tried - naming.cost - np.log(ways)
    return bool(
        than_chance >= THAN_CHANCE
        and naming.worst_sd <= MAX_WORST_SD
        and naming.n_missing <= MAX_MISSING
        and n_spots - n_cones <= len(naming.points)
    )


def _same_ground(one: Naming, other: Naming) -> bool:
    """Whether two fits put the things that the first one names at the same places."""
    seen = np.array(list(one.xy_px.values()))
    apart = np.linalg.norm(one.camera.to_ground(seen) - other.camera.to_ground(seen), axis=1)
    return bool(np.all(apart < SAME_GROUND_M))


def _counted(naming: Naming, layout: Layout) -> str:
    n_cones = sum(name in layout.cones for name in naming.points)
    n_posts = len(naming.points) - n_cones
    posts = f"{n_posts} goal post{'' if n_posts == 1 else 's'}"
    cones = f"{n_cones} cone{'' if n_cones == 1 else 's'}"
    return " and ".join(part for part, n in ((cones, n_cones), (posts, n_posts)) if n)
