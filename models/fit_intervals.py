"""Fit the error bars of ``posecheck/intervals.toml`` on film whose truth is known.

    python -m sample_clips.render.spread FOLDER     # render the film
    python models/fit_intervals.py FOLDER           # measure it, fit, write the table

The sample practice takes no part: other bodies, other places of the camera, other seeds.

Stance: readings over many windows of each clip (the length of the arrival window) against the
truth over the same windows. By view, a straight line takes reading to truth (a robust fit); half
of the interval is the split-conformal 90 % quantile (Lei et al., Distribution-free predictive
inference for regression, JASA 113, 2018) of what is left over, each body's from a line fitted
without that body. Ground: the same quantile of the error over the standard deviation that was
carried along, once with marked points and once from the players' height.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from sklearn.linear_model import HuberRegressor

from posecheck.accuracy import read_truth
from posecheck.check import Observed, Settings, observe_clip
from posecheck.errors import ClipError
from posecheck.ground.field import closeout_layout
from posecheck.intervals import Conditions, Intervals, Spread, default_intervals
from posecheck.keypoints.model import pose_model_path
from posecheck.keypoints.pose import PoseReader
from posecheck.measures.measure import QUANTITY
from posecheck.measures.of_rep import measure_rep, stance_reading, stance_series
from posecheck.practice import ClipNotes, Player, Practice, View
from posecheck.rep import find_reps

FloatArray = npt.NDArray[np.float64]

STANCE = ("knee_bend_deg", "trunk_lean_deg", "hip_drop", "hand_reach", "hand_height", "base_width")
GROUND = (
    "closeout_speed_mps", "arrival_speed_mps", "braking_distance_m", "peak_braking_mps2",
    "time_to_arrival_s", "overrun_m", "approach_offset_m", "bow_m",
)  # fmt: skip
VIEWS = ((0, 45), (45, 75), (75, 105), (105, 135), (135, 180))
HEIGHTS = ((130, 200), (200, 9999))
WINDOW_S = 0.4
EVERY_S = 0.2
COVER = 0.9
MIN_READINGS = 40
FLOORS = {
    "closeout_speed_mps": 0.1, "arrival_speed_mps": 0.1, "braking_distance_m": 0.1,
    "peak_braking_mps2": 0.5, "time_to_arrival_s": 0.05, "overrun_m": 0.1,
    "approach_offset_m": 0.1, "bow_m": 0.05,
}  # fmt: skip
"""Resolution of each measure: below it a carried standard deviation says nothing."""


@dataclass(frozen=True)
class Reading:
    """One window's reading beside its truth."""

    body: int
    read: float
    truth: float
    conditions: Conditions


@dataclass(frozen=True)
class Miss:
    """One ground measure's error beside half the width it would have with a factor of 1."""

    body: int
    error: float
    half: float


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
    misses: dict[tuple[str, str], list[Miss]] = defaultdict(list)
    clips = 0
    bars = _plain_bars()
    with PoseReader(pose_model_path(given.model)) as reader:
        for scene in sorted((given.folder / "truth").glob("*.scene.json")):
            name = scene.name.removesuffix(".scene.json")
            told = json.loads(scene.read_text())
            settings = Settings(given.model, keypoints_folder=given.folder / "keypoints")
            clip = given.folder / "clips" / f"{name}.mp4"
            for source, practice in _practices(given.folder, name, told):
                try:
                    seen = observe_clip(clip, practice, settings, reader)
                except ClipError as error:
                    print(f"{name} ({source}): {error}")
                    continue
                clips += source == "marks"
                if source == "marks":
                    for key, reading in _stance_readings(given.folder, name, told["body"], seen):
                        readings[key].append(reading)
                for key, miss in _ground_misses(given.folder, name, told["body"], seen, bars):
                    misses[key, source].append(miss)
    given.out.write_text(_table(readings, misses, clips, given.model))
    print(f"{given.out} is written from {clips} clips.")


def _plain_bars() -> Intervals:
    """Bars that only carry the standard deviation along."""
    ground = {
        key: {source: Spread(1.0, FLOORS[key]) for source in ("marks", "players")} for key in GROUND
    }
    return replace(default_intervals(), ground=ground)


