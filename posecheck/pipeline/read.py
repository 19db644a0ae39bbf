"""From a clip's pictures to its players' landmarks: the costly half, kept from run to run.

    players followed ─ known ground ─ roles ─ landmarks

``observe.py`` goes on from here without looking at a picture. What this module imports decides
what kept landmarks are keyed by (``fingerprint.py``).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.camera.phone import PHONE
from posecheck.errors import NothingToMeasure
from posecheck.keypoints.clip_keypoints import ClipKeypoints, MaybeWalk
from posecheck.keypoints.landmark_tracks import (
    OpenPlayer,
    Wanted,
    around_arrival,
    read_keypoints,
    when_to_read,
)
from posecheck.maths.stopwatch import Stage, stage
from posecheck.pipeline.keys import keypoints_key
from posecheck.pipeline.known_ground import (
    KnownGround,
    known_ground,
    lens_of,
    point_in_picture,
    waiting_place,
)
from posecheck.pipeline.likely_cause import nobody_closes_out
from posecheck.pipeline.other_places import refuse_other_places
from posecheck.pipeline.other_runs import closeouts_s
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tuning import KEPT_AFTER_S
from posecheck.players.pointing import player_at
from posecheck.players.roles import NoDefender, choose_roles
from posecheck.players.roles_on_ground import NotPlaced, choose_roles_on_ground
from posecheck.players.track import Followed, PlayerTrack, Roles
from posecheck.players.tracker import follow_players
from posecheck.pose.model_files import CLOSE_VARIANT, close_model_location, pose_model_path
from posecheck.pose.open_readers import Readers
from posecheck.pose.reader import PlayerReader
from posecheck.practice.layout import INSIDE
from posecheck.practice.notes import PointedOut
from posecheck.practice.practice import Practice
from posecheck.store import keypoints as kept
from posecheck.video.as_stored import NotAsStored
from posecheck.video.clip import Clip
from posecheck.video.kept_frames import KeptFrames


def open_reader(settings: Settings) -> Readers:
    """Open the pose model that the settings name; the readers serve one clip after another.

    Raises:
        ModelError: it cannot be set up or opened.
    """
    return Readers(_model(settings), settings.threads)


def read_clip(
    clip: Clip,
    practice: Practice,
    settings: Settings,
    readers: Readers,
    frames: KeptFrames | None = None,
) -> tuple[ClipKeypoints, KnownGround]:
    """The players' landmarks, read from the film or from where they are kept.

    Args:
        clip: the film.
        practice: what it says of the clip decides between several who could be the defender.
        settings: of the run.
        readers: find people, and read players.
        frames: if the film is read, keeps all of them, or those around the probable arrival where
            all would take too much room.

    Returns:
        The landmarks, and the ground as far as known points give it.

    Raises:
        ClipError: the clip shows nobody who closes out, or somebody from another place.
        NotAsStored: the clip was opened as it is stored and decodes otherwise.
        RecordError: what is kept cannot be read, or it cannot be kept.
    """
    file = _kept_in(clip, practice, settings)
    if file is not None and file.exists():
        keypoints = kept.read_keypoints(file)
        if clip.as_stored and not np.array_equal(keypoints.defender.t_s, clip.t_s):
            raise NotAsStored(clip.path)
        return keypoints, known_ground(clip, practice, keypoints.camera_motion)
    if frames is not None:
        frames.want(np.ones(clip.n_frames, dtype=np.bool_), clip.picture_bytes)
    with stage(Stage.FOLLOWING):
        followed = follow_players(clip, readers, frames)
    with stage(Stage.GROUND):
        known = known_ground(clip, practice, followed.camera_motion)
    focal_px = PHONE.focal_px((clip.width_px, clip.height_px))
    runs_s = closeouts_s(followed, focal_px)
    refuse_other_places(clip.path, clip.t_s, followed.camera_motion, runs_s)
    roles = roles_of(clip, practice, followed, known)
    arrival_s = practice.notes_for(clip.path).arrival_s
    keypoints = landmarks_of(
        clip, roles, followed.camera_motion, settings, arrival_s, readers.player, frames
    )
    walk = maybe_walk(clip, followed, roles)
    keypoints = replace(keypoints, closeouts_s=runs_s, maybe_walk=walk)
    if file is not None:
        kept.forget_keypoints(file.parent, clip.digest)
        kept.write_keypoints(file, keypoints)
    return keypoints, known


def _kept_in(clip: Clip, practice: Practice, settings: Settings) -> Path | None:
    if settings.keypoints_folder is None:
        return None
    key = keypoints_key(settings, practice, clip.path)
    return kept.keypoints_path(settings.keypoints_folder, clip.digest, key)


def roles_of(clip: Clip, practice: Practice, followed: Followed, known: KnownGround) -> Roles:
    """Who of the players followed is the defender, and who the attacker.

    ``through_zoom`` is set only where no lens known makes it a run and the coach has not pointed
    out the defender.

    Raises:
        NothingToMeasure: nobody closes out.
    """
    layout, notes = practice.layout, practice.notes_for(clip.path)
    spot, stated = notes.spot, _stated_defender(clip, followed, notes.defender_at)
    inside = layout.points.get(INSIDE)
    known_zoom = _known_zoom(clip, practice, known)
    try:
        if known.ground is not None:
            with suppress(NotPlaced):
                return choose_roles_on_ground(
                    followed,
                    known.ground.camera,
                    start_xy_m=None if inside is None else np.array(inside),
                    waits_xy_m=waiting_place(practice, clip),
                    stated=stated,
                )
        roles = choose_roles(
            followed,
            start_px=point_in_picture(known, layout, INSIDE),
            spot_px=point_in_picture(known, layout, spot),
            focal_px=PHONE.focal_px((clip.width_px, clip.height_px)),
            stated=stated,
            zooms=_zooms(known_zoom),
        )
    except NoDefender as error:
        cause = nobody_closes_out(str(error), clip, followed)
        raise NothingToMeasure(clip.path, cause.fault, cause.remedy) from None
    through = roles.through_zoom
    by_known = through is not None and known_zoom is not None and through.zoom <= known_zoom
    return replace(roles, through_zoom=None) if by_known or stated else roles


def maybe_walk(clip: Clip, followed: Followed, roles: Roles) -> MaybeWalk | None:
    """The defender's run when only his steps can tell that it is one, and what is said of the clip
    if they do not; else None.

    Args:
        clip: the film.
        followed: everybody in it.
        roles: who is who.
    """
    run = roles.through_zoom
    if run is None:
        return None
    cause = nobody_closes_out(run.otherwise, clip, followed)
    return MaybeWalk(run.run_s, cause.fault, cause.remedy)


def _known_zoom(clip: Clip, practice: Practice, known: KnownGround) -> float | None:
    """How many times the usual focal length the clip's lens is, None when that is not known."""
    if known.ground is not None:
        return known.ground.camera.focal_px / PHONE.focal_px((clip.width_px, clip.height_px))
    lens = lens_of(clip, practice)
    if lens.source == "usual":
        return None
    return float(np.exp(lens.likely.median - PHONE.lens.likely.median))


