"""What a clip shows, between pixels and measures: stance and place of its players over time.

players followed ─ known ground ─ roles ─ landmarks ─ ground ─ body views ─ places ─ stance
\\________________ read.py, kept __________________/   \\__________ from here on __________/
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from posecheck.body.foot_sight import read_feet
from posecheck.body.hip_height import hip_height
from posecheck.body.kinematic import KinematicStance, kinematic_stance
from posecheck.body.stance_track import StanceTrack, stance_track
from posecheck.body.step_rate import bounce_rate
from posecheck.body.swing import swings_as_in_a_run
from posecheck.body.view import BodyView, body_view
from posecheck.camera.motion import CameraMotion
from posecheck.errors import NothingToMeasure
from posecheck.ground.at_cone import at_cone
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack, track_on_ground
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.keypoints.smoothing import smooth_track
from posecheck.keypoints.tuning import ATTACKER_SPACING_S
from posecheck.maths.arrays import FloatArray
from posecheck.maths.stopwatch import Stage, stage
from posecheck.pipeline.estimated_ground import estimated_ground, rep_of
from posecheck.pipeline.known_ground import KnownGround, known_ground, lens_of, waiting_place
from posecheck.pipeline.read import read_clip
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tuning import GROUND_SD_M, LEAST_RUN_STEPS_HZ
from posecheck.pose.open_readers import Readers
from posecheck.pose.track import PoseTrack
from posecheck.practice.practice import Practice
from posecheck.practice.tuning import BEHIND_CONE_SD_M
from posecheck.video.clip import Clip
from posecheck.video.kept_frames import KeptFrames
from posecheck.video.opening import use_clip


@dataclass(frozen=True)
class Observed:
    """A clip between pixels and measures: its players' landmarks, stance and place over time.

    Attributes:
        clip: the film.
        motion: of the camera.
        defender, attacker: smoothed landmarks; attacker None when nobody stands there.
        closeouts_s: start and end of every run of anybody's that ends at one who stands.
        defender_close: the defender's by the heavy model, smoothed, around the probable arrival
            and NaN elsewhere; None when that model did not read him.
        ground: where metres come from.
        defender_ground, attacker_ground: places on it.
        stance: the defender's.
        roles: how the two were recognised.
        cone_xy_m: ``(2,)`` where an attacker waits at the named cone, None when not known.
        faults: sentences on what the practice says of the clip but cannot be used.
        frames: decoded frames around the arrival, if they were kept.
    """

    clip: Clip
    motion: CameraMotion
    defender: PoseTrack
    attacker: PoseTrack | None
    ground: Ground
    defender_ground: GroundTrack
    attacker_ground: GroundTrack | None
    stance: StanceTrack
    roles: str
    cone_xy_m: FloatArray | None
    faults: tuple[str, ...]
    closeouts_s: tuple[tuple[float, float], ...] = ()
    defender_close: PoseTrack | None = None
    frames: KeptFrames | None = None


def observe_clip(path: Path, practice: Practice, settings: Settings, readers: Readers) -> Observed:
    """Read a clip up to where measuring begins.

    Raises:
        ClipError: the clip cannot be read, or shows nobody who closes out.
        RecordError: kept landmarks cannot be read or written.
    """

    def observed(clip: Clip) -> Observed:
        frames = KeptFrames()
        keypoints, known = read_clip(clip, practice, settings, readers, frames)
        with stage(Stage.STANCE):
            return replace(_observed(clip, keypoints, known, practice), frames=frames)

    return use_clip(path, practice.slow_motion_for(path), observed)


def observe_keypoints(clip: Clip, keypoints: ClipKeypoints, practice: Practice) -> Observed:
    """Go on from landmarks that were read before, whatever the practice said of the clip then.

    Raises:
        ClipError: the players are nowhere seen on the ground, or the defender only walks.
    """
    known = known_ground(clip, practice, keypoints.camera_motion)
    return _observed(clip, keypoints, known, practice)


def _observed(
    clip: Clip, keypoints: ClipKeypoints, known: KnownGround, practice: Practice
) -> Observed:
    motion, close = keypoints.camera_motion, keypoints.defender_close
    defender = smooth_track(keypoints.defender)
    _refuse_walk(clip, keypoints, motion.steadied(defender.xy_px))
    attacker = keypoints.attacker and smooth_track(keypoints.attacker, spacing_s=ATTACKER_SPACING_S)
    with stage(Stage.GROUND):
        ground = known.ground or _from_players(clip, practice, defender, attacker, motion)
    view = body_view(defender, ground.camera, motion)
    place = _place(defender, view, motion, ground)
    again = smooth_track(close, like=defender) if close else None
    steady_px = motion.steadied(defender.xy_px)
    hips = hip_height(ground.camera, steady_px, place.xy_m, place.sd_m)
    cone_xy_m = waiting_place(practice, clip) if known.ground else None
    return Observed(
        clip=clip,
        motion=motion,
        defender=defender,
        attacker=attacker,
        ground=ground,
        defender_ground=place,
        attacker_ground=_attacker_place(attacker, motion, ground, cone_xy_m) if attacker else None,
        stance=stance_track(
            defender,
            view,
            hips,
            close=body_view(again, ground.camera, motion) if again else None,
            fit=_fit(again, place, motion, ground) if again else None,
        ),
        roles=keypoints.roles,
        cone_xy_m=cone_xy_m,
        faults=known.faults,
        closeouts_s=keypoints.closeouts_s,
        defender_close=again,
    )


def _refuse_walk(clip: Clip, keypoints: ClipKeypoints, steady_px: FloatArray) -> None:
    """Refuse a run that may be a walk, unless the defender's steps are those of a run.

    A run of a second or less may be too short to count steps; how he swings his legs then tells.
    Metres from players alone take it that the fastest runs, so nothing later would notice.
    """
    maybe = keypoints.maybe_walk
    if maybe is None:
        return
    steps = bounce_rate(clip.t_s, steady_px, maybe.run_s)
    if steps is None:
        runs = swings_as_in_a_run(clip.t_s, steady_px, maybe.run_s)
    else:
        runs = steps.hz >= LEAST_RUN_STEPS_HZ
    if not runs:
        raise NothingToMeasure(clip.path, maybe.fault, maybe.remedy)


def _fit(
    close: PoseTrack, place: GroundTrack, motion: CameraMotion, ground: Ground
) -> KinematicStance:
    return kinematic_stance(
        close,
        ground.camera,
        motion,
        (place.xy_m, place.sd_m),
        ground_sd_m=GROUND_SD_M[ground.source],
    )


def _from_players(
    clip: Clip,
    practice: Practice,
    defender: PoseTrack,
    attacker: PoseTrack | None,
    motion: CameraMotion,
) -> Ground:
    notes = practice.notes_for(clip.path)
    players = [(defender, notes.defender)]
    if attacker is not None:
        players.append((attacker, notes.attacker))
    size_px, lens = (clip.width_px, clip.height_px), lens_of(clip, practice)
    rep = rep_of(practice, notes.spot)
    ground = estimated_ground(players, motion, size_px, lens, rep, practice.stature)
    if ground is None:
        raise NothingToMeasure(
            clip.path,
            "the defender's feet are nowhere seen on the ground",
            "film so that the whole body is in the picture",
        )
    return ground


def _attacker_place(
    attacker: PoseTrack, motion: CameraMotion, ground: Ground, cone_xy_m: FloatArray | None
) -> GroundTrack:
    place = _place(attacker, body_view(attacker, ground.camera, motion), motion, ground)
    if cone_xy_m is None:
        return place
    return at_cone(place, ground.camera, cone_xy_m, BEHIND_CONE_SD_M)


def _place(pose: PoseTrack, view: BodyView, motion: CameraMotion, ground: Ground) -> GroundTrack:
    with stage(Stage.GROUND):
        feet, facing = read_feet(view), view.facing[:, :2]
        return track_on_ground(pose.t_s, pose.xy_px, pose.score, motion, ground, feet, facing)
