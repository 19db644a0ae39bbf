"""An attacker who is hidden behind the defender who runs at him stands where he was.

Seen from behind a rep, the defender comes between the camera and the attacker, often for the rest
of the film. Had the attacker left meanwhile he would have come out beside him.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.maths.timeline import stretches
from posecheck.maths.vectors import unit
from posecheck.reps.tuning import HIDES_M, LOST_S, MAX_GAP_S, STOOD_M


def held_behind(
    t_s: FloatArray, attacker_xy_m: FloatArray, defender_xy_m: FloatArray, camera_xy_m: FloatArray
) -> FloatArray:
    """The attacker's places, ``(n, 2)``, held where the defender stands before him.

    A place is held from a sighting on, and back from one, for as long as the defender is seen in
    the line of sight to it. An attacker who is seen again elsewhere has moved, and nothing is held.
    One who is seen on one side only is held for no longer than a runner may be out of sight. Short
    gaps are left to those who bridge them.

    Args:
        t_s: ``(n,)`` seconds, strictly increasing.
        attacker_xy_m, defender_xy_m: ``(n, 2)``, NaN where not seen.
        camera_xy_m: ``(2,)`` where the camera stands.
    """
    held_m = attacker_xy_m.copy()
    for gap in stretches(t_s, np.asarray(np.isnan(attacker_xy_m).any(axis=1))):
        sightings = [int(one) for one in (gap[0] - 1, gap[-1] + 1) if 0 <= one < len(t_s)]
        places = np.array([_stood_at(t_s, attacker_xy_m, one) for one in sightings])
        if not len(places) or not np.linalg.norm(places[-1] - places[0]) <= STOOD_M:
            continue
        most_s = np.inf if len(sightings) > 1 else LOST_S
        if len(sightings) > 1 and np.ptp(t_s[sightings]) <= MAX_GAP_S:
            continue
        for sighting, place in zip(sightings, places, strict=True):
            hides = _hides(place, defender_xy_m, camera_xy_m)
            for frame in _onwards(sighting, gap, t_s, hides, most_s):
                held_m[frame] = [np.interp(t_s[frame], t_s[sightings], axis) for axis in places.T]
    return held_m


def _stood_at(t_s: FloatArray, xy_m: FloatArray, sighting: int) -> FloatArray:
    """``(2,)`` where he stood around the sighting next to a gap, NaN if he moved.

    The middle of some time: the sighting itself is one of a player who is half hidden.
    """
    around = xy_m[(np.abs(t_s - t_s[sighting]) <= LOST_S) & np.isfinite(xy_m).all(axis=1)]
    place = np.median(around, axis=0)
    moved = np.median(np.linalg.norm(around - place, axis=1)) > STOOD_M / 2
    return np.full(2, np.nan) if moved else np.asarray(place)


def _hides(place_m: FloatArray, xy_m: FloatArray, camera_xy_m: FloatArray) -> BoolArray:
    """``(n,)`` whether one who is at ``(n, 2)`` hides one at a place from the camera; False where
    he is not seen."""
    line = unit(place_m - camera_xy_m)
    off = xy_m - camera_xy_m
    along_m = off @ line
    aside_m = np.abs(off[:, 0] * line[1] - off[:, 1] * line[0])
    nearer = (along_m > 0) & (along_m < np.linalg.norm(place_m - camera_xy_m))
    return np.asarray(nearer & (aside_m <= HIDES_M))


def _onwards(
    sighting: int, gap: IntArray, t_s: FloatArray, hides: BoolArray, most_s: float
) -> list[int]:
    """The frames of a gap through which he stays hidden, from a sighting before or after it."""
    hidden: list[int] = []
    for frame in (gap if sighting < gap[0] else gap[::-1]).tolist():
        last = hidden[-1] if hidden else sighting
        unseen_s = abs(t_s[frame] - t_s[last])
        if unseen_s > MAX_GAP_S or abs(t_s[frame] - t_s[sighting]) > most_s:
            break
        if hides[frame]:
            hidden.append(frame)
    return hidden
