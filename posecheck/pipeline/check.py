"""Check one clip: the stages in order, each handing plain values to the next.

    clip ─ frames ─ players ─ keypoints ─ ground ─ rep ─ measures

Judging is not here: a result is the same whatever the thresholds are.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from posecheck import __version__
from posecheck.body import foot_sight, stance_net
from posecheck.errors import NothingToMeasure, SettingsError
from posecheck.filming.quality import Aspect
from posecheck.maths.arrays import FloatArray
from posecheck.measures.quantities import QUANTITY
from posecheck.measures.result import ClipResult, Provenance, RepResult, Series
from posecheck.practice.layout import Point, Side
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

if TYPE_CHECKING:
    from posecheck.body.stance_track import StanceTrack
    from posecheck.camera.motion import CameraMotion
    from posecheck.ground.ground import Ground
    from posecheck.ground.tracks import GroundTrack
    from posecheck.keypoints.clip_keypoints import ClipKeypoints
    from posecheck.pose.reader import PoseReader
    from posecheck.pose.track import PoseTrack
    from posecheck.reps.rep import Rep
    from posecheck.video.clip import Clip


START_CONE = "inside"
"""Name in a layout of the cone that defenders leave."""


@dataclass(frozen=True)
class Settings:
    """What a run may choose.

    Attributes:
        model: pose model variant, "lite", "full" or "heavy".
        models_folder: a folder of one's own with the model bundles, None for the user's cache.
        reach_m: ground distance to the attacker that counts as arrival.
        keypoints_folder: where keypoints are kept from run to run, None to keep none.
    """

    model: str = "full"
    models_folder: Path | None = None
    reach_m: float = 1.8
    keypoints_folder: Path | None = None

    def digest(self) -> str:
        """SHA-256 over everything that could change a measure, hexadecimal.

        Where files lie does not matter.
        """
        told = {
            "model": self.model,
            "reach_m": self.reach_m,
            "version": __version__,
            "quantities": list(QUANTITY),
            "graded": list(Aspect),
            "fitted": _fitted(),
        }
        return _digest(told)


@dataclass(frozen=True)
class Observed:
    """A clip between pixels and measures: its players' landmarks, stance and place over time.

    Attributes:
        clip: the film.
        motion: of the camera.
        defender, attacker: smoothed landmarks; attacker None when nobody stands there.
        ground: where metres come from.
        defender_ground, attacker_ground: places on it.
        stance: the defender's.
        roles: how the two were told apart.
        cone_xy_m: ``(2,)`` where an attacker waits at the named cone, None when not known.
        faults: sentences on what the practice says of the clip but cannot be used.
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


def observe_clip(
    path: Path, practice: Practice, settings: Settings, reader: PoseReader
) -> Observed:
    """Read a clip up to where measuring begins.

    Raises:
        ClipError: the clip cannot be read, or shows nobody who closes out.
    """
    from posecheck.video.clip import open_clip

    clip = open_clip(path, practice.slow_motion)
    scene = _Scene(clip, practice)
    return _observed(scene, _keypoints(clip, scene, settings, reader))


def read_clip(
    clip: Clip, practice: Practice, settings: Settings, reader: PoseReader
) -> ClipKeypoints:
    """The players' landmarks: the only work on pixels, read back where they are kept.

    Raises:
        ClipError: the clip shows nobody who closes out.
    """
    return _keypoints(clip, _Scene(clip, practice), settings, reader)


def observe_keypoints(clip: Clip, keypoints: ClipKeypoints, practice: Practice) -> Observed:
    """Go on from landmarks that are read, whatever the practice said when they were.

    Raises:
        ClipError: the players are nowhere seen on the ground.
    """
    return _observed(_Scene(clip, practice), keypoints)


