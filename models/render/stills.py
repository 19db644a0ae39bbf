"""Single pictures of single poses at scale, read by the pose model beside their exact truth.

`python -m models.render.stills FOLDER --casts 100` makes what is missing, one file a cast: a
body with his kit, on a patch of the field, in some poses of many closeouts. Every picture has its
own view, distance and place in the picture, so poses and views are independent of one another,
which no number of clips filmed from tripods would give. What the model reads and the truth are
kept, the pictures are not.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from itertools import chain
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from posecheck.pose.skeleton import SKELETON

from . import truth as told
from .body import JOINTS
from .film import Place, Studio, Track, look_at, project
from .outfit import Outfit
from .poses import ALBUMS, CAPTURED, FPS, body, in_front, kit, scattered

Array = NDArray[Any]

SEED = 90_000
SIZE = (600, 600)
FOCAL_PX = 1000.0
POSES_PER_CAST = 60
"""Many bodies rather than many pictures of each: most of an error is a body's own."""
CASTS_PER_PROCESS = 6
COLUMNS = (
    "xy_px", "world_m", "score", "camera_matrix", "camera_rotation", "camera_centre_m", "ground_m",
    "knee_flexion_deg", "trunk_lean_deg", "hip_drop", "hand_reach", "hand_height", "base_width",
)  # fmt: skip
TROUSERS_FROM = 60
"""From this cast on every third wears long trousers."""
HIDDEN_SHARE, SPOILT_SHARE = 0.2, 0.3
"""Of the pictures: another player stands partly in front; badly filmed."""
MISTAKEN = 0.15
"""Landmarks further than this from the true joints, in heights of the player, in the middle, are
another player's."""
_TRUNK_AND_LEGS = tuple(
    f"{side}_{part}" for side in ("left", "right") for part in ("shoulder", "hip", "knee", "ankle")
)


def spoil(rng: np.random.Generator, rgb: Array, tall_px: float) -> Array:
    """The picture out of focus, smeared by movement, dark or grainy, any of it by chance."""
    import cv2

    shown = rgb.astype(np.float32)
    if rng.uniform() < 0.5:
        shown = cv2.GaussianBlur(shown, (0, 0), rng.uniform(0.003, 0.018) * tall_px)
    if rng.uniform() < 0.5:
        side = 2 * int(rng.uniform(0.01, 0.05) * tall_px / 2) + 3
        smear = np.zeros((side, side), np.float32)
        half, way = side // 2, rng.uniform(0, np.pi)
        reach = np.rint(half * np.array([np.cos(way), np.sin(way)])).astype(int)
        ends = [(half + s * int(reach[0]), half + s * int(reach[1])) for s in (-1, 1)]
        cv2.line(smear, *ends, 1.0)
        shown = cv2.filter2D(shown, -1, smear / smear.sum())
    if rng.uniform() < 0.5:
        shown = shown * rng.uniform(0.25, 0.9)
    grain = rng.uniform(0, 10) * rng.normal(size=(*rgb.shape[:2], 1))
    return np.clip(shown + grain, 0, 255).astype(np.uint8)


def _file(folder: Path, cast: int) -> Path:
    return folder / f"cast-{cast:04d}.npz"


