"""Made-up results, so that records, pages and commands are tested without film or pose model.

Every figure here is invented; ``KINDS`` gives what a rep of each kind reads like.
"""

from __future__ import annotations

import hashlib
import os
from functools import cache
from pathlib import Path

import numpy as np

from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded
from posecheck.measures.measure import Measure, missing
from posecheck.measures.quantities import QUANTITIES, Quantity
from posecheck.measures.result import ClipResult, Provenance, RepResult, Series
from posecheck.reps.rep import ArrivalSource, Rep

KINDS: dict[str, dict[str, tuple[float, float]]] = {
    # key: (value, half width of the 90 % interval)
    "breakdown": {
        "knee_bend_deg": (58, 6),
        "late_knee_bend_deg": (60, 6),
        "trunk_lean_deg": (34, 4),
        "hip_drop": (0.19, 0.03),
        "hand_reach": (0.68, 0.1),
        "hand_height": (0.6, 0.1),
        "base_width": (1.9, 0.15),
        "closeout_speed_mps": (5.4, 0.2),
        "arrival_speed_mps": (1.6, 0.2),
        "braking_distance_m": (2.9, 0.3),
        "speed_kept": (0.3, 0.05),
        "peak_braking_mps2": (5.1, 0.8),
        "time_to_arrival_s": (2.3, 0.06),
        "overrun_m": (0.0, 0.1),
        "approach_offset_m": (0.5, 0.15),
        "bow_m": (0.4, 0.1),
        "heading_deg": (-6, 5),
        "goal_side_m": (1.1, 0.2),
        "attacker_went_m": (-0.2, 0.25),
    },
    "upright": {
        "knee_bend_deg": (17, 6),
        "late_knee_bend_deg": (19, 6),
        "trunk_lean_deg": (7, 4),
        "hip_drop": (0.03, 0.03),
        "hand_reach": (0.2, 0.1),
        "hand_height": (0.4, 0.1),
        "base_width": (1.0, 0.15),
        "closeout_speed_mps": (6.1, 0.2),
        "arrival_speed_mps": (5.6, 0.2),
        "braking_distance_m": (0.3, 0.2),
        "speed_kept": (0.92, 0.05),
        "peak_braking_mps2": (1.2, 0.6),
        "time_to_arrival_s": (1.9, 0.06),
        "overrun_m": (2.4, 0.3),
        "approach_offset_m": (-0.4, 0.15),
        "bow_m": (0.05, 0.1),
        "heading_deg": (-3, 5),
        "goal_side_m": (-3.2, 0.3),
        "attacker_went_m": (0.1, 0.25),
    },
    # Close to the thresholds with wide intervals: every call is can't tell.
    "unclear": {
        "knee_bend_deg": (40, 14),
        "late_knee_bend_deg": (42, 14),
        "trunk_lean_deg": (21, 12),
        "hip_drop": (0.12, 0.08),
        "hand_reach": (0.45, 0.3),
        "hand_height": (0.5, 0.3),
        "base_width": (1.6, 0.5),
        "closeout_speed_mps": (5.2, 0.9),
        "arrival_speed_mps": (2.6, 0.8),
        "braking_distance_m": (1.6, 0.8),
        "speed_kept": (0.7, 0.2),
        "peak_braking_mps2": (3.0, 1.5),
        "time_to_arrival_s": (2.2, 0.2),
        "overrun_m": (0.9, 0.6),
        "approach_offset_m": (0.1, 0.6),
        "bow_m": (0.1, 0.5),
        "heading_deg": (-30, 25),
        "goal_side_m": (0.2, 0.8),
        "attacker_went_m": (0.0, 0.9),
    },
}

# A person standing sideways, share of the body height right of and above the heels: a rough
# drawing for overlays, in the order of the pose model's 33 landmarks.
_FIGURE = np.array(
    [(0.06, 0.94)] + [(0.05, 0.96)] * 6 + [(0.0, 0.95)] * 2 + [(0.06, 0.91)] * 2
    + [(-0.02, 0.82), (0.02, 0.82), (0.08, 0.68), (0.12, 0.67), (0.22, 0.68), (0.26, 0.66)]
    + [(0.26, 0.68), (0.30, 0.66), (0.27, 0.69), (0.31, 0.67), (0.25, 0.70), (0.29, 0.68)]
    + [(-0.04, 0.50), (0.0, 0.50), (0.02, 0.27), (0.10, 0.28), (-0.08, 0.04), (0.08, 0.04)]
    + [(-0.10, 0.0), (0.06, 0.0), (0.0, 0.0), (0.16, 0.0)]
)  # fmt: skip


FILM = FilmQuality(
    (
        Graded(
            Aspect.SIZE,
            Grade.USABLE,
            "he is 160 px tall at arrival",
            "Move 3 m nearer, so that he is 200 px tall.",
        ),
        Graded(Aspect.VIEW, Grade.GOOD, "he is seen side-on, 88° from straight on", ""),
    )
)


@cache
def jpeg(width: int = 1280, height: int = 720) -> bytes:
    """A green picture."""
    import cv2

    picture = np.full((height, width, 3), (60, 120, 70), np.uint8)
    done, data = cv2.imencode(".jpg", picture)
    assert done
    return data.tobytes()