def _observed(scene: _Scene, keypoints: ClipKeypoints) -> Observed:
    from posecheck.body.hip_height import hip_height
    from posecheck.body.stance_track import stance_track
    from posecheck.body.view import BodyView, body_view
    from posecheck.ground.tracks import track_on_ground
    from posecheck.keypoints.smoothing import smooth_track

    clip = scene.clip
    motion = keypoints.camera_motion
    defender = smooth_track(keypoints.defender)
    attacker = smooth_track(keypoints.attacker) if keypoints.attacker else None
    ground = scene.ground(motion) or _ground_from_players(scene, defender, attacker, motion)
    if ground is None:
        raise NothingToMeasure(
            clip.path,
            "the defender's feet are nowhere seen on the ground",
            "film so that the whole body is in the picture",
        )

    def viewed(pose: PoseTrack) -> BodyView:
        return body_view(pose, ground.camera, motion)

    def on_ground(pose: PoseTrack, view: BodyView) -> GroundTrack:
        feet, facing = foot_sight.read_feet(view), view.facing[:, :2]
        return track_on_ground(clip.t_s, pose.xy_px, pose.score, motion, ground, feet, facing)

    defender_view = viewed(defender)
    place = on_ground(defender, defender_view)
    steady_px = motion.steadied(defender.xy_px)
    hips = hip_height(ground.camera, steady_px, place.xy_m, place.sd_m)
    return Observed(
        clip=clip,
        motion=motion,
        defender=defender,
        attacker=attacker,
        ground=ground,
        defender_ground=place,
        attacker_ground=on_ground(attacker, viewed(attacker)) if attacker else None,
        stance=stance_track(defender, defender_view, hips),
        roles=keypoints.roles,
        cone_xy_m=scene.waiting_xy_m if ground.source == "marks" else None,
        faults=scene.faults,
    )


def measure_clip(
    path: Path, practice: Practice, settings: Settings, reader: PoseReader
) -> ClipResult:
    """Measure every rep in a clip.

    Raises:
        ClipError: the clip cannot be measured; says why.
    """
    from posecheck.pose.model_files import variants
    from posecheck.reps.splitting import find_reps

    seen = observe_clip(path, practice, settings, reader)
    clip = seen.clip
    reps = find_reps(
        seen.defender_ground.xy_m,
        seen.attacker_ground.xy_m if seen.attacker_ground else None,
        clip.t_s,
        seen.defender_ground.velocity_mps,
        cone_xy_m=seen.cone_xy_m,
        reach_m=settings.reach_m,
    )
    if not reps:
        raise NothingToMeasure(
            path, "nobody closes out in it", "name only clips that show a one-on-one rep"
        )
    side = practice.layout.side_of(practice.notes_for(path).spot)
    return ClipResult(
        path=path,
        clip_digest=clip.digest,
        width_px=clip.width_px,
        height_px=clip.height_px,
        n_frames=clip.n_frames,
        duration_s=float(clip.t_s[-1]),
        rate_hz=clip.rate_hz,
        reps=tuple(_rep_result(seen, rep, number, side) for number, rep in enumerate(reps, 1)),
        fault=None,
        provenance=Provenance(
            version=__version__,
            model=settings.model,
            model_digest=variants()[settings.model].bundle_sha256,
            settings_digest=settings.digest(),
        ),
    )


def _rep_result(seen: Observed, rep: Rep, number: int, spot_side: Side | None) -> RepResult:
    from posecheck.filming.arrival_frames import see_arrival
    from posecheck.filming.grading import grade_film
    from posecheck.measures.of_rep import measure_rep

    clip = seen.clip
    picture, looks = see_arrival(clip, rep, seen.defender.xy_px)
    return RepResult(
        number=number,
        rep=rep,
        measures=measure_rep(
            rep,
            seen.stance,
            seen.defender_ground,
            seen.attacker_ground,
            seen.ground,
            cone_xy_m=seen.cone_xy_m,
            spot_side=spot_side,
            looks=looks,
        ),
        series=_series(seen, rep),
        film=seen.faults,
        roles=seen.roles,
        scale=seen.ground.described,
        on_field=seen.ground.on_field,
        picture=picture.jpeg if picture else None,
        picture_scale=picture.scale if picture else 1.0,
        picture_t_s=picture.t_s if picture else None,
        quality=grade_film(
            rep,
            seen.stance,
            seen.motion,
            looks,
            size_px=(clip.width_px, clip.height_px),
            distance_m=_distance_m(seen, rep),
        ),
    )


