"""Single pictures of single poses at scale, read by the pose model beside their exact truth.

`python -m sample_clips.render.stills FOLDER --casts 100` makes what is missing, one file a cast: a
body with his kit, on a patch of the field, in some poses of many closeouts. Every picture has its
own view, distance and place in the picture, so poses and views are independent of one another,
which no number of clips filmed from tripods would give. What the model reads and the truth are
kept, the pictures are not.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import truth as told
from .captured import Name, plan_captured
from .film import Place, Studio, Track, look_at, project
from .motion import BodySpec, PlayerMotion, RepSpec, Stance, plan_defender
from .outfit import Kit, Outfit

Array = NDArray[Any]

SEED = 90_000
SIZE = (600, 600)
FOCAL_PX = 1000.0
FPS = 30
POSES_PER_CAST = 80
REPS_PER_CAST = 16
"""Stances a body takes; poses come from the run to each and from the stance itself."""
UPRIGHT_SHARE = 0.3
"""Of the reps; these are what must not be missed."""
REP_S = 3.4
CASTS_PER_PROCESS = 6
MOVEMENTS: dict[str, tuple[Name, ...]] = {
    "varied": ("run", "walk", "dance_a", "dance_b", "punch", "kick"),
    "captured": ("run", "walk", "jump"),
}
"""Captured movements: what the net learns from besides closeouts, every pose varied; and what it is
tried on as captured. Jumping is kept out of the first."""
COLUMNS = (
    "xy_px", "world_m", "camera_matrix", "camera_rotation", "camera_centre_m", "knee_flexion_deg",
    "trunk_lean_deg", "hip_drop", "hand_reach", "hand_height", "base_width",
)  # fmt: skip
TROUSERS_FROM = 60
"""From this cast on every third wears long trousers."""
NEAREST_M, FARTHEST_M = 4.2, 12.0


def body(rng: np.random.Generator) -> BodySpec:
    """Teenagers and adults, both sexes, slight to strong, light to heavy, all skin tones."""
    sex = "male" if rng.uniform() < 0.6 else "female"
    age = float(rng.uniform(12.5, 32))
    grown = min((age - 12) / 5, 1.0)
    tall, short = (1.78, 1.53) if sex == "male" else (1.66, 1.51)
    height = short + (tall - short) * grown + float(rng.normal(0, 0.065))
    light, dark = np.array([0.87, 0.68, 0.57]), np.array([0.22, 0.14, 0.10])
    skin = light + (dark - light) * rng.uniform(0, 1)
    return BodySpec(
        sex, age, round(float(np.clip(height, 1.38, 2.0)), 3),
        float(rng.uniform(0.3, 0.9)), float(rng.uniform(0.25, 0.8)),
        tuple(float(v) for v in skin.round(3)),
    )  # fmt: skip


def _kit(rng: np.random.Generator) -> Kit:
    def colour() -> tuple[float, float, float]:
        hue = rng.uniform(0.02, 0.9, 3)
        return tuple(float(v) for v in hue * rng.uniform(0.3, 1.0))  # type: ignore[return-value]

    return Kit(
        int(rng.integers(1, 99)), colour(), colour(), colour(), colour(), colour(), colour(),
        (0.9, 0.9, 0.9) if rng.uniform() < 0.6 else colour(),
        stick_m=float(rng.choice([1.05, 1.55])),
    )  # fmt: skip


def _rep(rng: np.random.Generator, duration_s: float) -> RepSpec:
    """Any depth of stance with any lean of the trunk, so that neither tells the other."""
    stance = Stance(
        float(rng.uniform(8, 88)), float(rng.uniform(2, 50)), float(rng.uniform(1.0, 2.4)),
        float(rng.uniform(0.15, 0.7)), float(rng.uniform(0.15, 0.8)),
    )  # fmt: skip
    return RepSpec(
        attacker_m=(float(rng.uniform(-3, 3)), float(rng.uniform(9.5, 10.5))),
        stance=None if rng.uniform() < UPRIGHT_SHARE else stance,
        duration_s=duration_s,
        start_s=0.15,
        peak_speed_mps=float(rng.uniform(4.2, 6.5)),
        braking_distance_m=float(rng.uniform(1.2, 3.6)),
        past_m=float(rng.uniform(-1.6, 1.5)),
        side_offset_m=float(rng.uniform(-1, 1)),
        settled_before_arrival_s=float(rng.uniform(-0.3, 0.4)),
        slide_mps=float(rng.uniform(-0.9, 0.9)),
        seed=int(rng.integers(1 << 30)),
    )


def album(rng: np.random.Generator, spec: BodySpec, n_poses: int) -> PlayerMotion:
    """Poses of several reps strung together: three film frames for each, the middle one meant."""
    pieces: list[PlayerMotion] = []
    last = round(REP_S * FPS) - 2
    each = n_poses // REPS_PER_CAST
    while len(pieces) < REPS_PER_CAST:
        # Half of them from the end, where stances are.
        late = rng.integers(int(0.6 * last), last, each // 2)
        chosen = np.concatenate([late, rng.integers(1, last, each - len(late))])
        try:
            only = (chosen[:, None] + [-1, 0, 1]).ravel()
            pieces.append(plan_defender(spec, _rep(rng, REP_S), only))
        except ValueError:  # a body that cannot take the stance asked for
            continue

    return _strung(pieces)


def captured_album(
    rng: np.random.Generator, spec: BodySpec, n_poses: int, varied: bool
) -> PlayerMotion:
    """The same of captured movements, as many poses of each."""
    pieces = []
    names = MOVEMENTS["varied" if varied else "captured"]
    each = n_poses // len(names)
    for name in names:
        seed = int(rng.integers(1 << 30))
        motion = plan_captured(spec, name, seed, each if varied else None)
        if varied:  # a pose stands alone: nothing moves in its picture
            only = np.repeat(np.arange(each), 3)
        else:
            chosen = rng.integers(1, len(motion.t_s) - 1, each)
            only = (chosen[:, None] + [-1, 0, 1]).ravel()
        rows = {name: getattr(motion, name)[only] for name in ("t_s", *_BY_FRAME)}
        pieces.append(replace(motion, **rows))
    return _strung(pieces)


_BY_FRAME = (
    "vertices_m", "joints_m", "head_pose", "left_hand_pose", "right_hand_pose", "chest_pose",
)  # fmt: skip


def _strung(pieces: list[PlayerMotion]) -> PlayerMotion:
    rows = {name: np.concatenate([getattr(piece, name) for piece in pieces]) for name in _BY_FRAME}
    n = len(rows["joints_m"])
    return replace(pieces[0], t_s=np.arange(n) / FPS, **rows)


def scattered(
    rng: np.random.Generator, motion: PlayerMotion, camera_m: Array, azimuth: float
) -> PlayerMotion:
    """Every pose turned about the vertical and put somewhere in front of the camera."""
    n = len(motion.t_s) // 3
    turn = rng.uniform(0, 2 * np.pi, n)
    away = np.exp(rng.uniform(np.log(NEAREST_M), np.log(FARTHEST_M), n))
    aside = azimuth + rng.uniform(-0.12, 0.12, n)
    goal = camera_m[:2] + away[:, None] * np.stack([np.cos(aside), np.sin(aside)], 1)
    here = told.ground_track(motion.joints_m)[1::3]
    move = np.tile(np.eye(4), (n, 1, 1))
    c, s = np.cos(turn), np.sin(turn)
    move[:, 0, 0], move[:, 0, 1], move[:, 1, 0], move[:, 1, 1] = c, -s, s, c
    move[:, :2, 3] = goal - np.einsum("nij,nj->ni", move[:, :2, :2], here)
    each = np.repeat(move, 3, axis=0)

    def carried(points: Array) -> Array:
        turned = np.einsum("nij,nvj->nvi", each[:, :3, :3], points) + each[:, None, :3, 3]
        return turned.astype(points.dtype)

    poses = ("head_pose", "left_hand_pose", "right_hand_pose", "chest_pose")
    return replace(
        motion,
        vertices_m=carried(motion.vertices_m),
        joints_m=carried(motion.joints_m),
        **{name: each @ getattr(motion, name) for name in poses},
    )


def _file(folder: Path, cast: int) -> Path:
    return folder / f"cast-{cast:04d}.npz"


def make(folder: Path, cast: int, model: Path, n_poses: int, movement: str = "closeout") -> None:
    """One cast's pictures, read; skipped when its file is there."""
    import cv2

    from posecheck.keypoints.pose import PlayerReader

    out = _file(folder, cast)
    if out.exists():
        return
    rng = np.random.default_rng(SEED + cast)
    spec = body(rng)
    height = float(np.exp(rng.uniform(np.log(1.2), np.log(5.5))))
    camera = np.array([*rng.uniform(-12, 12, 2), height])
    azimuth = float(rng.uniform(0, 2 * np.pi))
    names = MOVEMENTS.get(movement, ("closeout",))
    if movement == "closeout":
        poses = album(rng, spec, n_poses)
    else:
        poses = captured_album(rng, spec, n_poses, varied=movement == "varied")
    motion = scattered(rng, poses, camera, azimuth)
    kit = replace(_kit(rng), trousers=cast >= TROUSERS_FROM and cast % 3 == 0)
    outfit = Outfit(motion, kit, SEED + cast)
    middles = np.arange(len(motion.t_s) // 3) * 3 + 1
    hips = told.middle(motion.joints_m, "hip")
    aims = hips + rng.normal(0, 0.12, hips.shape)
    aims[:, 2] = np.clip(aims[:, 2], 0.6, 1.1)
    rotation = np.array([look_at(camera, aim) for aim in aims])
    k = Place((0, 0, 1), (0, 1, 1), SIZE).k
    k[0, 0] = k[1, 1] = FOCAL_PX
    track = Track(k, rotation, camera, SIZE, still=False)
    rows: list[tuple[int, Array, Array, Array]] = []
    with PlayerReader(model) as reader:
        pictures = Studio(track).frames([outfit], FPS, middles)
        for i, picture in zip(middles, pictures, strict=True):
            quality = int(rng.integers(45, 90))
            _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
            shown = cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1].copy()
            seen = project(k, rotation[i], camera, motion.vertices_m[i][::5])
            low, high = seen.min(0), seen.max(0)
            tall = high[1] - low[1]
            box = np.concatenate([low, high]) + rng.normal(0, 0.02, 4) * tall
            for _ in range(2):  # the second time as one follows a player from frame to frame
                pose = reader.read(shown, box)
            if pose is not None:
                rows.append((i, pose.xy_px, pose.world_m, pose.visibility))
    at = np.array([row[0] for row in rows])
    reach, hand_height = told.hands(motion)
    scratch = out.with_suffix(".part.npz")
    np.savez_compressed(
        scratch,
        xy_px=np.array([row[1] for row in rows]),
        world_m=np.array([row[2] for row in rows]),
        score=np.array([row[3] for row in rows]),
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
        trousers=kit.trousers,
        poses=len(middles),
        movement=np.repeat(names, len(middles) // len(names))[at // 3],
    )
    scratch.replace(out)
    print(f"cast {cast}: {len(rows)} of {len(middles)} poses read", flush=True)


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
    from posecheck.keypoints.model import pose_model_path

    parser = argparse.ArgumentParser(
        prog="python -m sample_clips.render.stills", description=__doc__
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--casts", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="number of the first cast")
    parser.add_argument(
        "--movement", choices=("closeout", "varied", "captured"), default="closeout"
    )
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
