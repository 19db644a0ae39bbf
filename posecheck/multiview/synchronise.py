"""How much later one phone's clock shows the same moment: from movement, or from sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.multiview.phone import Phone
from posecheck.multiview.tuning import (
    LAG_APART_S,
    LAG_STEP_S,
    LAGS_TRIED,
    MIN_OVERLAP_S,
    SOUND_APART_S,
    SOUND_SHARPNESS,
    SOUND_STEP_S,
)
from posecheck.pose.skeleton import SKELETON
from posecheck.video.sound import Sound

_HIPS = SKELETON.indices("left_hip", "right_hip")
_LIMBS = [
    SKELETON.indices(f"left_{part}", f"right_{part}")
    for part in ("shoulder", "elbow", "wrist", "knee", "ankle", "heel", "foot_index")
]


@dataclass(frozen=True)
class Shift:
    """How another film's clock stands against the first's.

    Attributes:
        later_s: what the other clock shows at a moment, less what the first shows.
        likeness: correlation of the two at this shift.
    """

    later_s: float
    likeness: float


def shifts_by_movement(first: Phone, other: Phone) -> list[Shift]:
    """The shifts at which the defender moves most alike in two films, best first.

    What is compared looks the same from every side: how fast each limb rises and falls against the
    hips, on the scale of the body. Left and right, which the pose model may exchange, count by
    their sum and by their distance.
    """
    a, b = _movement(first), _movement(other)
    if len(a) < 2 or len(b) < 2:
        return []
    least = round(MIN_OVERLAP_S / LAG_STEP_S)
    lags = np.arange(least - len(a), len(b) - least + 1)
    if not len(lags):
        return []
    likeness = np.array([_likeness(a, b, int(lag)) for lag in lags])
    found: list[Shift] = []
    began_s = float(other.t_s[0] - first.t_s[0])
    remaining = likeness.copy()
    while len(found) < LAGS_TRIED and np.isfinite(remaining).any():
        best = int(np.nanargmax(remaining))
        lag = lags[best] + _vertex(likeness, best)
        found.append(Shift(float(lag * LAG_STEP_S) + began_s, float(likeness[best])))
        remaining[np.abs(lags - lags[best]) * LAG_STEP_S < LAG_APART_S] = np.nan
    return found


def shift_by_sound(first: Sound | None, other: Sound | None) -> Shift | None:
    """The shift at which the onsets of two sound tracks agree, None where none stands out.

    An onset is a rise of the loudness, on a logarithmic scale so that a phone further away counts
    as much. A clap, a whistle or the ball in a stick will do.
    """
    if first is None or other is None:
        return None
    from scipy.signal import correlate

    a, b = (_onsets(sound) for sound in (first, other))
    if min(len(a), len(b)) * SOUND_STEP_S < MIN_OVERLAP_S or not (a.any() and b.any()):
        return None
    agreed = correlate(b, a, mode="full") / (np.linalg.norm(a) * np.linalg.norm(b))
    lags = np.arange(len(agreed)) - (len(a) - 1)
    best = int(np.argmax(agreed))
    elsewhere = agreed[np.abs(lags - lags[best]) * SOUND_STEP_S > SOUND_APART_S]
    if len(elsewhere) and agreed[best] < SOUND_SHARPNESS * elsewhere.max():
        return None
    later_s = lags[best] * SOUND_STEP_S + other.start_s - first.start_s
    return Shift(float(later_s), float(agreed[best]))


def _movement(phone: Phone) -> FloatArray:
    """``(m, 2 x limbs)`` speeds at even steps of time from the film's first frame; 0 where not
    known."""
    steps = np.arange(phone.t_s[0], phone.t_s[-1], LAG_STEP_S)
    seen = phone.at(0, steps)
    height = -(seen.xy_px[..., 1] - seen.xy_px[:, _HIPS, 1].mean(axis=1, keepdims=True))
    height = height / seen.px_per_m[:, None]
    pairs = np.stack([height[:, pair] for pair in _LIMBS], axis=1)
    channels = np.concatenate([pairs.sum(axis=2), np.abs(np.ptp(pairs, axis=2))], axis=1)
    if len(steps) < 3:
        return np.zeros((0, channels.shape[1]))
    return np.asarray(np.nan_to_num(np.gradient(channels, LAG_STEP_S, axis=0)))


def _likeness(a: FloatArray, b: FloatArray, lag: int) -> float:
    """Correlation of two movements over the time that they share."""
    from_a, from_b = max(0, -lag), max(0, lag)
    n = min(len(a) - from_a, len(b) - from_b)
    one, other = a[from_a : from_a + n], b[from_b : from_b + n]
    moved = (one != 0) & (other != 0)
    one, other = one * moved, other * moved
    size = np.linalg.norm(one) * np.linalg.norm(other)
    # A short stretch that agrees by chance must not beat a long one.
    whole = min(float(np.linalg.norm(a)), float(np.linalg.norm(b)))
    shared = min(1.0, float(np.linalg.norm(one)) / whole) if whole > 0 else 0.0
    return float(np.sum(one * other) / size * np.sqrt(shared)) if size > 0 else np.nan


def _vertex(values: FloatArray, best: int) -> float:
    """Where between its neighbours the peak of a parabola through three values lies."""
    if not 0 < best < len(values) - 1:
        return 0.0
    before, here, after = values[best - 1 : best + 2]
    bend = before - 2 * here + after
    return float(0.5 * (before - after) / bend) if np.isfinite(bend) and bend < 0 else 0.0


def _onsets(sound: Sound) -> FloatArray:
    """``(m,)`` how fast the loudness rises, 0 while it falls."""
    block = max(1, round(SOUND_STEP_S * sound.rate_hz))
    n = len(sound.samples) // block
    power = np.square(sound.samples[: n * block].reshape(n, block)).mean(axis=1)
    floor = np.median(power) + 1e-12
    loudness = np.log1p(power / floor)
    return np.asarray(np.maximum(np.diff(loudness, prepend=loudness[:1]), 0.0))
