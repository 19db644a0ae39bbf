"""Fit the net that tells from a body how high the lines of sight to his feet pass below the hips.

    python -m models.render.stills FOLDER     # hours of processor time, can be stopped
    python models/fit_feet.py FOLDER

Writes the net into posecheck, and its card. As with the stance net, bodies are dealt into folds and
every error told of is of a body that took no part in the fit it is read with; neither the sample
practice nor any clip has a part in this.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import numpy.typing as npt
from fit_stance import Cast, read_cast
from fitting import COVER, MEMBERS, Recipe, fit_net, mirrored

from models.render.body import JOINTS
from posecheck.body.foot_sight import NET_FILE, OUTPUTS, FootSight, features, read_feet
from posecheck.body.net import BodyNet, arrays_of
from posecheck.camera.pinhole import Camera
from posecheck.ground.readings import Sight
from posecheck.maths.arrays import FloatArray

Chosen = npt.NDArray[np.bool_]

HERE = Path(__file__).parent
NET = HERE.parent / "posecheck" / "measures" / NET_FILE
CARD = HERE / "FEET_CARD.md"

RECIPE = Recipe(
    OUTPUTS,
    features,
    unit=np.array([0.1, 0.1]),
    hidden=(256, 128, 64),
    dropout=0.15,
    epochs=60,
    mean=True,
)
FOLDS, WORKERS = 4, 2
MIN_PICTURES = 60
SOLE_M = 0.045
"""Height of heel and toe landmarks over the ground while a foot stands, for comparison."""


@dataclass(frozen=True, eq=False)
class Placed:
    """One body's pictures and where it was.

    Attributes:
        cast: as for the stance.
        sight: of every picture, with the true heights.
        range_m: ``(n,)`` of the hips.
        lifted_m: ``(n, 2 feet)`` how high the feet are.
    """

    cast: Cast
    sight: list[Sight]
    range_m: FloatArray
    lifted_m: FloatArray

    @property
    def truth(self) -> FloatArray:
        """``(n, 2 feet)`` how high the lines of sight pass where the hips are."""
        return np.concatenate([each.feet.height_m for each in self.sight])


def main() -> None:
    """Read the command line, fit, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    given = parser.parse_args()
    everybody = [read_placed(path) for path in sorted(given.folder.glob("cast-????.npz"))]
    folds = [everybody[k::FOLDS] for k in range(FOLDS)]
    others = [[each for each in everybody if each not in fold] for fold in folds]
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        whole, *nets = pool.map(fit, [everybody, *others])
    held = [
        (each, read_feet(each.cast.view, net))
        for net, fold in zip(nets, folds, strict=True)
        for each in fold
    ]
    CARD.write_text(_card(held))
    print(CARD.read_text())
    np.savez_compressed(NET, allow_pickle=False, **arrays_of(whole))


def read_placed(path: Path) -> Placed:
    """One file of ``models.render.stills``."""
    with np.load(path) as kept:
        arrays = dict(kept)
    cast = read_cast(path)
    joints = arrays["joints_m"]
    hips, *feet = (
        joints[:, [JOINTS.index(name) for name in names]].mean(axis=1)
        for names in (("left_hip", "right_hip"), *_feet())
    )
    sights, ranges = [], []
    for i, rotation in enumerate(arrays["camera_rotation"]):
        camera = Camera(arrays["camera_matrix"], rotation, arrays["camera_centre_m"])
        xy_px, score = arrays["xy_px"][i : i + 1], np.ones((1, arrays["xy_px"].shape[1]))
        unknown = FootSight(np.full((1, 2), np.nan), np.full((1, 2), np.nan))
        sight = Sight.of(np.zeros(1), camera, xy_px, score, unknown)
        away = sight.reach(hips[i : i + 1, :2])
        height = camera.centre_m[2] - away[:, None] * sight.dip
        sights.append(Sight.of(sight.t_s, camera, xy_px, score, FootSight(height, 0 * height)))
        ranges.append(away[0])
    return Placed(
        cast,
        sights,
        np.array(ranges),
        np.stack([each[:, 2] for each in feet], axis=1),
    )


def _feet() -> list[tuple[str, str]]:
    return [(f"{side}_heel", f"{side}_foot_index") for side in ("left", "right")]


def fit(everybody: Sequence[Placed]) -> BodyNet:
    """A net fitted on every body and its mirror image."""
    inputs = np.concatenate(
        [features(v) for each in everybody for v in (each.cast.view, each.cast.view.mirrored)]
    )
    truth = np.concatenate(
        [rows for each in everybody for rows in (each.truth, mirrored(each.truth, OUTPUTS))]
    )
    return fit_net(inputs, truth, RECIPE)


# -- how good it is ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _HeldOut:
    """All pictures in a row, each read by a net that never saw the body.

    Attributes:
        off_m, sd_m: ``(n,)`` of the range as both feet tell it.
        plain_off_m: ``(n,)`` of the nearer foot taken to stand below the hips.
        range_m, dip_deg, view_deg, height_px: ``(n,)``.
        inside: ``(n, 2 feet)`` whether the truth lies in the room left.
        lifted, hidden, spoilt: ``(n,)``.
        movement: ``(n,)``.
    """

    off_m: FloatArray
    sd_m: FloatArray
    plain_off_m: FloatArray
    range_m: FloatArray
    dip_deg: FloatArray
    view_deg: FloatArray
    height_px: FloatArray
    inside: Chosen
    lifted: Chosen
    hidden: Chosen
    spoilt: Chosen
    movement: npt.NDArray[np.str_]


