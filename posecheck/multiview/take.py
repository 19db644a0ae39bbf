"""One rep as several phones filmed it: from films to what they saw together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.errors import NothingToMeasure
from posecheck.ground.ground import Ground
from posecheck.ground.tuning import CONE_SD_M, MARK_SD_SHARE, PAINT_SD_M
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.maths.arrays import FloatArray
from posecheck.maths.homography import mapped
from posecheck.maths.timeline import nearest_frame
from posecheck.multiview.calibrate import NoCalibration
from posecheck.multiview.measured import Measured, measure_together
from posecheck.multiview.phone import FieldPoints, Phone
from posecheck.multiview.set_up import SetUp, set_up
from posecheck.pipeline.estimated_ground import stature_of
from posecheck.pipeline.known_ground import KnownGround, waiting_place
from posecheck.pipeline.read import read_clip
from posecheck.pipeline.settings import Settings
from posecheck.pose.open_readers import Readers
from posecheck.pose.track import PoseTrack
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.practice.stature import Stature
from posecheck.video.clip import Clip, open_clip
from posecheck.video.sound import read_sound


@dataclass(frozen=True)
class Take:
    """One rep, filmed by several phones.

    Attributes:
        clips: one film of each phone.
        keypoints: read from each.
        set_up: the phones, calibrated.
        measured: the rep.
        remarks: sentences on marks that could not be used.
    """

    clips: tuple[Clip, ...]
    keypoints: tuple[ClipKeypoints, ...]
    set_up: SetUp
    measured: Measured
    remarks: tuple[str, ...]


def measure_take(
    films: Sequence[Path], practices: Sequence[Practice], settings: Settings, reader: Readers
) -> Take:
    """Read the films of one rep and measure it from all of them together.

    Args:
        films: one of each phone.
        practices: what is written beside each.
        settings: of the run.
        reader: finds people.

    Raises:
        ClipError: a film cannot be read, shows nobody who closes out, or the films do not fit
            together; says why.
    """
    clips, keypoints, grounds = [], [], []
    for film, practice in zip(films, practices, strict=True):
        clip = open_clip(film, practice.slow_motion_for(film))
        found, known = read_clip(clip, practice, settings, reader)
        clips.append(clip)
        keypoints.append(found)
        grounds.append(known)
    notes = [practice.notes_for(film) for film, practice in zip(films, practices, strict=True)]
    with_attacker = all(each.attacker is not None for each in keypoints)
    phones = [
        _phone(clip, read, known, practice.layout, note, with_attacker)
        for clip, read, known, practice, note in zip(
            clips, keypoints, grounds, practices, notes, strict=True
        )
    ]
    # Slowed film has its sound slowed, cut or taken away.
    sounds = [read_sound(clip.path) if clip.slow_motion == 1.0 else None for clip in clips]
    usual = next((each.stature for each in practices if each.stature is not None), None)
    statures = [_stature([note.defender for note in notes], usual)]
    if with_attacker:
        statures.append(_stature([note.attacker for note in notes], usual))
    try:
        phones_set_up = set_up(phones, sounds, statures)
    except NoCalibration as why:
        raise NothingToMeasure(films[0], why.fault, why.remedy) from None
    on_field = any(known.ground is not None and known.ground.on_field for known in grounds)
    named = next((i for i, note in enumerate(notes) if note.spot is not None), 0)
    measured = measure_together(
        phones_set_up,
        on_field=on_field,
        cone_xy_m=waiting_place(practices[named], clips[named]) if on_field else None,
        spot_side=practices[named].layout.side_of(notes[named].spot),
        reach_m=settings.reach_m,
    )
    if measured.rep is None:
        raise NothingToMeasure(
            films[0],
            "nobody arrives in the time that the films share",
            "let both phones film the whole rep",
        )
    remarks = tuple(fault for known in grounds for fault in known.faults)
    return Take(tuple(clips), tuple(keypoints), phones_set_up, measured, remarks)


def _phone(
    clip: Clip,
    read: ClipKeypoints,
    known: KnownGround,
    layout: Layout,
    notes: ClipNotes,
    with_attacker: bool,
) -> Phone:
    motion = read.camera_motion
    players = [_steadied(read.defender, motion)]
    if with_attacker and read.attacker is not None:
        players.append(_steadied(read.attacker, motion))
    size = clip.width_px, clip.height_px
    points = None
    if known.ground is not None:
        points = _field_points(known.ground, clip, motion, layout, notes)
    # With its folder: the films of a rep go by one name.
    name = f"{clip.path.parent.name}/{clip.path.name}"
    return Phone(name, size, tuple(players), points)


def _steadied(track: PoseTrack, motion: CameraMotion) -> PoseTrack:
    xy_px = motion.steadied(track.xy_px)
    xy_px[~motion.tracked] = np.nan
    return replace(track, xy_px=xy_px)


def _field_points(
    ground: Ground, clip: Clip, motion: CameraMotion, layout: Layout, notes: ClipNotes
) -> FieldPoints:
    """The marks; where posecheck found the points itself, those of the layout in the picture."""
    size = np.array([clip.width_px, clip.height_px])
    view = notes.view
    if view is not None and view.marks and view.size is not None:
        names = [name for name in view.marks if name in layout.points]
        scaled = (np.array([view.marks[n] for n in names]) + 0.5) * size / view.size - 0.5
        frame = nearest_frame(clip.t_s, view.time_s)
        xy_px = mapped(motion.to_reference[frame], scaled)
    else:
        names = list(layout.points)
        there = ground.camera.to_image(_on_ground(layout, names))
        inside = np.isfinite(there).all(axis=1) & ((there > 0) & (there < size)).all(axis=1)
        names = [names[i] for i in np.flatnonzero(inside)]
        xy_px = there[inside]
    xyz_m = _on_ground(layout, names)
    placed_m = np.array([CONE_SD_M if name in layout.cones else PAINT_SD_M for name in names])
    away_m = np.linalg.norm(xyz_m - ground.camera.centre_m, axis=1)
    sd_px = np.hypot(MARK_SD_SHARE * size.max(), placed_m * ground.camera.focal_px / away_m)
    return FieldPoints(ground.camera, xyz_m, xy_px, sd_px)


def _on_ground(layout: Layout, names: Sequence[str]) -> FloatArray:
    return np.array([[*layout.points[name], 0.0] for name in names]).reshape(-1, 3)


def _stature(stated: Sequence[Player | None], usual: Stature | None) -> Stature:
    known = (player for player in stated if player is not None and player.height_m is not None)
    return stature_of(next(known, None), usual)
