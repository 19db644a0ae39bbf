"""Find how blurred, dark or burnt out a film may be: the limits in ``posecheck/intervals.py``.

    python models/measure_film_limits.py          # ten minutes or more; writes the card

The sample clips are spoilt on purpose around each arrival, by kernels and light of known amount,
their landmarks read anew and the stance told from them. Who is where is taken from the film as it
is: a blurred film is harder to follow as well, which is not looked at here.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.body.stance_track import stance_track
from posecheck.body.view import body_view
from posecheck.cli.demo import sample_practice_folder
from posecheck.errors import ClipError
from posecheck.filming.limits import MAX_BLUR, MAX_BURNT, MIN_LIGHT
from posecheck.filming.look import Look, Looks, look_at
from posecheck.keypoints.smoothing import smooth_track
from posecheck.pipeline.check import Observed, Settings, observe_clip
from posecheck.pose.model_files import pose_model_path
from posecheck.pose.reader import PlayerReader, PoseReader
from posecheck.pose.track import PlayerPose, PoseTrack
from posecheck.practice.reading import read_practice
from posecheck.reps.rep import arrival_window
from posecheck.scoring.truth import Truth, read_truth
from posecheck.video.clip import Frame

Rgb = npt.NDArray[np.uint8]
Spoil = Callable[[Rgb, float], Rgb]
"""Takes a picture and the player's height in it, pixels."""

CARD = Path(__file__).parent / "FILM_CARD.md"
LEAD_S = 0.15
"""Read before the window as well: the reader follows a body from frame to frame."""
LEAST_PX = 130
"""Smaller players are told nothing of in any case."""


@dataclass(frozen=True)
class Result:
    """One arrival spoilt in one way."""

    knee_deg: float
    lean_deg: float
    seen: float
    look: Look


def out_of_focus(width: float) -> Spoil:
    """Gaussian blur that makes a sharp edge so wide, in heights of the player."""
    return lambda rgb, tall: np.asarray(
        cv2.GaussianBlur(rgb, (0, 0), width * tall / np.sqrt(2 * np.pi)), dtype=np.uint8
    )


def smeared(length: float) -> Spoil:
    """Level smear of so many heights of the player, as a panned or shaken phone makes."""

    def spoil(rgb: Rgb, tall: float) -> Rgb:
        n = max(1, round(length * tall))
        return np.asarray(cv2.filter2D(rgb, -1, np.full((1, n), 1 / n)), dtype=np.uint8)

    return spoil


def lit(times: float, grain: float = 4.0) -> Spoil:
    """So many times the light, clipped at white, with grain of a sensor in 255ths."""
    rng = np.random.default_rng(0)

    def spoil(rgb: Rgb, tall: float) -> Rgb:
        bright = np.clip((rgb / 255.0) ** 2.2 * times, 0, 1) ** (1 / 2.2) * 255
        return np.asarray(np.clip(bright + rng.normal(0, grain, rgb.shape), 0, 255), np.uint8)

    return spoil


WAYS: dict[str, Spoil] = (
    {"as filmed": lambda rgb, tall: rgb}
    | {f"out of focus, {w:.0%}": out_of_focus(w) for w in (0.02, 0.04, 0.06, 0.08)}
    | {f"smeared, {w:.0%}": smeared(w) for w in (0.04, 0.08, 0.12, 0.16)}
    | {f"light x {n}": lit(n) for n in (2, 4, 8, 16)}
    | {f"light / {n}": lit(1 / n) for n in (4, 16, 64, 256)}
)


