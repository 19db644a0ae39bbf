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

    Two signals that look the same from every side are compared. How fast each limb rises and falls
    against the hips, on the scale of the body; left and right, which the pose model may exchange,
    count by their sum and by their distance. And the pose model's body in metres, about its mean,
    turned as fits best: it shows which leg is ahead, and so one stride from the next.
    """
    a, b = _Movement.of(first), _Movement.of(other)
    least = round(MIN_OVERLAP_S / LAG_STEP_S)
    lags = np.arange(least - len(a.rises), len(b.rises) - least + 1)
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


@dataclass(frozen=True)
class _Movement:
    """A player's movement at even steps of time from the film's first frame; 0 where not known.

    Attributes:
        rises: ``(m, 2 x limbs)`` speeds.
        body: ``(m, k, 3)`` places on the camera's axes.
    """

    rises: FloatArray
    body: FloatArray

    @classmethod
    def of(cls, phone: Phone) -> _Movement:
        steps = np.arange(phone.t_s[0], phone.t_s[-1], LAG_STEP_S)
        seen = phone.at(0, steps)
        height = -(seen.xy_px[..., 1] - seen.xy_px[:, _HIPS, 1].mean(axis=1, keepdims=True))
        height = height / seen.px_per_m[:, None]
        pairs = np.stack([height[:, pair] for pair in _LIMBS], axis=1)
        channels = np.concatenate([pairs.sum(axis=2), np.abs(np.ptp(pairs, axis=2))], axis=1)
        body = phone.body(0, steps)[:, [mark for pair in _LIMBS for mark in pair]]
        if len(steps) < 3:
            return cls(np.zeros((0, channels.shape[1])), np.zeros((0, *body.shape[1:])))
        return cls(np.asarray(np.nan_to_num(np.gradient(channels, LAG_STEP_S, axis=0))), body)


def _likeness(a: _Movement, b: _Movement, lag: int) -> float:
    """Mean correlation of two movements over the time that they share, 1 when they are the same."""
    from_a, from_b = max(0, -lag), max(0, lag)
    n = min(len(a.rises) - from_a, len(b.rises) - from_b)
    here, there = slice(from_a, from_a + n), slice(from_b, from_b + n)
    one, other = a.rises[here], b.rises[there]
    moved = (one != 0) & (other != 0)
    one, other = one * moved, other * moved
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    rising = float(np.sum(one * other)) / size if size > 0 else 0.0
    # A short stretch that agrees by chance must not beat a long one.
    whole = min(float(np.linalg.norm(a.rises)), float(np.linalg.norm(b.rises)))
    shared = min(1.0, float(np.linalg.norm(one)) / whole) if whole > 0 else 0.0
    return (rising + _turned_alike(a.body[here], b.body[there])) / 2 * float(np.sqrt(shared))


def _turned_alike(one: FloatArray, other: FloatArray) -> float:
    """Correlation of two moving bodies ``(n, k, 3)``, the second turned as fits best.

    With the mean posture taken off, since how deep the pose model takes a body to be errs all
    through a film.
    """
    both = (np.isfinite(one) & np.isfinite(other)).all(axis=(1, 2))
    if both.sum() < 2:
        return 0.0
    a, b = (each[both] - each[both].mean(axis=0) for each in (one, other))
    a, b = a.reshape(-1, 3), b.reshape(-1, 3)
    left, size, right = np.linalg.svd(a.T @ b)
    mirrored = np.sign(np.linalg.det(right.T @ left.T))
    whole = float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(size[0] + size[1] + mirrored * size[2]) / whole if whole > 0 else 0.0


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
