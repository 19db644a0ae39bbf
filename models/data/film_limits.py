"""Sample clips degraded on purpose around each arrival: how blurred, dark or burnt out may they be?

Kernels and light are of known amount, landmarks are read again and the stance from them. Who is
where is taken from the film as it is: a blurred film is harder to follow as well, which is not
looked at here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pyarrow as pa

from models.data.keyed import read_keyed, write_keyed
from models.files import ROWS, nets_digest
from posecheck.body.stance_track import stance_track
from posecheck.body.view import body_view
from posecheck.cli.demo import sample_practice_folder
from posecheck.errors import ClipError
from posecheck.filming.look import Look, Looks, look_at
from posecheck.keypoints.smoothing import smooth_track
from posecheck.maths.arrays import finite_median
from posecheck.pipeline.observe import Observed, observe_clip
from posecheck.pipeline.settings import Settings
from posecheck.pose.model_files import pose_model_path
from posecheck.pose.open_readers import Readers
from posecheck.pose.reader import PlayerReader
from posecheck.pose.track import PlayerPose, PoseTrack
from posecheck.practice.reading import read_practice
from posecheck.reps.rep import arrival_window
from posecheck.scoring.truth import Truth, read_truth
from posecheck.video.clip import Frame

Rgb = npt.NDArray[np.uint8]
Degrade = Callable[[Rgb, float], Rgb]
"""Takes a picture and the player's height in it, pixels."""

FILE = ROWS / "film-limits.parquet"
STEP = "limits"
LEAD_S = 0.15
"""Read before the window as well: the reader follows a body from frame to frame."""
LEAST_PX = 130
"""The stance of smaller players is not measured in any case."""


@dataclass(frozen=True)
class Arrival:
    """One arrival degraded in one way.

    Attributes:
        degraded: by what.
        clip: which arrival.
        knee_off_deg, lean_off_deg: errors of knee bend and trunk lean, NaN where nothing was read.
        seen: share of the frames that were read.
        blur, light, burnt: as the film's quality is measured.
    """

    degraded: str
    clip: str
    knee_off_deg: float
    lean_off_deg: float
    seen: float
    blur: float
    light: float
    burnt: float


def out_of_focus(width: float) -> Degrade:
    """Gaussian blur that makes a sharp edge so wide, in heights of the player."""
    return lambda rgb, tall: np.asarray(
        cv2.GaussianBlur(rgb, (0, 0), width * tall / np.sqrt(2 * np.pi)), dtype=np.uint8
    )


def smeared(length: float) -> Degrade:
    """Level smear of so many heights of the player, as a panned or shaken phone makes."""

    def degrade(rgb: Rgb, tall: float) -> Rgb:
        n = max(1, round(length * tall))
        return np.asarray(cv2.filter2D(rgb, -1, np.full((1, n), 1 / n)), dtype=np.uint8)

    return degrade


def lit(times: float, grain: float = 4.0) -> Degrade:
    """So many times the light, clipped at white, with grain of a sensor in 255ths."""
    rng = np.random.default_rng(0)

    def degrade(rgb: Rgb, tall: float) -> Rgb:
        bright = np.clip((rgb / 255.0) ** 2.2 * times, 0, 1) ** (1 / 2.2) * 255
        return np.asarray(np.clip(bright + rng.normal(0, grain, rgb.shape), 0, 255), np.uint8)

    return degrade


AS_FILMED = "as filmed"
DEGRADED: dict[str, Degrade] = (
    {AS_FILMED: lambda rgb, tall: rgb}
    | {f"out of focus, {w:.0%}": out_of_focus(w) for w in (0.02, 0.04, 0.06, 0.08)}
    | {f"smeared, {w:.0%}": smeared(w) for w in (0.04, 0.08, 0.12, 0.16)}
    | {f"light x {n}": lit(n) for n in (2, 4, 8, 16)}
    | {f"light / {n}": lit(1 / n) for n in (4, 16, 64, 256)}
)


def measure_film_limits(kept: Path) -> None:
    """Degrade, read, and keep the rows; landmarks of the film as it is are kept in a folder."""
    folder = sample_practice_folder()
    found: list[Arrival] = []
    for truth, seen in _observed(folder, kept):
        found += _degraded(truth, seen)
        print(f"{seen.clip.path.stem}: {len(DEGRADED)} degradations", flush=True)
    write_keyed(FILE, pa.Table.from_pylist([asdict(each) for each in found]), nets_digest())


def read_film_limits() -> list[Arrival]:
    """The rows, read with the nets in the tree.

    Raises:
        StaleRows: other nets read them.
    """
    return [Arrival(**row) for row in read_keyed(FILE, nets_digest(), STEP).to_pylist()]


def _observed(folder: Path, kept: Path) -> Iterator[tuple[Truth, Observed]]:
    practice = read_practice(folder)
    settings = Settings(keypoints_folder=kept / "limits")
    with Readers(pose_model_path()) as reader:
        for clip in sorted((folder / "clips").glob("*.mp4")):
            truth = read_truth(folder, clip.stem)
            if not truth.has_rep:
                continue
            try:
                seen = observe_clip(clip, practice, settings, reader)
            except ClipError as error:
                print(error)
                continue
            window = arrival_window(truth.facts["arrival_s"])
            if truth.over(truth.height_px, *window) >= LEAST_PX:
                yield truth, seen


def _degraded(truth: Truth, seen: Observed) -> Iterator[Arrival]:
    t_s = seen.clip.t_s
    start_s, end_s = arrival_window(truth.facts["arrival_s"])
    about = (t_s >= start_s - LEAD_S) & (t_s <= end_s + 1e-6)
    frames = [f for f in seen.clip.frames(which=about) if np.isfinite(_body(seen, f)).all()]
    inside = about & (t_s >= start_s - 1e-6)
    for name, degrade in DEGRADED.items():
        poses: dict[int, PlayerPose] = {}
        looks: list[tuple[float, Look]] = []
        with PlayerReader(pose_model_path()) as reader:
            for frame in frames:
                body = _body(seen, frame)
                tall = float(np.ptp(body[:, 1]))
                low, high = body.min(axis=0), body.max(axis=0)
                corner = np.maximum(low - 0.8 * tall, 0).astype(int)
                x, y = corner
                right, bottom = (high + 0.8 * tall).astype(int)
                picture = degrade(np.ascontiguousarray(frame.rgb[y:bottom, x:right]), tall)
                box = np.concatenate([low - 0.06 * tall - corner, high + 0.06 * tall - corner])
                pose = reader.read(picture, box)
                looks.append((frame.t_s, look_at(picture, body - corner)))
                if pose is not None:
                    poses[frame.index] = replace(pose, xy_px=pose.xy_px + corner)
        smooth = smooth_track(PoseTrack.from_poses(t_s, [poses.get(i) for i in range(len(t_s))]))
        track = stance_track(smooth, body_view(smooth, seen.ground.camera, seen.motion))
        look = Looks(np.array([at for at, _ in looks]), tuple(each for _, each in looks))
        over = look.between(start_s, end_s)
        yield Arrival(
            name,
            seen.clip.path.stem,
            finite_median(track.knee_bend_deg[inside]) - truth.facts["knee_bend_deg"],
            finite_median(track.trunk_lean_deg[inside]) - truth.facts["trunk_lean_deg"],
            float(np.isfinite(track.knee_bend_deg[inside]).mean()),
            over.blur,
            over.light,
            over.burnt,
        )


def _body(seen: Observed, frame: Frame) -> npt.NDArray[np.float64]:
    return np.asarray(seen.defender.xy_px[frame.index])