def make(folder: Path, cast: int, model: Path, n_poses: int, movement: str = "closeout") -> None:
    """One cast's pictures, read; skipped when its file is there."""
    import cv2

    from posecheck.filming.look import Look
    from posecheck.filming.look import look_at as looked
    from posecheck.pose.reader import PlayerReader
    from posecheck.pose.track import PlayerPose

    out = _file(folder, cast)
    if out.exists():
        return
    rng = np.random.default_rng(SEED + cast)
    spec = body(rng)
    height = float(np.exp(rng.uniform(np.log(1.2), np.log(5.5))))
    camera = np.array([*rng.uniform(-12, 12, 2), height])
    azimuth = float(rng.uniform(0, 2 * np.pi))
    names: tuple[str, ...] = CAPTURED if movement == "captured" else (movement,)
    motion = scattered(rng, ALBUMS[movement](rng, spec, n_poses), camera, azimuth)
    worn = replace(kit(rng), trousers=cast >= TROUSERS_FROM and cast % 3 == 0)
    outfit = Outfit(motion, worn, SEED + cast)
    other = Outfit(in_front(rng, motion, camera), kit(rng), SEED + cast)
    middles = np.arange(len(motion.t_s) // 3) * 3 + 1
    hips = told.middle(motion.joints_m, "hip")
    aims = hips + rng.normal(0, 0.12, hips.shape)
    aims[:, 2] = np.clip(aims[:, 2], 0.6, 1.1)
    rotation = np.array([look_at(camera, aim) for aim in aims])
    k = Place((0, 0, 1), (0, 1, 1), SIZE).k
    k[0, 0] = k[1, 1] = FOCAL_PX
    track = Track(k, rotation, camera, SIZE, still=False)
    hidden = middles[rng.uniform(size=len(middles)) < HIDDEN_SHARE]
    spoilt = middles[rng.uniform(size=len(middles)) < SPOILT_SHARE]
    rows: list[tuple[int, PlayerPose, Look]] = []
    with PlayerReader(model) as reader:
        studio = Studio(track)
        alone = np.setdiff1d(middles, hidden)
        pictures = chain(
            zip(alone, studio.frames([outfit], FPS, alone), strict=True),
            zip(hidden, studio.frames([outfit, other], FPS, hidden), strict=True),
        )
        for i, picture in pictures:
            seen = project(k, rotation[i], camera, motion.vertices_m[i][::5])
            low, high = seen.min(0), seen.max(0)
            tall = high[1] - low[1]
            if i in spoilt:
                picture = spoil(rng, picture, tall)
            quality = int(rng.integers(30 if i in spoilt else 45, 90))
            _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
            shown = cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1].copy()
            box = np.concatenate([low, high]) + rng.normal(0, 0.02, 4) * tall
            for _ in range(2):  # the second time as one follows a player from frame to frame
                pose = reader.read(shown, box)
            joints = project(k, rotation[i], camera, motion.joints_m[i])
            if pose is not None and _is_of(pose.xy_px, joints, MISTAKEN * tall):
                rows.append((i, pose, looked(shown, pose.xy_px)))
    at = np.array([row[0] for row in rows])
    reach, hand_height = told.hands(motion)
    scratch = out.with_suffix(".part.npz")
    np.savez_compressed(
        scratch,
        xy_px=np.array([pose.xy_px for _, pose, _ in rows]),
        world_m=np.array([pose.world_m for _, pose, _ in rows]),
        score=np.array([pose.visibility for _, pose, _ in rows]),
        blur=np.array([look.blur for *_, look in rows]),
        hidden=np.isin(at, hidden),
        spoilt=np.isin(at, spoilt),
        camera_matrix=k,
        camera_rotation=rotation[at],
        camera_centre_m=camera,
        ground_m=told.ground_track(motion.joints_m)[at],
        joints_m=motion.joints_m[at],
        knee_flexion_deg=told.knee_flexion_deg(motion)[at],
        trunk_lean_deg=told.trunk_lean_deg(motion.joints_m)[at],
        hip_drop=1 - told.hip_height_ratio(motion)[at],
        hand_reach=reach[at],
        hand_height=hand_height[at],
        base_width=told.base_width(motion.joints_m)[at],
        stature_m=spec.height_m,
        sex=spec.sex,
        age_years=spec.age_years,
        skin_rgb=spec.skin_rgb,
        muscle=spec.muscle,
        weight=spec.weight,
        trousers=worn.trousers,
        poses=len(middles),
        movement=np.repeat(names, len(middles) // len(names))[at // 3],
    )
    scratch.replace(out)
    print(f"cast {cast}: {len(rows)} of {len(middles)} poses read", flush=True)


def _is_of(xy_px: Array, joints_px: Array, limit_px: float) -> bool:
    """True when landmarks (33, 2) are of the body with these joints, not of somebody beside it."""
    ours = joints_px[[JOINTS.index(name) for name in _TRUNK_AND_LEGS]]
    read = xy_px[SKELETON.indices(*_TRUNK_AND_LEGS)]
    return bool(np.median(np.linalg.norm(ours - read, axis=1)) < limit_px)


def gather(folder: Path, out: Path) -> None:
    """Every picture's landmarks, camera and truth as one Parquet table, a row for each."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    tables = []
    for path in sorted(folder.glob("cast-????.npz")):
        with np.load(path) as arrays:
            n = len(arrays["xy_px"])
            columns: dict[str, Any] = {"cast": [int(path.stem[-4:])] * n}
            for name in COLUMNS:
                rows = np.asarray(arrays[name], dtype=np.float32)
                if name in ("camera_matrix", "camera_centre_m"):  # one for the whole cast
                    rows = np.broadcast_to(rows, (n, *rows.shape))
                flat = rows.reshape(n, -1)
                columns[name] = list(flat) if flat.shape[1] > 1 else flat[:, 0]
        tables.append(pa.table(columns))
    pq.write_table(pa.concat_tables(tables), out, compression="zstd")


def _work(folder: Path, cast: int, model: Path, n_poses: int, movement: str) -> None:
    import cv2
    import torch

    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    make(folder, cast, model, n_poses, movement)


def main() -> None:
    """Read the command line and make what is missing."""
    from posecheck.pose.model_files import pose_model_path

    parser = argparse.ArgumentParser(prog="python -m models.render.stills", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--casts", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="number of the first cast")
    parser.add_argument("--movement", choices=ALBUMS, default="closeout")
    parser.add_argument("--gather", type=Path, help="write all that is there to a Parquet file")
    parser.add_argument("--poses", type=int, default=POSES_PER_CAST, help="for each cast")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--model", default="full")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    model = pose_model_path(given.model)
    missing = [
        cast
        for cast in range(given.first, given.first + given.casts)
        if not _file(given.folder, cast).exists()
    ]
    # Windows off screen are not given back while a process lives, so workers are taken anew.
    step = CASTS_PER_PROCESS * given.workers
    for start in range(0, len(missing), step):
        with ProcessPoolExecutor(given.workers, mp_context=get_context("spawn")) as pool:
            jobs = [
                pool.submit(_work, given.folder, cast, model, given.poses, given.movement)
                for cast in missing[start : start + step]
            ]
            for job in jobs:
                job.result()
    if given.gather:
        gather(given.folder, given.gather)


if __name__ == "__main__":
    main()