def make_measures(kind: str = "breakdown", **values: float | None) -> dict[str, Measure]:
    """Every quantity as a rep of this kind reads; ``values`` override single ones.

    An override of None makes the quantity missing; a number keeps the interval's width.
    """
    measures = {}
    for quantity in QUANTITIES:
        value, half = KINDS[kind].get(quantity.key, _middle(quantity))
        given = values.get(quantity.key, value)
        measures[quantity.key] = (
            missing(quantity.key, "the legs are out of the picture")
            if given is None
            else Measure(
                quantity.key,
                float(given),
                float(given - half),
                float(given + half),
                "38 of 41 frames",
            )
        )
    return measures


def _middle(quantity: Quantity) -> tuple[float, float]:
    """The middle of its plot, for a quantity that no kind of rep speaks of."""
    low, high = quantity.plotted
    return (low + high) / 2, (high - low) / 10


def make_series(
    start_s: float = 0.4,
    arrival_s: float = 2.7,
    end_s: float = 3.7,
    rate_hz: float = 30.0,
    kind: str = "breakdown",
) -> Series:
    """A straight run from the inside cone to the top cone; one frame in the middle is not seen."""
    t_s = np.arange(start_s, end_s, 1 / rate_hz)
    share = np.clip((t_s - start_s) / (arrival_s - start_s), 0, 1)
    past_m = KINDS[kind]["overrun_m"][0] * np.clip(t_s - arrival_s, 0, 1)
    y_m = 3.5 + 9.7 * share + past_m
    defender_xy_m = np.stack([0.1 * np.sin(6 * share), y_m], axis=1)
    attacker_xy_m = np.broadcast_to([0.0, 15.0], (len(t_s), 2)).copy()

    def figure(foot_x_px: np.ndarray, height_px: float) -> np.ndarray:
        foot_xy_px = np.stack([foot_x_px, np.full(len(t_s), 600.0)], axis=1)
        return foot_xy_px[:, None, :] + _FIGURE * np.array([height_px, -height_px])

    series = Series(
        t_s=t_s,
        knee_bend_deg=20 + (KINDS[kind]["knee_bend_deg"][0] - 20) * share**4,
        trunk_lean_deg=10 + (KINDS[kind]["trunk_lean_deg"][0] - 10) * share**4,
        speed_mps=np.hypot(*np.gradient(defender_xy_m, t_s, axis=0).T),
        defender_xy_m=defender_xy_m,
        attacker_xy_m=attacker_xy_m,
        defender_xy_px=figure(300 + 1000 * share + 100 * past_m, 320.0),
        attacker_xy_px=figure(np.full(len(t_s), 1500.0), 330.0)
        * np.array([-1.0, 1.0]) + np.array([3000.0, 0.0]),  # looking left
    )  # fmt: skip
    unseen = len(t_s) // 2
    for name, array in vars(series).items():
        if name != "t_s":
            array[unseen] = np.nan
    return series


def make_rep_result(
    kind: str = "breakdown",
    number: int = 1,
    start_s: float = 0.4,
    film: tuple[str, ...] = (),
    picture: bool = True,
    **values: float | None,
) -> RepResult:
    """One rep; ``values`` as in :func:`make_measures`."""
    arrival_s = start_s + KINDS[kind]["time_to_arrival_s"][0]
    return RepResult(
        number=number,
        rep=Rep(start_s, arrival_s - 0.6, arrival_s, arrival_s + 1.0, ArrivalSource.ATTACKER),
        measures=make_measures(kind, **values),
        series=make_series(start_s, arrival_s, arrival_s + 1.0, kind=kind),
        film=film,
        roles="the defender is the one who leaves the inside",
        scale="6 marked points, fit to 4 cm",
        on_field=True,
        picture=jpeg() if picture else None,
        picture_scale=1280 / 1920,
        picture_t_s=arrival_s if picture else None,
        quality=FILM,
        arrival_within_s=0.08,
    )


def make_provenance(**fields: str) -> Provenance:
    usual = {
        "version": "0.1.0",
        "model": "full",
        "model_digest": "ab" * 32,
        "settings_digest": "cd" * 32,
    }
    return Provenance(**(usual | fields))


def make_clip_result(
    path: Path = Path("rep-01.mp4"),
    kind: str = "breakdown",
    reps: tuple[RepResult, ...] | None = None,
    fault: str | None = None,
    clip_digest: str | None = None,
    provenance: Provenance | None = None,
    **values: float | None,
) -> ClipResult:
    """One clip with one rep of the kind unless ``reps`` or ``fault`` is given.

    The digest follows the path, so different names are different clips.
    """
    if reps is None:
        reps = () if fault else (make_rep_result(kind, **values),)
    return ClipResult(
        path=path,
        clip_digest=clip_digest or hashlib.sha256(os.fsencode(path)).hexdigest(),
        width_px=1920,
        height_px=1080,
        n_frames=120,
        duration_s=4.0,
        rate_hz=30.0,
        reps=reps,
        fault=fault,
        provenance=provenance or make_provenance(),
    )
