"""How well the stance net, as it is, reads bodies that move as somebody was captured moving.

    python -m sample_clips.render.stills FOLDER --movement captured --first 2000 --casts 3
    python models/check_captured.py FOLDER

Writes ``CAPTURED_CARD.md``. Jumping and landing are not in the fit at all; running and walking are,
by other bodies.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from fit_stance import TALL_PX, Cast, by_formulas, mean_and_bias, read_cast, told_by

from posecheck.measures.stance_net import OUTPUTS, default_net

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
        "*In room*: the share of pictures whose truth lies in the room that the net leaves around "
        "its reading of a single picture; 90 % is asked for. Jumping and landing are not in the "
        "fit at all; running and walking are, by other bodies.",
        "",
        "| movement | pictures | knee bend: pose model's body | learned | in room "
        "| trunk lean: pose model's body | learned | in room |",
        "|---|---|---|---|---|---|---|---|",
        *_rows(casts, movement),
    ]
    CARD.write_text("\n".join(lines) + "\n")
    print(CARD.read_text())


def _rows(casts: list[Cast], movement: np.ndarray) -> Iterator[str]:
    net = default_net()
    truth = np.concatenate([cast.truth for cast in casts])
    read, below, above = np.concatenate([told_by(net, cast.view) for cast in casts], axis=1)
    plain = np.concatenate([np.stack(by_formulas(cast.view.body_m), axis=1) for cast in casts])
    height = np.concatenate([cast.view.height_px for cast in casts])
    columns = []
    for number, key in enumerate(KEYS):
        at = OUTPUTS.index(key)
        off = read[:, at] - truth[:, at]
        inside = (off <= below[:, at]) & (-off <= above[:, at])
        columns.append((plain[:, number] - truth[:, at], off, inside))
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