def _zooms(known: float | None) -> list[float]:
    """How many times the usual focal length the lens may be.

    One that is known comes first. A phone held low shows little of a run along its line of sight,
    which then takes a longer lens than the true one to look like a run.
    """
    if known is None:
        return PHONE.zooms
    return [known, *(zoom for zoom in PHONE.zooms if zoom > known)]


def _stated_defender(clip: Clip, followed: Followed, at: PointedOut | None) -> PlayerTrack | None:
    """The defender whom the coach has pointed out, None when he has not.

    Raises:
        NothingToMeasure: nobody is followed there.
    """
    if at is None:
        return None
    found = player_at(followed, at)
    if found is None:
        raise NothingToMeasure(
            clip.path,
            f"nobody is followed where the defender was pointed out at {at.t_s:.2f} s",
            "point him out again with posecheck names, where he is in full view",
        )
    return found


def landmarks_of(
    clip: Clip,
    roles: Roles,
    motion: CameraMotion,
    settings: Settings,
    arrival_s: float | None = None,
    open_player: OpenPlayer = PlayerReader,
    frames: KeptFrames | None = None,
) -> ClipKeypoints:
    """The landmarks of the two, read from the film.

    Args:
        clip: the film.
        roles: who they are.
        motion: of the camera.
        settings: of the run.
        arrival_s: when the defender arrives, if the coach has stated it.
        open_player: opens a reader for a player.
        frames: keeps those around the probable arrival.

    Raises:
        ModelError: the pose model cannot be set up or opened.
    """
    defender, attacker = roles.defender, roles.attacker
    wanted = when_to_read(clip.t_s, defender, attacker, motion, arrival_s)
    close = _close_model(settings)
    due = around_arrival(clip.t_s, defender, attacker, motion, arrival_s)
    if close is not None and due is not None:
        wanted.append(Wanted(defender, due, close))
    if frames is not None and due is not None and due.any():
        after = [
            (clip.t_s >= t + KEPT_AFTER_S[0]) & (clip.t_s <= t + KEPT_AFTER_S[1])
            for t in clip.t_s[due]
        ]
        frames.want(np.logical_or.reduce(after), clip.picture_bytes)
    own, *others = read_keypoints(clip, wanted, _model(settings), open_player, frames)
    other = None if attacker is None else others.pop(0)
    return ClipKeypoints(own, other, motion, roles.how, others[0] if others else None)


def _model(settings: Settings) -> Path:
    return pose_model_path(settings.model, settings.models_folder, settings.reader)


def _close_model(settings: Settings) -> Path | None:
    if close_model_location(settings.model, settings.models_folder) is None:
        return None
    return pose_model_path(CLOSE_VARIANT, settings.models_folder, settings.reader)