def _distance_m(seen: Observed, rep: Rep) -> float:
    """From the camera to the defender at arrival, NaN when not known."""
    if rep.arrival_s is None:
        return float("nan")
    arrival = int(np.argmin(np.abs(seen.clip.t_s - rep.arrival_s)))
    there = np.append(seen.defender_ground.xy_m[arrival], 0.0)
    return float(np.linalg.norm(there - seen.ground.camera.centre_m))


class _Scene:
    """What the practice says of a clip's field and people.

    Attributes:
        clip: the film.
        faults: sentences on what was said but cannot be used.
    """

    def __init__(self, clip: Clip, practice: Practice) -> None:
        self.clip = clip
        self._practice = practice
        self.notes: ClipNotes = practice.notes_for(clip.path)
        self.size_px = (clip.width_px, clip.height_px)
        self.faults: tuple[str, ...] = ()
        self._looked = False
        self._found_ground: Ground | None = None

    @cached_property
    def _marked(self) -> Ground | None:
        """The ground in the frame the marks were read from."""
        from posecheck.ground.from_points import ground_from_marks

        if self.notes.view is None or not self.notes.view.marks:
            return None
        try:
            return ground_from_marks(self.notes.view, self._practice.layout, self.size_px)
        except SettingsError as error:
            self.faults = (f"The marked points were not used: {error}",)
            return None

    def ground(self, motion: CameraMotion) -> Ground | None:
        """The ground in the clip's first frame, None when no points are marked or found."""
        view = self.notes.view
        if view is None or not view.marks:
            return self._found(motion)
        if self._marked is None:
            return None
        marked_at = int(np.argmin(np.abs(self.clip.t_s - view.time_s)))
        return self._marked.carried(motion.to_reference[marked_at])

    def _found(self, motion: CameraMotion) -> Ground | None:
        """The same from points found in the picture; looked for once."""
        from posecheck.ground.find.points import PointsNotFound, find_points

        if self._looked or not self._practice.layout.points:
            return self._found_ground
        self._looked = True
        try:
            found = find_points(self.clip, self._practice.layout, motion, self.notes.spot)
            self._found_ground = found.ground
        except PointsNotFound as why:
            self.faults = (
                f"Known points were looked for in the picture but not found: {why}; "
                "set them with posecheck points.",
            )
        return self._found_ground

    def in_picture(self, point: str | None, motion: CameraMotion) -> FloatArray | None:
        """``(2,)`` pixels of a layout point in the steadied picture, None when not known."""
        ground = self.ground(motion)
        where = self._practice.layout.points.get(point or "")
        if ground is None or where is None:
            return None
        pixels = ground.camera.to_image(np.array([*where, 0.0]))
        return pixels if np.isfinite(pixels).all() else None

    @property
    def points(self) -> Mapping[str, Point]:
        """The layout's known points."""
        return self._practice.layout.points

    @property
    def spot_xy_m(self) -> FloatArray | None:
        """``(2,)`` the attackers' cone, None when not stated."""
        where = self._practice.layout.points.get(self.notes.spot or "")
        return None if where is None else np.array(where)

    @property
    def waiting_xy_m(self) -> FloatArray | None:
        """``(2,)`` where an attacker waits at that cone."""
        from posecheck.practice.field import waiting_at

        cone = self.spot_xy_m
        return waiting_at(cone) if cone is not None and self._practice.layout.goal else cone