def main() -> None:
    """Spoil, read, compare, write the card."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    folder = sample_practice_folder()
    results: dict[str, list[Result]] = {way: [] for way in WAYS}
    for truth, seen in _observed(folder):
        for way, result in _spoilt(truth, seen):
            results[way].append(result)
    CARD.write_text(_card(results), "utf-8")
    print(CARD.read_text("utf-8"))


def _observed(folder: Path) -> list[tuple[Truth, Observed]]:
    practice = read_practice(folder)
    found = []
    with tempfile.TemporaryDirectory() as kept, PoseReader(pose_model_path()) as reader:
        for clip in sorted((folder / "clips").glob("*.mp4")):
            truth = read_truth(folder, clip.stem)
            if not truth.has_rep:
                continue
            try:
                settings = Settings(keypoints_folder=Path(kept))
                seen = observe_clip(clip, practice, settings, reader)
            except ClipError as error:
                print(error)
                continue
            window = arrival_window(truth.facts["arrival_s"])
            if truth.over(truth.height_px, *window) >= LEAST_PX:
                found.append((truth, seen))
    return found


def _spoilt(truth: Truth, seen: Observed) -> list[tuple[str, Result]]:
    t_s = seen.clip.t_s
    start_s, end_s = arrival_window(truth.facts["arrival_s"])
    about = (t_s >= start_s - LEAD_S) & (t_s <= end_s + 1e-6)
    frames = [f for f in seen.clip.frames(which=about) if np.isfinite(_body(seen, f)).all()]
    inside = about & (t_s >= start_s - 1e-6)
    found = []
    for way, spoil in WAYS.items():
        poses: dict[int, PlayerPose] = {}
        looks = []
        with PlayerReader(pose_model_path()) as reader:
            for frame in frames:
                body = _body(seen, frame)
                tall = float(np.ptp(body[:, 1]))
                low, high = body.min(axis=0), body.max(axis=0)
                corner = np.maximum(low - 0.8 * tall, 0).astype(int)
                x, y = corner
                right, bottom = (high + 0.8 * tall).astype(int)
                picture = spoil(np.ascontiguousarray(frame.rgb[y:bottom, x:right]), tall)
                box = np.concatenate([low - 0.06 * tall - corner, high + 0.06 * tall - corner])
                pose = reader.read(picture, box)
                looks.append((frame.t_s, look_at(picture, body - corner)))
                if pose is not None:
                    poses[frame.index] = replace(pose, xy_px=pose.xy_px + corner)
        lined_up = PoseTrack.from_poses(t_s, [poses.get(i) for i in range(len(t_s))])
        smooth = smooth_track(lined_up)
        track = stance_track(smooth, body_view(smooth, seen.ground.camera, seen.motion))
        look = Looks(np.array([at for at, _ in looks]), tuple(each for _, each in looks))
        found.append(
            (
                way,
                Result(
                    _middle(track.knee_bend_deg[inside]) - truth.facts["knee_bend_deg"],
                    _middle(track.trunk_lean_deg[inside]) - truth.facts["trunk_lean_deg"],
                    float(np.isfinite(track.knee_bend_deg[inside]).mean()),
                    look.between(start_s, end_s),
                ),
            )
        )
    return found


def _body(seen: Observed, frame: Frame) -> npt.NDArray[np.float64]:
    return np.asarray(seen.defender.xy_px[frame.index])


def _middle(values: npt.NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def _card(results: dict[str, list[Result]]) -> str:
    first = results["as filmed"]
    lines = [
        "# How blurred, dark or burnt out a film may be",
        "",
        "Written by `models/measure_film_limits.py`; run anew rather than edit.",
        "",
        f"- **Measured on** the arrivals of {len(first)} sample clips, spoilt on purpose by "
        "kernels and light of known amount, landmarks read anew, each picture by itself: without "
        "the player's own standing height, which a whole clip tells. Blur is given as the width "
        "it makes of a sharp edge, in heights of the player; light is multiplied before the "
        "sensor's curve.",
        f"- **Limits drawn from it** (`posecheck/intervals.py`): blur {MAX_BLUR:.0%}, burnt out "
        f"{MAX_BURNT:.0%}, light {MIN_LIGHT:.0%}; beyond them nothing is told of a stance.",
        "- **Not in it**: real lenses, real grain, following a spoilt film. Pictures "
        "blurred, smeared and dark are among those the stance net learned from; how often the room "
        "it leaves holds the truth in those stands in STANCE_CARD.md.",
        "",
        "| | told | frames read | knee bend | shifted by, most | trunk lean | blur read | light "
        "| burnt out |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for way, each in results.items():
        knee, lean = (np.array([getattr(r, key) for r in each]) for key in ("knee_deg", "lean_deg"))
        moved = np.abs(knee - [r.knee_deg for r in first])
        told = np.isfinite(knee)
        cells = [way, f"{told.sum()}", f"{np.mean([r.seen for r in each]):.0%}"]
        if told.any():
            cells += [
                f"{np.nanmean(np.abs(knee)):.1f}° ({np.nanmean(knee):+.1f})",
                f"{np.nanmean(moved):.1f}°, {np.nanmax(moved):.1f}°",
                f"{np.nanmean(np.abs(lean)):.1f}° ({np.nanmean(lean):+.1f})",
            ]
        else:
            cells += ["", "", ""]
        for name, form in (("blur", ".1%"), ("light", ".2f"), ("burnt", ".0%")):
            cells.append(format(_middle(np.array([getattr(r.look, name) for r in each])), form))
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
