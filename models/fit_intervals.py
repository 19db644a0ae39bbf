"""Fit the error bars of ``posecheck/intervals.toml`` on film whose truth is known.

    python -m sample_clips.render.spread FOLDER     # render the film
    python models/fit_intervals.py FOLDER           # measure it, fit, write the table

The sample practice takes no part: other bodies, other places of the camera, other seeds.

Stance: readings over windows around the arrival (each as long as the arrival window) against the
truth over the same windows; a run seen from far says nothing of a stance. By view, a straight line
takes reading to truth (a robust fit). Half of the interval is the split-conformal 90 % quantile
(Lei et al., Distribution-free predictive inference for regression, JASA 113, 2018; from memory) of
what is left over, each body's from a line fitted without that body.

The bars of speeds and places on the ground are carried over from the ground
track and are not fitted here; their table is kept as it stands.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from sklearn.linear_model import HuberRegressor

from posecheck.check import Observed, Settings, observe_clip
from posecheck.errors import ClipError
from posecheck.ground.camera import Camera
from posecheck.intervals import Conditions, default_intervals
from posecheck.keypoints.model import pose_model_path
from posecheck.keypoints.pose import PoseReader
from posecheck.measures.measure import QUANTITY
from posecheck.measures.of_rep import stance_reading, stance_series
from posecheck.practice import ClipNotes, Layout, Practice, View

FloatArray = npt.NDArray[np.float64]

STANCE = ("knee_bend_deg", "trunk_lean_deg", "hip_drop", "hand_reach", "hand_height", "base_width")
VIEWS = ((0, 45), (45, 75), (75, 105), (105, 135), (135, 180))
HEIGHTS = ((130, 200), (200, 9999))
SIZE_PX = (1280, 720)
WINDOW_S = 0.4
EVERY_S = 0.1
AROUND_S = (-0.5, 0.6)
"""Windows begin this long before and after the true arrival."""
COVER = 0.9
MIN_READINGS = 40


@dataclass(frozen=True)
class Reading:
    """One window's reading beside its truth."""

    body: int
    read: float
    truth: float
    conditions: Conditions


