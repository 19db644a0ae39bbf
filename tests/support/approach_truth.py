"""What an approach came to in the sample practice, from the true tracks and nothing of posecheck.

Places are complex numbers, x + iy, so that angles and sides come from numpy's own argument rather
than from the formulas under test.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

TOP_WITHIN_DEG = 12.0


def approach_truth(folder: Path, name: str) -> dict[str, float]:
    """Heading, least goal side and the attacker's way across, as in the glossary of a page."""
    arrays = np.load(folder / "truth" / f"{name}.npz")
    arrival_s = json.loads((folder / "truth" / f"{name}.json").read_text("utf-8"))["arrival_s"]
    t_s = arrays["t_s"]
    defender, attacker = (
        arrays[f"{who}_ground_m"].astype(float) @ [1, 1j] for who in ("defender", "attacker")
    )

    def at(track: np.ndarray, moment_s: float) -> complex:
        return complex(np.interp(moment_s, t_s, track))

    stood = at(attacker, arrival_s)
    # Looking from the goal at him, his own left is on the right hand: clockwise is negative.
    right_of_goal = stood.real > 0
    at_top = abs(np.degrees(np.angle(stood / 1j))) <= TOP_WITHIN_DEG
    sign = 1.0 if right_of_goal and not at_top else -1.0
    gone = at(defender, arrival_s) - defender[t_s <= arrival_s]
    last_steps = gone[np.abs(gone) >= 1.5][-1]
    second = (t_s >= arrival_s) & (t_s <= arrival_s + 1)
    moved = at(attacker, arrival_s + 1) - stood
    return {
        "heading_deg": sign * float(np.degrees(np.angle(last_steps / stood))),
        "goal_side_m": float((np.abs(attacker) - np.abs(defender))[second].min()),
        "attacker_went_m": sign * float((moved * np.conj(stood)).imag / abs(stood)),
    }
