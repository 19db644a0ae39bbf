"""How well the stance net, as it is, reads bodies that move as somebody was captured moving.

    python -m sample_clips.render.stills FOLDER --movement captured --first 2000 --casts 3
    python models/check_captured.py FOLDER

Writes ``CAPTURED_CARD.md``. Jumping and landing are not in the fit at all; running and walking are,
by other bodies and with legs and trunk varied by chance.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from fit_intervals import expected_cells
from fit_stance import OUTPUTS, TALL_PX, Cast, by_formulas, mean_and_bias, outputs_of, read_cast

from posecheck.intervals import Conditions
from posecheck.measures.stance_net import default_net

CARD = Path(__file__).parent / "CAPTURED_CARD.md"
KEYS = ("knee_bend_deg", "trunk_lean_deg")


def main() -> None:
    """Read the command line, measure, write the card."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    paths = sorted(parser.parse_args().folder.glob("cast-????.npz"))
    casts = [read_cast(path) for path in paths]
    movement = np.concatenate([np.load(path)["movement"] for path in paths])
    lines = [
        "# The stance net on captured movement",
        "",
        "Written by `models/check_captured.py`.",
        "",
        f"{len(movement)} rendered pictures of {len(casts)} bodies that took part in no fit, "
        "moving as the motion clips that come with pybullet move (legs, pelvis, chest and head; "
        "the arms hold the stick), seen from all round. Errors in degrees, mean absolute (bias). "
        "*In bar*: the share of pictures whose error stays below what nine in ten of the fit's "
        "own held-out closeouts stayed below; 90 % says that other movement is read as well. "
        "Jumping and landing are not in the fit at all.",
        "",
        "| movement | pictures | knee bend: pose model's body | learned | in bar "
        "| trunk lean: pose model's body | learned | in bar |",
        "|---|---|---|---|---|---|---|---|",
        *_rows(casts, movement),
    ]
    CARD.write_text("\n".join(lines) + "\n")
    print(CARD.read_text())


def _rows(casts: list[Cast], movement: np.ndarray) -> Iterator[str]:
    net, cells = default_net(), expected_cells()
    truth = np.concatenate([cast.truth for cast in casts])
    read = np.concatenate([outputs_of(net, cast.view) for cast in casts])
    plain = np.concatenate([np.stack(by_formulas(cast.view.body_m), axis=1) for cast in casts])
    view = np.concatenate([cast.view.view_deg for cast in casts])
    height = np.concatenate([cast.height_px for cast in casts])
    columns = []
    for number, key in enumerate(KEYS):
        at = OUTPUTS.index(key)
        off = read[:, at] - truth[:, at]
        bars = [
            next(
                cell.half
                for cell in cells[key]
                if cell.holds(read[i, at], Conditions(view[i], height[i], 1.0, 1, 1))
            )
            for i in range(len(off))
        ]
        columns.append((plain[:, number] - truth[:, at], off, np.abs(off) <= bars))
    groups = {name: movement == name for name in dict.fromkeys(movement)}
    groups |= {"all": movement != "", f"all, {TALL_PX} px and more": height >= TALL_PX}
    for name, chosen in groups.items():
        told = [
            text
            for by_body, off, inside in columns
            for text in (
                mean_and_bias(by_body[chosen]),
                mean_and_bias(off[chosen]),
                f"{inside[chosen].mean():.0%}",
            )
        ]
        yield f"| {name} | {chosen.sum()} | " + " | ".join(told) + " |"


if __name__ == "__main__":
    main()
