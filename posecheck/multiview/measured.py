"""A rep measured by several phones together: its moments and every quantity, with intervals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.keypoints.tuning import MIN_RUN
from posecheck.maths.arrays import FloatArray, finite_median
from posecheck.maths.timeline import in_window, stretches
from posecheck.measures.measure import Measure, missing
from posecheck.measures.of_run import FORMULAS, OUT_OF_SIGHT
from posecheck.measures.quantities import QUANTITIES, Quantity, ReadFrom
from posecheck.measures.run import Run
from posecheck.multiview.set_up import SetUp
from posecheck.multiview.stance_seen import StanceSeen, scatter_of, stance_seen
from posecheck.multiview.triangulate import Points
from posecheck.multiview.tuning import (
    ERRORS_LAST_S,
    HIPS_HZ,
    LEAST_OF_WINDOW,
    PLACE_FLOOR_SD_M,
    SDS_OF_90,
    SPEED_FLOOR_SD_MPS,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.layout import Side
from posecheck.reps.rep import Rep
from posecheck.reps.splitting import find_reps
from posecheck.reps.tuning import MAX_GAP_S, REACH_M

_HIPS = SKELETON.indices("left_hip", "right_hip")


@dataclass(frozen=True)
class Measured:
    """A rep as several phones saw it together, on the first phone's clock.

    Attributes:
        t_s: ``(n,)`` moments that all films show.
        points: the defender's landmarks at these.
        stance: his.
        defender, attacker: places of the hips on the ground; attacker None when not seen.
        rep: its moments, None when nobody closes out in what the films share.
        measures: by key; empty without a rep.
        ground: of the first phone, with how well its lengths are known.
    """

    t_s: FloatArray
    points: Points
    stance: StanceSeen
    defender: GroundTrack
    attacker: GroundTrack | None
    rep: Rep | None
    measures: Mapping[str, Measure]
    ground: Ground

    @property
    def errors(self) -> dict[str, float]:
        """By key half the 90 % interval of every measure that is not missing."""
        return {
            key: each.high - each.value
            for key, each in self.measures.items()
            if each.value is not None and each.high is not None
        }


def measure_together(
    set_up: SetUp,
    *,
    on_field: bool,
    cone_xy_m: FloatArray | None = None,
    spot_side: Side | None = None,
    reach_m: float = REACH_M,
) -> Measured:
    """Measure the rep that several phones filmed.

    Args:
        set_up: the phones, calibrated.
        on_field: True when their axes are the field's.
        cone_xy_m, spot_side, reach_m: as for one phone.
    """
    phones, calibration = set_up.phones, set_up.calibration
    rig = calibration.rig
    start, end = rig.overlap_s(phones)
    t_s = phones[0].t_s[in_window(phones[0].t_s, start, end)]
    points = rig.checked_points(phones, 0, t_s)
    stance = stance_seen(phones, calibration, points, t_s)
    defender = _place(set_up, 0, t_s, points)
    attacker = None
    if len(phones[0].players) > 1:
        attacker = _place(set_up, 1, t_s, rig.checked_points(phones, 1, t_s))
    reps = find_reps(
        defender.xy_m,
        attacker.xy_m if attacker else None,
        t_s,
        defender.velocity_mps,
        cone_xy_m=cone_xy_m,
        reach_m=reach_m,
    )
    rep = next((each for each in reps if each.arrival_s is not None), None)
    ground = _ground(rig.cameras[0], set_up, on_field)
    measures: dict[str, Measure] = {}
    if rep is not None and rep.arrival_s is not None:
        run = Run(rep, rep.arrival_s, defender, attacker, ground, cone_xy_m, spot_side)
        measures = {
            quantity.key: _of_stance(quantity, stance, t_s, rep.arrival_s)
            if quantity.read_from is ReadFrom.STANCE
            else _of_run(quantity, run)
            for quantity in QUANTITIES
        }
    return Measured(t_s, points, stance, defender, attacker, rep, measures, ground)


def _ground(camera: Camera, set_up: SetUp, on_field: bool) -> Ground:
    n = len(set_up.phones)
    known = sum(phone.known is not None for phone in set_up.phones)
    scale_sd = set_up.calibration.scale_sd
    described = f"{n} phones, {known} of them with known points, good to {scale_sd:.0%}"
    return Ground(camera, "marks" if known else "players", described, scale_sd, scale_sd, on_field)


def _place(set_up: SetUp, player: int, t_s: FloatArray, points: Points) -> GroundTrack:
    """Where a player's hips are over the ground, with the errors of landmarks, cameras, clocks."""
    xy_m, velocity = _moving(points, t_s)
    rig_xy, rig_speed = np.zeros(len(t_s)), np.zeros(len(t_s))
    # The ground's axes themselves are turned from rig to rig: lengths count, not places.
    for rig in set_up.calibration.varied:
        other = rig.points(set_up.phones, player, t_s)
        there, speeding = _moving(other, t_s)
        went = np.linalg.norm(there - np.nanmedian(there, axis=0), axis=1)
        goes = np.linalg.norm(xy_m - np.nanmedian(xy_m, axis=0), axis=1)
        rig_xy += np.nan_to_num(went - goes) ** 2
        faster = np.linalg.norm(speeding, axis=1) - np.linalg.norm(velocity, axis=1)
        rig_speed += np.nan_to_num(faster) ** 2
    scatter = scatter_of(points)[_HIPS].mean()
    spread = points.covariance_m2[:, _HIPS][..., :2, :2].mean(axis=1) / 2 * scatter**2
    landmark_sd = np.sqrt(np.nan_to_num(np.linalg.eigvalsh(np.nan_to_num(spread))[:, -1]))
    seen = np.isfinite(xy_m).all(axis=1)
    sd_m = np.sqrt(landmark_sd**2 + rig_xy + PLACE_FLOOR_SD_M**2)
    speed_sd = np.sqrt((landmark_sd / ERRORS_LAST_S) ** 2 + rig_speed + SPEED_FLOOR_SD_MPS**2)
    return GroundTrack(
        t_s, xy_m, velocity, np.where(seen, sd_m, np.nan), np.where(seen, speed_sd, np.nan)
    )


