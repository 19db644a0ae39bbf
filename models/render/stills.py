"""Single pictures of single poses at scale, read by the pose model beside their exact truth.

One file a cast: a body in his uniform, on a patch of the field, in many poses. Every picture has
its own view, distance and place in the picture, so poses and views are independent of one another,
which no number of clips filmed from tripods would give. What the model reads and the truth are
kept, the pictures are not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.recipe import Movement, Stills, StillsSet
from models.render import truth
from models.render.appearance import FIRST, Appearance, random_appearance
from models.render.body import JOINTS, BodySpec
from models.render.motion import PlayerMotion
from models.render.outfit import Outfit
from models.render.phone import Place, Studio, Track, look_at, project
from models.render.poses import FPS, album, in_front, scattered, shown
from models.render.who import random_body, random_body_wide, random_dress, random_uniform
from models.render.wide import WideCamera, wide_camera
from posecheck.filming.look import Look
from posecheck.filming.look import look_at as look_of
from posecheck.pose.reader import PlayerReader
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PlayerPose

Array = NDArray[Any]

_TRUNK_AND_LEGS = tuple(
    f"{side}_{part}" for side in ("left", "right") for part in ("shoulder", "hip", "knee", "ankle")
)


def degrade(rng: np.random.Generator, rgb: Array, tall_px: float) -> Array:
    """The picture out of focus, smeared by movement, dark or grainy, any of it at random."""
    import cv2

    shown: Array = rgb.astype(np.float32)
    if rng.uniform() < 0.5:
        shown = cv2.GaussianBlur(shown, (0, 0), rng.uniform(0.003, 0.018) * tall_px)
    if rng.uniform() < 0.5:
        side = 2 * int(rng.uniform(0.01, 0.05) * tall_px / 2) + 3
        smear = np.zeros((side, side), np.float32)
        half, angle = side // 2, rng.uniform(0, np.pi)
        reach = np.rint(half * np.array([np.cos(angle), np.sin(angle)])).astype(int)
        ends = [(half + s * int(reach[0]), half + s * int(reach[1])) for s in (-1, 1)]
        cv2.line(smear, ends[0], ends[1], 1.0)
        shown = cv2.filter2D(shown, -1, smear / smear.sum())
    if rng.uniform() < 0.5:
        shown = shown * rng.uniform(0.25, 0.9)
    grain = rng.uniform(0, 10) * rng.normal(size=(*rgb.shape[:2], 1))
    return np.clip(shown + grain, 0, 255).astype(np.uint8)


def cast_file(folder: Path, cast: int) -> Path:
    """Where a cast's pictures are kept."""
    return folder / f"cast-{cast:04d}.npz"