def main() -> None:
    """Read the command line, measure, fit, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--model", default="full")
    parser.add_argument(
        "--out", type=Path, default=Path(__file__).parents[1] / "posecheck" / "intervals.toml"
    )
    given = parser.parse_args()
    readings: dict[str, list[Reading]] = defaultdict(list)
    clips = 0
    settings = Settings(given.model, keypoints_folder=given.folder / "keypoints")
    with PoseReader(pose_model_path(given.model)) as reader:
        for scene in sorted((given.folder / "truth").glob("*.scene.json")):
            name = scene.name.removesuffix(".scene.json")
            told = json.loads(scene.read_text())
            clip = given.folder / "clips" / f"{name}.mp4"
            try:
                seen = observe_clip(clip, _practice(given.folder, name), settings, reader)
            except ClipError as error:
                print(error)
                continue
            clips += 1
            for key, reading in _stance_readings(given.folder, name, told["body"], seen):
                readings[key].append(reading)
    given.out.write_text(_table(readings, clips, given.model, given.out.read_text()))
    print(f"{given.out.name} is written from {clips} clips.")


def _practice(folder: Path, name: str) -> Practice:
    """The clip as part of a practice with points marked all over the ground it shows.

    Cameras that see neither goal nor cones are wanted too, so the points are a grid that nobody
    painted, marked as by a hand that is off by up to 0.7 pixels.
    """
    arrays = np.load(folder / "truth" / f"{name}.npz")
    camera = Camera(
        arrays["camera_matrix"][0], arrays["camera_rotation"][0], arrays["camera_centre_m"][0]
    )
    points = {f"{x},{y}": (float(x), float(y)) for x in range(-14, 15, 4) for y in range(0, 21, 4)}
    seen = camera.to_image(np.array([(*xy, 0.0) for xy in points.values()]))
    inside = [bool(((at > 4) & (at < np.array(SIZE_PX) - 5)).all()) for at in seen]
    rng = np.random.default_rng(int(name[-3:]))
    clicked = seen + rng.uniform(-0.7, 0.7, seen.shape)
    marks = {
        point: (float(x), float(y))
        for point, (x, y), there in zip(points, clicked, inside, strict=True)
        if there
    }
    notes = ClipNotes(View("spread", SIZE_PX, 0.0, marks))
    key = f"clips/{name}.mp4"
    return Practice(folder.resolve(), "spread", layout=Layout(points), notes={key: notes})


def _stance_readings(
    folder: Path, name: str, body: int, seen: Observed
) -> Iterator[tuple[str, Reading]]:
    true = np.load(folder / "truth" / f"{name}.stance.npz")
    unfit = default_intervals().unfit
    series = stance_series(seen.stance)
    arrival = json.loads((folder / "truth" / f"{name}.json").read_text())["arrival_s"]
    if arrival is None:
        return
    first, last = arrival + AROUND_S[0], min(arrival + AROUND_S[1], seen.clip.t_s[-1] - WINDOW_S)
    for start in np.arange(first, last, EVERY_S):
        window = (float(start), float(start + WINDOW_S))
        during = (true["t_s"] >= window[0]) & (true["t_s"] <= window[1])
        for key in STANCE:
            read, conditions = stance_reading(series[key], seen.stance, window)
            if unfit(conditions) is None and np.isfinite(read):
                truth = float(np.median(true[key][during]))
                yield key, Reading(body, read, truth, conditions)


def _table(readings: dict[str, list[Reading]], clips: int, model: str, before: str) -> str:
    bodies = {reading.body for each in readings.values() for reading in each}
    lines = [
        "# Error bars: 90 % intervals by what is known of the film when a rep is measured.",
        f"# Stance: written by models/fit_intervals.py from {clips} rendered clips of "
        f"{len(bodies)} bodies,",
        f"# none of them in the sample practice, pose model {model}. Fit anew rather than edit.",
        "#",
        "# [limits]          below these nothing is said of a stance at all.",
        "# [stance.KEY]      cells by view (0 from the front, 90 side-on, 180 from behind) and by",
        "#                   the player's height in the picture: best value = gain * reading +",
        "#                   shift, interval that plus or minus half. The first cell that holds",
        "#                   the case counts.",
        "# [ground.KEY]      by where metres come from: half = factor * sqrt(floor^2 + sd^2), with",
        "#                   sd carried over from the ground track. 1.645 is the normal law's.",
        "",
        "[limits]",
        "min_height_px = 130     # a knee of a smaller player is two or three pixels wide",
        "min_seen_share = 0.5    # of the window's frames",
        "min_score = 0.5         # mean chance that hips, knees and ankles are seen",
    ]
    for key in STANCE:
        lines += ["", f"[stance.{key}]", "cells = ["]
        lines += [f"    {cell}" for cell in _cells(key, readings[key])]
        lines += ["]"]
    ground = before[before.index("# Carried over from the ground track") :]
    return "\n".join(lines) + "\n\n" + ground


def _cells(key: str, readings: list[Reading]) -> Iterator[str]:
    digits = QUANTITY[key].decimals + 1
    for low, high in VIEWS:
        here = [r for r in readings if _within(r.conditions.view_deg, low, high)]
        if len(here) < MIN_READINGS:
            here = readings
        gain, shift = _line(here)
        left = _left_over(here)
        for small, tall in HEIGHTS:
            sized = np.array([small <= r.conditions.height_px < tall for r in here])
            chosen = left[sized] if sized.sum() >= MIN_READINGS else left
            half = _conformal(chosen)
            yield (
                f"{{ view_deg = [{low}, {high}], height_px = [{small}, {tall}], "
                f"gain = {gain:.3f}, shift = {shift:.{digits + 1}f}, half = {half:.{digits}f} }}"
                f",  # {len(chosen)} readings"
            )


def _within(view: float, low: float, high: float) -> bool:
    return low <= view < high or view == high == 180


def _line(readings: list[Reading]) -> tuple[float, float]:
    fitted = HuberRegressor(max_iter=1000).fit(
        [[r.read] for r in readings], [r.truth for r in readings]
    )
    return float(fitted.coef_[0]), float(fitted.intercept_)


def _left_over(readings: list[Reading]) -> FloatArray:
    """``(n,)`` absolute error of each reading after a line fitted on the other bodies."""
    left = np.empty(len(readings))
    for body in {r.body for r in readings}:
        gain, shift = _line([r for r in readings if r.body != body])
        for number, r in enumerate(readings):
            if r.body == body:
                left[number] = abs(gain * r.read + shift - r.truth)
    return left


def _conformal(left: FloatArray) -> float:
    """The split-conformal quantile: the ceil((n + 1) * 0.9)-th smallest."""
    rank = min(int(np.ceil((len(left) + 1) * COVER)), len(left))
    return float(np.sort(left)[rank - 1])


if __name__ == "__main__":
    main()