def _moving(points: Points, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Place and velocity ``(n, 2)`` of the hips; NaN where they are not seen for too long."""
    from scipy.interpolate import make_smoothing_spline

    xy_m = points.xyz_m[:, _HIPS, :2].mean(axis=1)
    place, velocity = np.full(xy_m.shape, np.nan), np.full(xy_m.shape, np.nan)
    seen = np.isfinite(xy_m).all(axis=1)
    for run in stretches(t_s, seen, bridged_s=MAX_GAP_S, broken_s=MAX_GAP_S):
        if len(run) < MIN_RUN:
            continue
        since_s = t_s - t_s[run[0]]
        within = slice(run[0], run[-1] + 1)
        spline = make_smoothing_spline(
            since_s[run], xy_m[run], w=np.gradient(since_s[run]), lam=(2 * np.pi * HIPS_HZ) ** -4
        )
        place[within] = spline(since_s[within])
        velocity[within] = spline.derivative()(since_s[within])
    return place, velocity


def _of_stance(
    quantity: Quantity, stance: StanceSeen, t_s: FloatArray, arrival_s: float
) -> Measure:
    first_s, last_s = quantity.window_s
    window = in_window(t_s, arrival_s + first_s, arrival_s + last_s)
    values = stance.values[quantity.base]
    seen = window & np.isfinite(values)
    wanted = (last_s - first_s) / float(np.median(np.diff(t_s)))
    if seen.sum() < LEAST_OF_WINDOW * wanted:
        because = "too few frames show the legs to both phones"
        return missing(quantity.key, because)
    independent = max(1.0, (last_s - first_s) / ERRORS_LAST_S)
    passing = finite_median(stance.sd[quantity.base][seen]) / np.sqrt(independent)
    lasting = finite_median(stance.lasting_sd[quantity.base][seen])
    of = f"{int(seen.sum())} frames that the phones share"
    return _measure(quantity, finite_median(values[seen]), float(np.hypot(passing, lasting)), of)


def _of_run(quantity: Quantity, run: Run) -> Measure:
    reading = FORMULAS[quantity.key](run)
    if isinstance(reading, str):
        return missing(quantity.key, reading)
    if not np.isfinite(reading.value):
        return missing(quantity.key, OUT_OF_SIGHT)
    below, above = reading.unseen_below, reading.unseen_above
    return _measure(quantity, reading.value, reading.sd, run.ground.described, below, above)


def _measure(
    quantity: Quantity,
    value: float,
    sd: float,
    read_from: str,
    unseen_below: float = 0.0,
    unseen_above: float = 0.0,
) -> Measure:
    least = -np.inf if quantity.signed else 0.0
    low, high = value - SDS_OF_90 * sd - unseen_below, value + SDS_OF_90 * sd + unseen_above
    low, value, high = (max(least, each) for each in (low, value, high))
    return Measure(quantity.key, value, low, high, read_from)
