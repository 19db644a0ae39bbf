"""The ground of a clip as far as known points of the field give it: marked by the coach, or found
in the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.errors import SettingsError
from posecheck.ground.find.points import PointsNotFound, find_points
from posecheck.ground.from_points import ground_from_marks
from posecheck.ground.ground import Ground
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import nearest_frame
from posecheck.practice.field import waiting_at
from posecheck.practice.layout import Layout
from posecheck.practice.notes import View
from posecheck.practice.practice import Practice
from posecheck.video.clip import Clip


@dataclass(frozen=True)
class KnownGround:
    """What known points give of a clip's ground.

    Attributes:
        ground: in the clip's reference frame, None when no points are marked or found.
        faults: sentences on what the practice says of the clip's field but cannot be used.
    """

    ground: Ground | None = None
    faults: tuple[str, ...] = ()


def known_ground(clip: Clip, practice: Practice, motion: CameraMotion) -> KnownGround:
    """The ground from marked points, or where none are marked from points found in the picture.

    Marks that cannot be used are not replaced by points found: the coach is to hear of them.

    Args:
        clip: the film.
        practice: its layout, and what it says of the clip.
        motion: of the camera through the clip.
    """
    notes, layout = practice.notes_for(clip.path), practice.layout
    if notes.view is not None and notes.view.marks:
        return _from_marks(clip, notes.view, layout, motion)
    if not layout.points:
        return KnownGround()
    try:
        return KnownGround(find_points(clip, layout, motion, notes.spot).ground)
    except PointsNotFound as why:
        fault = (
            f"Known points were looked for in the picture but not found: {why}; "
            "set them with posecheck points."
        )
        return KnownGround(faults=(fault,))


def _from_marks(clip: Clip, view: View, layout: Layout, motion: CameraMotion) -> KnownGround:
    try:
        marked = ground_from_marks(view, layout, (clip.width_px, clip.height_px))
    except SettingsError as error:
        return KnownGround(faults=(f"The marked points were not used: {error}",))
    frame = nearest_frame(clip.t_s, view.time_s)
    return KnownGround(marked.carried(motion.to_reference[frame]))


def point_in_picture(known: KnownGround, layout: Layout, name: str | None) -> FloatArray | None:
    """``(2,)`` pixels of a layout point in the steadied picture, None when it is not known."""
    where = layout.points.get(name or "")
    if known.ground is None or where is None:
        return None
    pixels = known.ground.camera.to_image(np.array([*where, 0.0]))
    return pixels if np.isfinite(pixels).all() else None


def waiting_place(practice: Practice, clip: Clip) -> FloatArray | None:
    """``(2,)`` where an attacker waits at the clip's cone on the field's axes, None when no cone is
    named."""
    cone = practice.layout.points.get(practice.notes_for(clip.path).spot or "")
    if cone is None:
        return None
    cone_xy_m = np.array(cone)
    return waiting_at(cone_xy_m) if practice.layout.goal else cone_xy_m
