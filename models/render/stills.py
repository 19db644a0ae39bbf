"""Single pictures of single poses at scale, read by the pose model beside their exact truth.

One file a cast: a body in his uniform, on a patch of the field, in many poses. Every picture has
its own view, distance and place in the picture, so poses and views are independent of one another,
which no number of clips filmed from tripods would give. What the model reads and the truth are
kept, the pictures are not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.recipe import Movement, Stills
from models.render import truth
from models.render.body import JOINTS, BodySpec
from models.render.motion import PlayerMotion
from models.render.outfit import Outfit
from models.render.phone import Place, Studio, Track, look_at, project
from models.render.poses import FPS, album, in_front, scattered
from models.render.who import random_body, random_uniform
from posecheck.pose.skeleton import SKELETON

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
    folder: Path, cast: int, movement: Movement, n_poses: int, recipe: Stills, model: Path
) -> None:
    """One cast's pictures, read; skipped when its file is there."""
    import cv2

    from posecheck.filming.look import Look
    from posecheck.filming.look import look_at as look_of
    from posecheck.pose.reader import PlayerReader
    from posecheck.pose.track import PlayerPose

    out = cast_file(folder, cast)
    if out.exists():
        return
    seed = recipe.seed + cast
    plan = plan_cast(cast, movement, n_poses, recipe)
    spec, motion, camera, rng, middles = (
        plan.spec, plan.motion, plan.camera_m, plan.rng, plan.middles,
    )  # fmt: skip
    shown = recipe.poses.captured if movement == "captured" else (movement,)
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
    rows: list[tuple[int, PlayerPose, Look]] = []
    with PlayerReader(model) as reader:
        studio = Studio(track)
        alone = np.setdiff1d(middles, occluded)
        pictures = chain(
            zip(alone, studio.frames([outfit], FPS, alone), strict=True),
            zip(occluded, studio.frames([outfit, other], FPS, occluded), strict=True),
        )
        for i, picture in pictures:
            seen = project(k, rotation[i], camera, motion.vertices_m[i][::5])
            low, high = seen.min(0), seen.max(0)
            tall = high[1] - low[1]
            if i in degraded:
                picture = degrade(rng, picture, tall)
            quality = int(rng.integers(30 if i in degraded else 45, 90))
            _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
            bgr = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR), np.uint8)
            decoded = bgr[..., ::-1].copy()
            box = np.concatenate([low, high]) + rng.normal(0, 0.02, 4) * tall
            for _ in range(2):  # the second time as one follows a player from frame to frame
                pose = reader.read(decoded, box)
            joints = project(k, rotation[i], camera, motion.joints_m[i])
            if pose is not None and _is_of(pose.xy_px, joints, recipe.mistaken * tall):
                rows.append((i, pose, look_of(decoded, pose.xy_px)))
    if not rows:
        raise ValueError("none of its pictures could be read")
    at = np.array([row[0] for row in rows])
    scratch = out.with_suffix(".part.npz")
    arrays: dict[str, Any] = dict(
        xy_px=np.array([pose.xy_px for _, pose, _ in rows]),
        world_m=np.array([pose.world_m for _, pose, _ in rows]),
        score=np.array([pose.visibility for _, pose, _ in rows]),
        blur=np.array([look.blur for *_, look in rows]),
        occluded=np.isin(at, occluded),
        degraded=np.isin(at, degraded),
        camera_matrix=k,
        camera_rotation=rotation[at],
        camera_centre_m=camera,
        ground_m=truth.ground_track(motion.joints_m)[at],
        joints_m=motion.joints_m[at],
        **{name: values[at] for name, values in stance_truth(motion).items()},
        stature_m=spec.height_m,
        sex=spec.sex,
        age_years=spec.age_years,
        skin_rgb=spec.skin_rgb,
        muscle=spec.muscle,
        weight=spec.weight,
        trousers=worn.trousers,
        poses=len(middles),
        movement=np.repeat(shown, len(middles) // len(shown))[at // 3],
    )
    np.savez_compressed(scratch, **arrays)
    scratch.replace(out)
    print(f"cast {cast}: {len(rows)} of {len(middles)} poses read", flush=True)


def _is_of(xy_px: Array, joints_px: Array, limit_px: float) -> bool:
    """True when landmarks (33, 2) are of the body with these joints, not of somebody beside it."""
    ours = joints_px[[JOINTS.index(name) for name in _TRUNK_AND_LEGS]]
    read = xy_px[SKELETON.indices(*_TRUNK_AND_LEGS)]
    return bool(np.median(np.linalg.norm(ours - read, axis=1)) < limit_px)
