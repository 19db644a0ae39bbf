"""What is said of a film that limits the measures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from posecheck.clip import Clip
from posecheck.film import film_remarks
from posecheck.measures.stance_track import StanceTrack
from posecheck.players.track import CameraMotion
from posecheck.rep import ArrivalSource, Rep

REP = Rep(0.5, 1.5, 2.0, 3.0, ArrivalSource.ATTACKER)


def remarks(
    height_px: float = 300.0, rate_hz: float = 30.0, hidden: float = 0.0, lost: bool = False
) -> tuple[str, ...]:
    t_s = np.arange(0, 3.5, 1 / rate_hz)
    n = len(t_s)
    knee = np.full(n, 30.0)
    knee[t_s > 3.0 - hidden] = np.nan
    plain = np.zeros(n)
    stance = StanceTrack(
        t_s, knee, plain, plain, plain, plain, plain, plain, np.full(n, height_px), plain
    )
    tracked = np.ones(n, dtype=bool)
    tracked[n // 2] = not lost
    motion = CameraMotion(np.tile(np.eye(3), (n, 1, 1)), tracked)
    return film_remarks(Clip(Path("a.mp4"), "", 1920, 1080, t_s), REP, stance, motion)


@pytest.mark.parametrize(
    ("film", "said"),
    [
        ({}, ()),
        # Exactly at the limit is good enough.
        ({"height_px": 200.0}, ()),
        (
            {"height_px": 150.4},
            ("The defender is only 150 pixels tall; film from nearer, so that he is 200 or more.",),
        ),
        (
            {"rate_hz": 15.0},
            ("The film has only 15 frames a second; set the phone to 30 or 60.",),
        ),
        # A quarter second of two and a half unseen does no harm, a second does.
        ({"hidden": 0.25}, ()),
        (
            {"hidden": 1.0},
            (
                "The defender's legs are read in only 61% of the rep; film from where nobody "
                "stands in front of him.",
            ),
        ),
        (
            {"lost": True},
            (
                "The background could not be followed all through; hold the phone still or use a "
                "tripod.",
            ),
        ),
    ],
)
def test_remarks(film: dict[str, float], said: tuple[str, ...]) -> None:
    assert remarks(**film) == said  # type: ignore[arg-type]
