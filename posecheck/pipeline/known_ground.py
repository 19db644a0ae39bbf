"""The ground of a clip as far as known points of the field give it: marked by the coach, or found
in the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.camera.lens import USUAL_LENS, Lens, in_zooms, lens_of_35mm
from posecheck.camera.motion import CameraMotion
from posecheck.camera.tuning import CONTRADICTION_SDS
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
        return _from_marks(clip, notes.view, practice, motion)
    if not layout.points:
        return KnownGround()
    try:
        found = find_points(clip, layout, motion, notes.spot).ground
        return KnownGround(found, _contradiction(found, lens_of(clip, practice), "points found"))
    except PointsNotFound as why:
        fault = (
            f"Known points were looked for in the picture but not found: {why}; "
            "set them with posecheck points."
        )
        return KnownGround(faults=(fault,))


def lens_of(clip: Clip, practice: Practice) -> Lens:
    """What is known of a clip's lens at its beginning: stated by the coach, else tagged by the
    phone, else what is usual."""
    stated = practice.lens_for(clip.path)
    if stated is not None:
        return stated
    return USUAL_LENS if clip.focal_35mm is None else lens_of_35mm(clip.focal_35mm, "tag")


def _from_marks(clip: Clip, view: View, practice: Practice, motion: CameraMotion) -> KnownGround:
    size_px, lens = (clip.width_px, clip.height_px), lens_of(clip, practice)
    back = motion.to_reference[nearest_frame(clip.t_s, view.time_s)]
    try:
        marked = ground_from_marks(view, practice.layout, size_px)
        ground = marked.carried(back)
        contradiction = _contradiction(ground, lens, "marked points")
        if lens.source != "usual" and not contradiction:
            # Known of the beginning, the points are of a later moment: he may have zoomed.
            zoom = marked.camera.focal_px / ground.camera.focal_px
            ground = ground_from_marks(
                view, practice.layout, size_px, lens.at_zoom((1 / zoom, 1 / zoom))
            ).carried(back)
    except SettingsError as error:
        return KnownGround(faults=(f"The marked points were not used: {error}",))
    return KnownGround(ground, contradiction)


def _contradiction(ground: Ground, lens: Lens, points: str) -> tuple[str, ...]:
    """A sentence when points and what is stated or tagged want different lenses."""
    if lens.source == "usual" or ground.lens is None:
        return ()
    if not ground.lens.contradicts(lens, CONTRADICTION_SDS):
        return ()
    where, remedy = (
        ("practice.toml states", "correct the lens there, or the points")
        if lens.source == "stated"
        else ("the phone's own tag gives", "check the points, unless you zoomed")
    )
    return (
        f"The {points} show a lens of {in_zooms(ground.lens.focal)} where {where} "
        f"{in_zooms(float(np.exp(lens.likely.median)))}; the points were used: {remedy}.",
    )


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