@dataclass(frozen=True)
class Plan:
    """Who a cast is, how he moves, and where the camera stands: everything before a picture.

    Attributes:
        spec: the body.
        motion: three film frames for each pose, the middle one meant.
        camera_m: ``(3,)``.
        rng: what further draws come from.
    """

    spec: BodySpec
    motion: PlayerMotion
    camera_m: Array
    rng: np.random.Generator

    @property
    def middles(self) -> Array:
        """Frames that are meant."""
        return np.arange(len(self.motion.t_s) // 3) * 3 + 1


def plan_cast(cast: int, movement: Movement, n_poses: int, recipe: Stills) -> Plan:
    """Draw a cast; everything about it follows from its number."""
    rng = np.random.default_rng(recipe.seed + cast)
    spec = random_body(rng)
    height = float(np.exp(rng.uniform(*np.log(recipe.camera_height_m))))
    camera = np.array([*rng.uniform(-12, 12, 2), height])
    azimuth = float(rng.uniform(0, 2 * np.pi))
    planned = album(movement, rng, spec, n_poses, recipe.poses)
    return Plan(spec, scattered(rng, planned, camera, azimuth, recipe.distance_m), camera, rng)


def stance_truth(motion: PlayerMotion) -> dict[str, Array]:
    """The truth of every frame, by the names that are kept; knee flexion left and right."""
    by_measure = truth.stance(motion)
    del by_measure["knee_bend_deg"]
    return {"knee_flexion_deg": truth.knee_flexion_deg(motion), **by_measure}


def render_cast(
    folder: Path, cast: int, stills_set: StillsSet, recipe: Stills, models: Sequence[Path]
) -> None:
    """One cast's pictures, read; skipped when its file is there.

    Args:
        folder: where to.
        cast: its number.
        stills_set: the set it is of.
        recipe: of all stills.
        models: the pose model, and for "wide" sets the second one.
    """
    out = cast_file(folder, cast)
    if out.exists():
        return
    film = (_wide_film if stills_set.camera == "wide" else _phone_film)(cast, stills_set, recipe)
    motion, middles = film.motion, film.middles
    with ExitStack() as readers:
        opened = [readers.enter_context(PlayerReader(model)) for model in models]
        rows = list(_read(film, opened, recipe))
    if not rows:
        raise ValueError("none of its pictures could be read")
    at = np.array([row.frame for row in rows])
    spec = film.spec
    scratch = out.with_suffix(".part.npz")
    arrays: dict[str, Any] = dict(
        xy_px=np.array([row.pose.xy_px for row in rows]),
        world_m=np.array([row.pose.world_m for row in rows]),
        score=np.array([row.pose.visibility for row in rows]),
        blur=np.array([row.look.blur for row in rows]),
        occluded=np.isin(at, film.occluded),
        degraded=np.isin(at, film.degraded),
        camera_matrix=film.matrices(at),
        camera_rotation=film.track.rotation[at],
        camera_centre_m=film.track.centre,
        ground_m=truth.ground_track(motion.joints_m)[at],
        joints_m=motion.joints_m[at],
        **{name: values[at] for name, values in stance_truth(motion).items()},
        stature_m=spec.height_m,
        sex=spec.sex,
        age_years=spec.age_years,
        skin_rgb=spec.skin_rgb,
        muscle=spec.muscle,
        weight=spec.weight,
        trousers=film.trousers,
        poses=len(middles),
        movement=film.shown[at // 3],
    )
    if film.camera is not None:
        seconds = [row.second for row in rows]
        arrays |= {
            "heavy_xy_px": np.array([_NOT_READ_XY if s is None else s.xy_px for s in seconds]),
            "heavy_world_m": np.array([_NOT_READ_M if s is None else s.world_m for s in seconds]),
            "heavy_score": np.array([_NOT_READ_M[:, 0] if s is None else s.visibility
                                  for s in seconds]),
            "album": stills_set.movement,
            "camera": stills_set.camera,
            "look": film.appearance.name,
            "dress": film.dress,
            "k1": film.camera.k1[at // 3],
            "frame_px": film.camera.frame_px,
        }  # fmt: skip
    np.savez_compressed(scratch, **arrays)
    scratch.replace(out)
    read_by_both = sum(row.second is not None for row in rows)
    also = f", {read_by_both} by both models" if film.camera is not None else ""
    print(f"cast {cast}: {len(rows)} of {len(middles)} poses read{also}", flush=True)


_NOT_READ_XY, _NOT_READ_M = np.full((33, 2), np.nan), np.full((33, 3), np.nan)


@dataclass(frozen=True)
class Film:
    """A cast dressed and put before the camera, ready to be filmed.

    Attributes:
        spec, motion: the body, three frames for each pose.
        outfits: his own, and that of whoever stands in front of him in some pictures.
        track: the camera that pictures are drawn with.
        camera: of a "wide" set, what makes pictures of those drawn; None: nothing more to do.
        appearance: how they look.
        dress: "uniform" or "street".
        trousers: he wears long ones.
        shown: (n poses,) which movement each shows.
        occluded, degraded: frames with somebody in front, and badly filmed ones.
        rng: what further draws come from.
    """

    spec: BodySpec
    motion: PlayerMotion
    outfits: tuple[Outfit, Outfit]
    track: Track
    camera: WideCamera | None
    appearance: Appearance
    dress: str
    trousers: bool
    shown: NDArray[np.str_]
    occluded: Array
    degraded: Array
    rng: np.random.Generator

    @property
    def middles(self) -> Array:
        """Frames that are meant."""
        return np.arange(len(self.motion.t_s) // 3) * 3 + 1

    def matrices(self, at: Array) -> Array:
        """Intrinsics of the kept pictures of some frames: (3, 3), or (n, 3, 3) where they vary."""
        return self.track.k if self.camera is None else self.camera.film_k[at // 3]

    def seen(self, frame: int, points_m: Array) -> Array:
        """Pixels (..., 2) of a kept picture at which points (..., 3) are seen."""
        if self.camera is not None:
            return self.camera.seen(frame // 3, points_m)
        return project(self.track.k, self.track.rotation[frame], self.track.centre, points_m)

    def pictures(self) -> Iterator[tuple[int, Array]]:
        """Every meant frame's number and picture, those with somebody in front last."""
        studio = Studio(self.track, appearance=self.appearance)
        alone = np.setdiff1d(self.middles, self.occluded)
        for frames, outfits in ((alone, self.outfits[:1]), (self.occluded, self.outfits)):
            drawn = studio.frames(list(outfits), FPS, frames)
            for i, picture in zip(frames, drawn, strict=True):
                yield i, picture if self.camera is None else self.camera.filmed(i // 3, picture)


def _phone_film(cast: int, stills_set: StillsSet, recipe: Stills) -> Film:
    """As all stills before there was a choice of cameras; draws stay in this order for good."""
    movement = stills_set.movement
    seed = recipe.seed + cast
    plan = plan_cast(cast, movement, stills_set.poses, recipe)
    motion, camera, rng, middles = plan.motion, plan.camera_m, plan.rng, plan.middles
    worn = replace(random_uniform(rng), trousers=cast >= recipe.trousers_from and cast % 3 == 0)
    outfit = Outfit(motion, worn, seed)
    other = Outfit(in_front(rng, motion, camera), random_uniform(rng), seed)
    hips = truth.middle(motion.joints_m, "hip")
    aims = hips + rng.normal(0, 0.12, hips.shape)
    aims[:, 2] = np.clip(aims[:, 2], 0.6, 1.1)
    rotation = np.array([look_at(camera, aim) for aim in aims])
    k = Place((0, 0, 1), (0, 1, 1), recipe.size_px).k
    k[0, 0] = k[1, 1] = recipe.focal_px
    track = Track(k, rotation, camera, recipe.size_px, still=False)
    occluded = middles[rng.uniform(size=len(middles)) < recipe.occluded_share]
    degraded = middles[rng.uniform(size=len(middles)) < recipe.degraded_share]
    return Film(
        plan.spec, motion, (outfit, other), track, None, FIRST, "uniform", worn.trousers,
        shown(movement, stills_set.poses, recipe.poses), occluded, degraded, rng,
    )  # fmt: skip


def _wide_film(cast: int, stills_set: StillsSet, recipe: Stills) -> Film:
    """Any lens, place, light and body."""
    seed = recipe.seed + cast
    rng = np.random.default_rng(seed)
    spec = random_body_wide(rng)
    poses = album(stills_set.movement, rng, spec, stills_set.poses, recipe.poses)
    motion, camera = wide_camera(rng, poses, spec.height_m, recipe.size_px, recipe.wide)
    second = stills_set.look_of(cast) == "second"
    appearance = random_appearance(rng) if second else FIRST
    street = stills_set.in_street_clothes(cast)
    worn = random_dress(rng, street=street)
    other = random_dress(rng, street=bool(rng.uniform() < 0.4))
    outfits = (
        Outfit(motion, worn, seed),
        Outfit(in_front(rng, motion, camera.track.centre), other, seed),
    )
    middles = np.arange(len(motion.t_s) // 3) * 3 + 1
    occluded = middles[rng.uniform(size=len(middles)) < recipe.occluded_share]
    degraded = middles[rng.uniform(size=len(middles)) < recipe.degraded_share]
    return Film(
        spec, motion, outfits, camera.track, camera, appearance, "street" if street else "uniform",
        worn.trousers, shown(stills_set.movement, stills_set.poses, recipe.poses), occluded,
        degraded, rng,
    )  # fmt: skip


@dataclass(frozen=True)
class _Row:
    """A picture that was read."""

    frame: int
    pose: PlayerPose
    second: PlayerPose | None
    look: Look


def _read(film: Film, readers: Sequence[PlayerReader], recipe: Stills) -> Iterator[_Row]:
    """Film every pose and read it; those that the first model reads as this player."""
    import cv2

    motion, rng = film.motion, film.rng
    for i, drawn in film.pictures():
        picture = drawn
        seen = film.seen(i, motion.vertices_m[i][::5])
        low, high = seen.min(0), seen.max(0)
        tall = high[1] - low[1]
        if i in film.degraded:
            picture = degrade(rng, picture, tall)
        worst, best = film.appearance.quality or (30 if i in film.degraded else 45, 90)
        quality = int(rng.integers(worst, best))
        _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
        bgr = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR), np.uint8)
        decoded = bgr[..., ::-1].copy()
        box = np.concatenate([low, high]) + rng.normal(0, 0.02, 4) * tall
        joints = film.seen(i, motion.joints_m[i])
        read: list[PlayerPose | None] = []
        for reader in readers:
            for _ in range(2):  # the second time as one follows a player from frame to frame
                pose = reader.read(decoded, box)
            ours = pose is not None and _is_of(pose.xy_px, joints, recipe.mistaken * tall)
            read.append(pose if ours else None)
        if read[0] is not None:
            second = read[1] if len(read) > 1 else None
            yield _Row(int(i), read[0], second, look_of(decoded, read[0].xy_px))


def _is_of(xy_px: Array, joints_px: Array, limit_px: float) -> bool:
    """True when landmarks (33, 2) are of the body with these joints, not of somebody beside it."""
    ours = joints_px[[JOINTS.index(name) for name in _TRUNK_AND_LEGS]]
    read = xy_px[SKELETON.indices(*_TRUNK_AND_LEGS)]
    return bool(np.median(np.linalg.norm(ours - read, axis=1)) < limit_px)
