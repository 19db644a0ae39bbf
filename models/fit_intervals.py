"""Fit the error bars of ``posecheck/intervals.toml`` on film whose truth is known.

    python -m models.render.spread FOLDER     # render the film
    python models/fit_intervals.py FOLDER           # measure it, fit, write table and card

The sample practice takes no part, and neither do the bodies the stance net was fitted on: other
bodies, other places of the camera, other seeds.

Stance: readings over windows around the arrival (each as long as the arrival window) against the
truth over the same windows; a run seen from far says nothing of a stance. How far each reading may
be off comes from the stance net itself, picture by picture; how much of that remains over a window
is found here, by two factors for each measure and side he is seen from, below and above: the
split-conformal 95 % quantiles of the errors either way, in units of the room left there
(conformalised quantile regression, Romano, Patterson and Candès, NeurIPS 2019, with the room scaled
rather than shifted; from memory).

Windows with bent knees and others are fitted apart, and the wider counts. Whoever runs upright in
this film runs like all the others, with his stick held alike, and some of it is read closer than of
real runners.

The bars of speeds and places on the ground are carried over from the ground
track and are not fitted here; their table is kept as it stands.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.camera.pinhole import Camera
from posecheck.errors import ClipError
from posecheck.filming.conditions import SIDES, Side, StanceReading
from posecheck.filming.limits import unfit
from posecheck.filming.stance_reading import stance_reading
from posecheck.maths.arrays import FloatArray
from posecheck.measures.quantities import QUANTITY
from posecheck.pipeline.observe import Observed, observe_clip
from posecheck.pipeline.settings import Settings
from posecheck.pose.model_files import pose_model_path
from posecheck.pose.reader import PoseReader
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice

HERE = Path(__file__).parent
CARD = HERE / "INTERVALS_CARD.md"
SIZE_PX = (1280, 720)
WINDOW_S = 0.4
EVERY_S = 0.1
AROUND_S = (-0.5, 0.6)
"""Windows begin this long before and after the true arrival."""
COVER = 0.9
BENT_DEG = 30.0

Factors = tuple[float, float]
"""For the room below and above."""


@dataclass(frozen=True)
class Reading:
    """One window's reading beside its truth."""

    body: int
    read: StanceReading
    truth: float
    bent: bool

    @property
    def off(self) -> float:
        """Error, positive when too much is read."""
        return self.read.value - self.truth

    @property
    def shares(self) -> Factors:
        """The error in units of the room below and above, 0 on the side where it is not."""
        return max(self.off, 0.0) / self.read.below, max(-self.off, 0.0) / self.read.above

    def inside(self, factors: Sequence[float]) -> bool:
        """Whether the truth lies in the interval with these factors."""
        return all(share <= factor for share, factor in zip(self.shares, factors, strict=True))

    @property
    def side(self) -> Side:
        """From where he is seen."""
        return self.read.conditions.seen_from

    def half(self, factors: Sequence[float]) -> float:
        """Half of the interval with these factors."""
        return (factors[0] * self.read.below + factors[1] * self.read.above) / 2