def _practices(folder: Path, name: str, told: dict) -> Iterator[tuple[str, Practice]]:
    """The clip as part of a practice with marked points, and of one without."""
    truth = json.loads((folder / "truth" / f"{name}.json").read_text())
    heights = told["heights_m"]
    players = [Player(number, "", height_m=h) for number, h in enumerate(heights)]
    notes = ClipNotes(spot=truth["spot"], defender=players[0], attacker=players[1])
    key = f"clips/{name}.mp4"
    plain = Practice(folder.resolve(), "calibration", notes={key: notes})
    # Every other clip without the players' heights: rosters are often incomplete.
    unknown = replace(notes, defender=None, attacker=None)
    bare = replace(plain, notes={key: notes if int(name[-3:]) % 2 else unknown})
    yield "players", bare
    if len(told["marks"]) >= 4:
        view = View(
            "calibration", (1280, 720), 0.0, {n: tuple(m) for n, m in told["marks"].items()}
        )
        layout = closeout_layout()
        yield "marks", replace(plain, layout=layout, notes={key: replace(notes, view=view)})


def _stance_readings(
    folder: Path, name: str, body: int, seen: Observed
) -> Iterator[tuple[str, Reading]]:
    true = np.load(folder / "truth" / f"{name}.stance.npz")
    unfit = default_intervals().unfit
    series = stance_series(seen.stance)
    for start in np.arange(0.4, seen.clip.t_s[-1] - WINDOW_S, EVERY_S):
        window = (float(start), float(start + WINDOW_S))
        during = (true["t_s"] >= window[0]) & (true["t_s"] <= window[1])
        for key in STANCE:
            read, conditions = stance_reading(series[key], seen.stance, window)
            if unfit(conditions) is None and np.isfinite(read):
                truth = float(np.median(true[key][during]))
                yield key, Reading(body, read, truth, conditions)


def _ground_misses(
    folder: Path, name: str, body: int, seen: Observed, bars: Intervals
) -> Iterator[tuple[str, Miss]]:
    truth = read_truth(folder, name)
    reps = find_reps(
        seen.defender_ground.xy_m,
        seen.attacker_ground.xy_m if seen.attacker_ground else None,
        seen.clip.t_s,
        seen.defender_ground.velocity_mps,
        cone_xy_m=seen.cone_xy_m,
    )
    if not reps or truth.told["arrival_s"] is None:
        return
    rep = min(reps, key=lambda each: abs((each.arrival_s or np.inf) - truth.told["arrival_s"]))
    measures = measure_rep(
        rep, seen.stance, seen.defender_ground, seen.attacker_ground, seen.ground,
        cone_xy_m=seen.cone_xy_m, spot=truth.told["spot"], intervals=bars,
    )  # fmt: skip
    for key in GROUND:
        got = measures[key]
        want = (
            truth.told["arrival_s"] - truth.told["start_s"]
            if key == "time_to_arrival_s"
            else truth.told.get(key)
        )
        if got.value is not None and got.high is not None and want is not None:
            yield key, Miss(body, got.value - want, got.high - got.value)


def _table(
    readings: dict[str, list[Reading]],
    misses: dict[tuple[str, str], list[Miss]],
    clips: int,
    model: str,
) -> str:
    bodies = {reading.body for each in readings.values() for reading in each}
    lines = [
        "# Error bars: 90 % intervals by what is known of the film when a rep is measured.",
        "# Written by models/fit_intervals.py: do not edit, fit anew.",
        f"# Fitted on {clips} rendered clips of {len(bodies)} bodies, none of them in the sample "
        f"practice, pose model {model}.",
        "#",
        "# [limits]          below these nothing is said of a stance at all.",
        "# [stance.KEY]      cells by view (0 from the front, 90 side-on, 180 from behind) and by",
        "#                   the player's height in the picture: best value = gain * reading +",
        "#                   shift, interval that plus or minus half; n readings stand behind it.",
        "# [ground.KEY]      by where metres come from: half = factor * sqrt(floor^2 + sd^2), with",
        "#                   sd carried over from the ground track (1.645 would be the normal law).",
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
    for key in GROUND:
        lines += ["", f"[ground.{key}]"]
        for source in ("marks", "players"):
            ratios = [abs(m.error) / m.half for m in misses[key, source]]
            factor = _conformal(np.array(ratios))
            lines += [
                f"{source} = {{ factor = {factor:.2f}, floor = {FLOORS[key]} }}  # n = {len(ratios)}"
            ]
    return "\n".join(lines) + "\n"


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