def _row(each: Placed, read: FootSight) -> _HeldOut:
    off, sd, plain, dip = [], [], [], []
    for i, sight in enumerate(each.sight):
        told = FootSight(read.height_m[i : i + 1], read.sd_m[i : i + 1])
        away, away_sd = Sight.of(
            sight.t_s, sight.camera, sight.steady_px, np.ones(sight.steady_px.shape[:2]), told
        ).by_feet()
        off.append(away[0] - each.range_m[i])
        sd.append(away_sd[0])
        plain.append((sight.camera.centre_m[2] - SOLE_M) / sight.dip.max() - each.range_m[i])
        dip.append(np.degrees(np.arctan(sight.camera.centre_m[2] / each.range_m[i])))
    n, view = len(off), each.cast.view
    return _HeldOut(
        *(np.array(values) for values in (off, sd, plain)),
        each.range_m,
        np.array(dip),
        view.view_deg,
        view.height_px,
        np.abs(each.truth - read.height_m) <= 1.645 * read.sd_m,
        each.lifted_m.min(axis=1) > each.lifted_m.min() + 0.05,
        each.cast.hidden,
        each.cast.spoilt,
        np.repeat(each.cast.movement, n),
    )


def _card(held: Sequence[tuple[Placed, FootSight]]) -> str:
    rows = [_row(*each) for each in held]
    all_of = _HeldOut(
        *(np.concatenate([getattr(row, name) for row in rows]) for name in vars(rows[0]))
    )
    n = len(all_of.off_m)
    lines = [
        "# Feet net: what it is and how far off it is",
        "",
        "Written by `models/fit_feet.py`; fit anew rather than edit.",
        "",
        "- **Does**: tells from one picture how far away a player is: how high over the ground the "
        "lines of sight to his feet pass where his hips are. A foot on the ground right below them "
        "would make that a sole's height; feet stand ahead or behind, and swing. "
        f"{len(features(held[0][0].cast.view)[0])} numbers of the pose model, {MEMBERS} "
        f"perceptrons of {', '.join(map(str, RECIPE.hidden))} units.",
        f"- **Learned from** {n} rendered pictures of {len(held)} bodies, those of the stance net "
        "and more: reps, some with feet where the weight of somebody who brakes demands them, long "
        "runs, attackers who wait, call, catch and jog off, and poses put together from motion "
        "capture by chance, so that the balance of a pose tells little.",
        "- **Errors** are of bodies left out of the fit, single pictures, camera known exactly: "
        "mean absolute, bias in brackets. *Plain*: the nearer foot taken to stand below the hips. "
        f"*Room*: how often the truth of a foot lies in what is left around it; {COVER:.0%} is "
        "asked for.",
        "- **Not known**: how it does on people; rendered feet stand on level ground.",
        "",
        "| | pictures | range | of the range | plain | room |",
        "|---|---|---|---|---|---|",
    ]
    for name, chosen in _conditions(all_of):
        if chosen.sum() >= MIN_PICTURES:
            lines.append(
                f"| {name} | {chosen.sum()} | " + " | ".join(_cells(all_of, chosen)) + " |"
            )
    return "\n".join(lines) + "\n"


def _cells(held: _HeldOut, chosen: Chosen) -> list[str]:
    off, plain = held.off_m[chosen], held.plain_off_m[chosen]
    return [
        f"{np.abs(off).mean():.2f} ({off.mean():+.2f}) m",
        f"{np.mean(np.abs(off) / held.range_m[chosen]):.1%}",
        f"{np.abs(plain).mean():.2f} ({plain.mean():+.2f}) m",
        f"{held.inside[chosen].mean():.0%}",
    ]


def _conditions(held: _HeldOut) -> Iterator[tuple[str, Chosen]]:
    def within(values: FloatArray, low: float, high: float) -> Chosen:
        return np.asarray((values >= low) & (values < high))

    yield "all", np.ones(len(held.off_m), dtype=bool)
    yield (
        "in the open, well filmed, 200 px and more",
        (~held.hidden & ~held.spoilt & (held.height_px >= 200)),
    )
    yield "another player in front", held.hidden
    yield "badly filmed", held.spoilt
    yield "both feet off the ground", held.lifted
    for low, high in ((0, 8), (8, 14), (14, 20), (20, 30), (30, 90)):
        yield f"camera looks down {low} to {high}°", within(held.dip_deg, low, high)
    for low, high in ((0, 45), (45, 75), (75, 105), (105, 135), (135, 181)):
        yield f"view {low} to {min(high, 180)}°", within(held.view_deg, low, high)
    for low, high in ((0, 130), (130, 200), (200, 300), (300, 9999)):
        text = f"{low} to {high} px" if high < 9999 else f"{low} px and more"
        yield text, within(held.height_px, low, high)
    for movement, told in {
        "closeout": "reps, feet below the hips",
        "weighed": "reps, feet where the weight demands them",
        "running": "long runs",
        "attacker": "attackers",
        "varied": "poses of motion capture, and such put together by chance",
        "captured": "motion capture",
    }.items():
        yield told, held.movement == movement


if __name__ == "__main__":
    main()