def main() -> None:
    """Read the command line, measure, fit, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--model", default="full")
    parser.add_argument("--out", type=Path, default=HERE.parent / "posecheck" / "intervals.toml")
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
                seen = observe_clip(clip, practice_of(given.folder, name), settings, reader)
            except ClipError as error:
                print(error)
                continue
            clips += 1
            for key, reading in _stance_readings(given.folder, name, told["body"], seen):
                readings[key].append(reading)
    factors = {key: _factors(readings[key]) for key in STANCE}
    CARD.write_text(_card(readings, factors, clips))
    print(CARD.read_text())
    given.out.write_text(_table(factors, given.out.read_text()))


def practice_of(folder: Path, name: str) -> Practice:
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
    arrival = json.loads((folder / "truth" / f"{name}.json").read_text())["arrival_s"]
    if arrival is not None:
        first, last = arrival + AROUND_S[0], arrival + AROUND_S[1]
        last = min(last, seen.clip.t_s[-1] - WINDOW_S)
        yield from readings_between(first, last, true, seen.stance, body)


def readings_between(
    first_s: float,
    last_s: float,
    true: Mapping[str, FloatArray],
    track: StanceTrack,
    body: int,
) -> Iterator[tuple[str, Reading]]:
    """Readings by measure, of every window that begins between two moments and shows a stance."""
    for start in np.arange(first_s, last_s, EVERY_S):
        window = (float(start), float(start + WINDOW_S))
        during = (true["t_s"] >= window[0]) & (true["t_s"] <= window[1])
        reads = {key: stance_reading(key, track, window) for key in STANCE}
        bent = reads["knee_bend_deg"].value >= BENT_DEG
        for key, read in reads.items():
            if unfit(read.conditions) is None:
                yield key, Reading(body, read, float(np.median(true[key][during])), bent)


def _factors(readings: Sequence[Reading]) -> dict[Side, Factors]:
    factors = {}
    for side in SIDES:
        groups = [
            _factor([r.shares for r in readings if r.side == side and r.bent == bent])
            for bent in (True, False)
        ]
        below, above = np.max(groups, axis=0)
        factors[side] = float(below), float(above)
    return factors


def _factor(shares: Sequence[Factors]) -> Factors:
    """On either side the ceil((n + 1) * 0.95)-th smallest error in units of the room left."""
    ordered = np.sort(np.array(shares), axis=0)
    rank = int(np.ceil((len(ordered) + 1) * (1 + COVER) / 2))
    below, above = ordered[min(rank, len(ordered)) - 1]
    return float(below), float(above)


def _table(factors: dict[str, dict[Side, Factors]], before: str) -> str:
    lines = [
        "# Error bars: 90 % intervals by what is known of the film when a rep is measured.",
        "# Stance: written by models/fit_intervals.py; fit anew rather than edit. What they were",
        "# fitted on and how often they hold stands in models/INTERVALS_CARD.md.",
        "#",
        "# [stance]          by measure and side he is seen from, factors for the room that the",
        "#                   stance net leaves below and above.",
        "# [ground.KEY]      by where metres come from: half = factor * sqrt(floor^2 + sd^2), with",
        "#                   sd carried over from the ground track. 1.645 is the normal law's.",
        "",
        "[stance]",
    ]
    for key in STANCE:
        sides = ", ".join(
            f"{side} = [{below:.2f}, {above:.2f}]" for side, (below, above) in factors[key].items()
        )
        lines.append(f"{key} = {{ {sides} }}")
    ground = before[before.index("# Carried over from the ground track") :]
    return "\n".join(lines) + "\n\n" + ground


# -- how often they hold -------------------------------------------------------------------------


def _card(
    readings: dict[str, list[Reading]], factors: dict[str, dict[Side, Factors]], clips: int
) -> str:
    bodies = {reading.body for each in readings.values() for reading in each}
    lines = [
        "# Error bars of the stance: what they were fitted on and how often they hold",
        "",
        "Written by `models/fit_intervals.py`; fit anew rather than edit.",
        "",
        f"- **Fitted on** {clips} rendered clips of {len(bodies)} bodies with cameras all round, "
        "none of them in the sample practice and none known to the stance net; each clip gives "
        f"windows of {WINDOW_S} s around the arrival, which overlap, so there are fewer "
        "independent readings than windows.",
        "- **Coverage** below is of bodies left out: each body's windows are held against the "
        "factor found on all other bodies. 90 % is wanted.",
        "- **Not known**: whether they hold on real film. Nobody has measured knees beside it.",
        f"- **Bent** knees are read at {BENT_DEG:.0f}° and more. These windows and the others are "
        "fitted apart and the wider counts, so bars hold in more than 90 % of all: whoever runs "
        "upright in this film runs like all the others, and is read closer than real runners.",
        "",
        "| measure | windows | mean absolute error (bias) | half, middle | covered | bent |",
        "|---|---|---|---|---|---|",
    ]
    held = {key: _left_out(readings[key]) for key in STANCE}
    for key in STANCE:
        digits = QUANTITY[key].decimals + 1
        off = np.array([reading.off for reading in readings[key]])
        half = np.median([r.half(factors[key][r.side]) for r in readings[key]])
        bent = np.array([r.bent for r in readings[key]])
        inside = np.array(held[key])
        lines.append(
            f"| {QUANTITY[key].label} | {len(off)} | {np.abs(off).mean():.{digits}f} "
            f"({off.mean():+.{digits}f}) | {half:.{digits}f} | {inside.mean():.0%} | "
            f"{inside[bent].mean():.0%} |"
        )
    lines += ["", "Knee bend, by condition:", "", "| | windows | error | covered | bent |"]
    lines += ["|---|---|---|---|---|"]
    key = "knee_bend_deg"
    inside, bent = np.array(held[key]), np.array([r.bent for r in readings[key]])
    for name, chosen in _conditions(readings[key]):
        off = np.abs([r.off for r, there in zip(readings[key], chosen, strict=True) if there])
        if len(off):
            of_bent = f"{inside[chosen & bent].mean():.0%}" if (chosen & bent).any() else ""
            lines.append(
                f"| {name} | {len(off)} | {off.mean():.1f}° | {inside[chosen].mean():.0%} | "
                f"{of_bent} |"
            )
    return "\n".join(lines) + "\n"


def _left_out(readings: Sequence[Reading]) -> list[bool]:
    """Whether each truth lies inside the interval fitted on the other bodies."""
    factors = {
        body: _factors([r for r in readings if r.body != body])
        for body in {r.body for r in readings}
    }
    return [r.inside(factors[r.body][r.side]) for r in readings]


def _conditions(readings: Sequence[Reading]) -> Iterator[tuple[str, npt.NDArray[np.bool_]]]:
    def where(values: Iterable[float], low: float, high: float) -> npt.NDArray[np.bool_]:
        array = np.array(list(values))
        return np.asarray((array >= low) & (array < high))

    for low, high in ((0, 45), (45, 75), (75, 105), (105, 135), (135, 181)):
        chosen = where((r.read.conditions.view_deg for r in readings), low, high)
        yield f"view {low} to {min(high, 180)}°", chosen
    for low, high in ((130, 200), (200, 300), (300, 9999)):
        text = f"{low} to {high} px" if high < 9999 else f"{low} px and more"
        yield text, where((r.read.conditions.height_px for r in readings), low, high)
    for low, high in ((0, 25), (25, 45), (45, 999)):
        text = f"knee bend {low} to {high}°" if high < 999 else f"knee bend {low}° and more"
        yield text, where((r.truth for r in readings), low, high)
    for body in sorted({r.body for r in readings}):
        yield f"body {body}", np.array([r.body == body for r in readings])


if __name__ == "__main__":
    main()