def _keypoints(clip: Clip, scene: _Scene, settings: Settings, reader: PoseReader) -> ClipKeypoints:
    """See :func:`read_clip`."""
    from posecheck.ground.from_players import usual_focal_px
    from posecheck.keypoints.clip_keypoints import ClipKeypoints
    from posecheck.keypoints.reading import read_keypoints, when_to_read
    from posecheck.players.roles import NoDefender, choose_roles
    from posecheck.players.tracker import follow_players
    from posecheck.pose.model_files import pose_model_path
    from posecheck.store import keypoints as kept

    file = None
    if settings.keypoints_folder:
        # Marks and spot matter here because they help to tell who is who.
        view = scene.notes.view
        told = {
            "clip": clip.digest,
            "slow_motion": clip.slow_motion,
            "model": settings.model,
            "version": __version__,
            "marks": None if view is None else [view.time_s, sorted(view.marks.items())],
            "points": sorted(scene.points.items()),
            "spot": None if scene.spot_xy_m is None else scene.spot_xy_m.tolist(),
        }
        file = settings.keypoints_folder / f"{clip.digest[:16]}-{_digest(told)[:16]}.parquet"
        if file.exists():
            return kept.read_keypoints(file)

    followed = follow_players(clip, reader)
    motion = followed.camera_motion
    try:
        roles = choose_roles(
            followed,
            start_px=scene.in_picture(START_CONE, motion),
            spot_px=scene.in_picture(scene.notes.spot, motion),
            focal_px=usual_focal_px(scene.size_px),
        )
    except NoDefender as error:
        raise NothingToMeasure(
            clip.path, str(error), "name only clips that show a one-on-one rep"
        ) from None
    wanted = when_to_read(clip.t_s, roles.defender, roles.attacker, motion)
    tracks = read_keypoints(clip, wanted, pose_model_path(settings.model, settings.models_folder))
    keypoints = ClipKeypoints(tracks[0], tracks[1] if roles.attacker else None, motion, roles.how)
    if file:
        kept.write_keypoints(file, keypoints)
    return keypoints


def _ground_from_players(
    scene: _Scene, defender: PoseTrack, attacker: PoseTrack | None, motion: CameraMotion
) -> Ground | None:
    from posecheck.body.view import body_view
    from posecheck.ground.from_players import ground_from_players, standing_players, zoom_range

    people = [
        (who, pose, _stature(player))
        for who, (pose, player) in enumerate(
            [(defender, scene.notes.defender), (attacker, scene.notes.attacker)]
        )
        if pose is not None
    ]
    zoomed = zoom_range(motion, scene.size_px)

    def fitted(before: Ground | None) -> Ground | None:
        standing = []
        for who, pose, stature in people:
            view = body_view(pose, before.camera, motion) if before else None
            feet = foot_sight.read_feet(view) if view else None
            steady_px = motion.steadied(pose.xy_px)
            standing += standing_players(who, steady_px, pose.world_m, pose.score, *stature, feet)
        return ground_from_players(standing, scene.size_px, zoomed)

    # What feet tell depends a little on the camera's tilt: first as if he stood right over them.
    ground = fitted(None)
    return fitted(ground) if ground else None


def _stature(player: Player | None) -> tuple[float, float]:
    """Mean and standard deviation of a player's height, metres."""
    from posecheck.ground.from_players import UNKNOWN_STATURE_M

    if player is None or player.height_m is None:
        return UNKNOWN_STATURE_M
    return player.height_m, STATED_HEIGHT_SD_M


STATED_HEIGHT_SD_M = 0.02
"""Heights on a roster are rounded, last year's, and without boots. Common practice, no source."""


def _series(seen: Observed, rep: Rep) -> Series:
    stance, attacker = seen.stance, seen.attacker
    during = (stance.t_s >= rep.start_s) & (stance.t_s <= rep.end_s)
    n = int(during.sum())
    place = seen.attacker_ground
    return Series(
        t_s=stance.t_s[during],
        knee_bend_deg=stance.knee_bend_deg[during],
        trunk_lean_deg=stance.trunk_lean_deg[during],
        speed_mps=seen.defender_ground.speed_mps[during],
        defender_xy_m=seen.defender_ground.xy_m[during],
        attacker_xy_m=place.xy_m[during] if place else np.full((n, 2), np.nan),
        defender_xy_px=seen.defender.xy_px[during],
        attacker_xy_px=attacker.xy_px[during] if attacker else np.full((n, 33, 2), np.nan),
    )


@cache
def _fitted() -> str:
    """Digest of what was fitted, which may change without the version: nets and error bars."""
    package = resources.files("posecheck")
    nets = (stance_net.NET_FILE, foot_sight.NET_FILE)
    files = (*(package / "body" / net for net in nets), package / "measures" / "intervals.toml")
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()


def _digest(told: dict[str, object]) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()
