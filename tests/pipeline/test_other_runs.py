"""A short film with two reps in it is never silently one."""

from __future__ import annotations

import numpy as np
import pytest
from actors import runs, stands

from posecheck.camera.motion import CameraMotion
from posecheck.pipeline.other_runs import closeouts_s, not_measured
from posecheck.players.track import Followed, PlayerTrack
from posecheck.reps.rep import ArrivalSource, Rep

T_S = np.arange(0, 12, 1 / 30)


def followed(*feet: object) -> Followed:
    """Players of 90 px whose feet are there."""
    tracks = []
    for number, foot in enumerate(feet):
        x, y = np.array([foot(t) for t in T_S]).T
        box = np.stack([x - 15, y - 90, x + 15, y], axis=1)
        tracks.append(PlayerTrack(number, box, np.ones(len(T_S), dtype=bool)))
    still = CameraMotion(np.tile(np.eye(3), (len(T_S), 1, 1)), np.ones(len(T_S), dtype=bool))
    return Followed(T_S, tuple(tracks), still)


def rep(start_s: float, arrival_s: float) -> Rep:
    return Rep(start_s, None, arrival_s, arrival_s + 1.0, ArrivalSource.ATTACKER)


def test_every_run_at_somebody_is_found() -> None:
    everybody = followed(
        runs((100, 300), (500, 300), 1.0, 3.0),
        runs((90, 290), (505, 290), 7.0, 9.0),
        stands(560, 300),
    )
    first, second = closeouts_s(everybody, focal_px=800)
    assert first == pytest.approx((1.1, 3.0), abs=0.5)
    assert second == pytest.approx((7.1, 9.0), abs=0.5)


def test_the_way_back_is_none() -> None:
    def foot(t_s: float) -> tuple[float, float]:
        if t_s < 5:
            return runs((100, 300), (500, 300), 1.0, 3.0)(t_s)
        return runs((500, 300), (100, 300), 5.0, 7.5)(t_s)

    everybody = followed(foot, stands(560, 300), stands(60, 300))
    assert len(closeouts_s(everybody, focal_px=800)) == 1


RUNS = ((1.0, 3.0), (7.04, 9.0))


@pytest.mark.parametrize(
    ("runs", "reps", "sentence"),
    [
        (RUNS[:1], [rep(1.0, 3.0)], None),
        (RUNS, [rep(1.0, 3.0), rep(7.0, 9.0)], None),
        (RUNS, [rep(1.1, 2.9)], "It shows more than is measured: only the run from 1.1 s on is, "
         "not the run from 7.0 s on; cut it into a film for each."),
        (RUNS, [rep(7.0, 9.0)], "It shows more than is measured: only the run from 7.0 s on is, "
         "not the run from 1.0 s on; cut it into a film for each."),
        ((*RUNS, (10.5, 11.5)), [rep(1.0, 3.0)], "It shows more than is measured: only the run "
         "from 1.0 s on is, not the runs from 7.0 s and 10.5 s on; cut it into a film for each."),
        ((*RUNS, (10.5, 11.5)), [rep(1.0, 3.0), rep(10.5, 11.5)], "It shows more than is measured: "
         "only the runs from 1.0 s and 10.5 s on are, not the run from 7.0 s on; cut it into a "
         "film for each."),
        # A piece of the same run, before it or after, by whoever else it was followed as.
        (((0.0, 0.9), (1.4, 3.0)), [rep(1.4, 3.0)], None),
        (((1.0, 3.0), (4.5, 5.2)), [rep(1.0, 3.0)], None),
    ],
)  # fmt: skip
def test_what_is_not_measured_is_said(
    runs: tuple[tuple[float, float], ...], reps: list[Rep], sentence: str | None
) -> None:
    assert not_measured(runs, reps) == sentence
