"""From several films of one rep to calibrated phones: clocks, cameras, names of limbs, checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.multiview.calibrate import (
    Calibration,
    Clock,
    NoCalibration,
    calibrate,
    start_rig,
)
from posecheck.multiview.phone import Phone
from posecheck.multiview.rig import Rig
from posecheck.multiview.swaps import with_names_corrected
from posecheck.multiview.synchronise import shift_by_sound, shifts_by_movement
from posecheck.multiview.triangulate import sight_angle_deg
from posecheck.multiview.tuning import (
    LEAST_OF_BEST_LIKENESS,
    MAX_ANGLE_DEG,
    MAX_LIMB_SPREAD,
    MAX_TYPICAL_MISS_M,
    MIN_ANGLE_DEG,
    MIN_LIKENESS,
    MIN_OVERLAP_S,
    MOST_OF_BEST_SAVING,
    MOVEMENT_SD_S,
    NAMING_ROUNDS,
    SOUND_SD_S,
    SWAP_COST,
    TRIAL_STEP_S,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.stature import Stature
from posecheck.video.sound import Sound

_LIMBS = tuple(
    SKELETON.indices(f"{side}_{a}", f"{side}_{b}")
    for side in ("left", "right")
    for a, b in (("hip", "knee"), ("knee", "ankle"))
)


@dataclass(frozen=True)
class SetUp:
    """Phones that were found to have filmed the same rep, calibrated.

    Attributes:
        phones: with limbs that the pose model had exchanged named rightly.
        calibration: of them.
        clocks_by: "sound" or "movement", for each phone but the first.
        angle_deg: between the lines of sight of the two that see him most nearly at a right angle.
        limb_spread: relative spread over the rep of the length of thighs and shanks, which do not
            change in life.
        n_renamed: in how many frames of one film limbs had been exchanged.
    """

    phones: tuple[Phone, ...]
    calibration: Calibration
    clocks_by: tuple[str, ...]
    angle_deg: float
    limb_spread: float
    n_renamed: int


def set_up(
    phones: Sequence[Phone], sounds: Sequence[Sound | None], statures: Sequence[Stature]
) -> SetUp:
    """Synchronise and calibrate several phones.

    Args:
        phones: two or more, whose players are in the same order.
        sounds: of each film, None where there is none.
        statures: of the players.

    Raises:
        NoCalibration: the films do not show the same rep, or not well enough from two places.
    """
    clocks, by = [Clock(0.0, 0.0)], []
    for phone, sound in zip(phones[1:], sounds[1:], strict=True):
        clock, how = _clock((phones[0], phone), (sounds[0], sound), statures)
        clocks.append(clock)
        by.append(how)
    named, rig, n_renamed = _started(phones, clocks, statures)
    calibration = calibrate(named, rig, clocks, statures)
    named, n_more = with_names_corrected(named, calibration.rig)
    if n_more:
        n_renamed += n_more
        calibration = calibrate(named, calibration.rig, clocks, statures)
    return _checked(named, calibration, tuple(by), n_renamed)


def _started(
    phones: Sequence[Phone], clocks: Sequence[Clock], statures: Sequence[Stature]
) -> tuple[tuple[Phone, ...], Rig, int]:
    """The phones with limbs named rightly, cameras to start from, and how often limbs were not."""
    statures_m = np.array([stature.mean_m for stature in statures])
    named, n_renamed = tuple(phones), 0
    rig = start_rig(named, clocks, statures_m)
    for _ in range(NAMING_ROUNDS):
        named, n_more = with_names_corrected(named, rig)
        n_renamed += n_more
        if not n_more:
            break
        rig = start_rig(named, clocks, statures_m)
    return named, rig, n_renamed


def _clock(
    pair: tuple[Phone, Phone],
    sounds: tuple[Sound | None, Sound | None],
    statures: Sequence[Stature],
) -> tuple[Clock, str]:
    """The other phone's clock against the first's, and what it was read from."""
    first, other = pair
    heard = shift_by_sound(*sounds)
    if heard is not None:
        _require_overlap(first, other, heard.later_s)
        return Clock(heard.later_s, SOUND_SD_S), "sound"
    found = shifts_by_movement(first, other)
    most = max((shift.likeness for shift in found), default=0.0)
    least = max(MIN_LIKENESS, LEAST_OF_BEST_LIKENESS * most)
    tried = [Clock(each.later_s, MOVEMENT_SD_S) for each in found if each.likeness > least]
    if not tried:
        raise NoCalibration(
            f"nothing in it moves as in {other.name}",
            "name films of the same rep that share a second or more, and clap once in sight of "
            "both phones before the first rep",
        )
    if len(tried) == 1:
        return tried[0], "movement"
    savings = [_saving(pair, clock, statures) for clock in tried]
    order = np.argsort(savings)[::-1]
    best, next_best = order[:2]
    if savings[next_best] > MOST_OF_BEST_SAVING * abs(savings[best]):
        raise NoCalibration(
            f"it and {other.name} fit together as well "
            f"{abs(tried[next_best].later_s - tried[best].later_s):.1f} s later",
            "clap once in sight of both phones before the rep, and film it with sound",
        )
    return tried[best], "movement"


def _saving(pair: tuple[Phone, Phone], clock: Clock, statures: Sequence[Stature]) -> float:
    """How well two films fit together at a shift of the clock; the greater the better."""
    clocks = [Clock(0.0, 0.0), clock]
    try:
        named, rig, n_renamed = _started(pair, clocks, statures)
    except NoCalibration:
        return -np.inf
    start, end = rig.overlap_s(pair)
    # As far apart in time whatever the films share, so that sharing more counts.
    frames = max(2, round((end - start) / TRIAL_STEP_S))
    trial = calibrate(named, rig, clocks, statures, frames=frames)
    share = TRIAL_STEP_S * len(pair[0].t_s) / float(np.ptp(pair[0].t_s))
    return trial.saving - SWAP_COST * n_renamed / max(share, 1.0)


def _require_overlap(first: Phone, other: Phone, later_s: float) -> None:
    rig = Rig((), (0.0, later_s))
    start, end = rig.overlap_s((first, other))
    if end - start < MIN_OVERLAP_S:
        raise NoCalibration(
            f"by their sound it and {other.name} share {max(end - start, 0):.1f} s only",
            "let both phones film the whole rep",
        )


def _checked(
    phones: tuple[Phone, ...], calibration: Calibration, by: tuple[str, ...], n_renamed: int
) -> SetUp:
    rig = calibration.rig
    names = " and ".join(phone.name for phone in phones[1:])
    start, end = rig.overlap_s(phones)
    if end - start < MIN_OVERLAP_S:
        raise NoCalibration(
            f"it and {names} share {max(end - start, 0):.1f} s only",
            "let both phones film the whole rep",
        )
    t_s = phones[0].t_s[(phones[0].t_s >= start) & (phones[0].t_s <= end)]
    points = rig.checked_points(phones, 0, t_s).xyz_m
    middle = np.nanmedian(points.reshape(-1, 3), axis=0)
    if calibration.typical_miss_m > MAX_TYPICAL_MISS_M or not np.isfinite(middle).all():
        raise NoCalibration(
            f"what it and {names} show of the defender does not meet in space "
            f"({100 * calibration.typical_miss_m:.0f} cm apart)",
            "see that both films show the same player and rep, and that the phones stood still",
        )
    angle = sight_angle_deg(rig.cameras, middle)
    if not MIN_ANGLE_DEG <= angle <= MAX_ANGLE_DEG:
        raise NoCalibration(
            f"it and {names} see him from {angle:.0f}° apart, which shows no depth",
            "set the phones up 60 to 120° apart as he sees them",
        )
    spread = limb_spread(points)
    if not spread <= MAX_LIMB_SPREAD:
        raise NoCalibration(
            f"his legs change their length by {spread:.0%} in what it and {names} show together",
            "film nearer, with both legs in sight of both phones",
        )
    return SetUp(phones, calibration, by, angle, spread, n_renamed)


def limb_spread(xyz_m: FloatArray) -> float:
    """Relative spread over time of the length of thighs and shanks, the mean of the four.

    Args:
        xyz_m: ``(n, 33, 3)``.
    """
    lengths = np.stack(
        [np.linalg.norm(xyz_m[:, a] - xyz_m[:, b], axis=1) for a, b in _LIMBS], axis=1
    )
    whole = lengths[np.isfinite(lengths).all(axis=1)]
    if len(whole) < 2:
        return float("nan")
    low, middle, high = np.quantile(whole, [0.16, 0.5, 0.84], axis=0)
    return float(np.mean((high - low) / 2 / middle))
