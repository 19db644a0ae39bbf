"""One phone's film of a rep, as it goes into the calibration: landmarks at any moment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from posecheck.body.stance import turned_by_ray
from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.keypoints.smoothing import smooth_track
from posecheck.keypoints.tuning import ATTACKER_SPACING_S
from posecheck.maths.arrays import BoolArray, FloatArray
from posecheck.maths.tuning import ROUNDING_S
from posecheck.multiview.tuning import MIN_SCORE
from posecheck.pose.skeleton import SKELETON
from posecheck.pose.track import PoseTrack


@dataclass(frozen=True)
class FieldPoints:
    """Known points of the field in a phone's picture.

    Attributes:
        camera: as these points alone give it.
        xyz_m: ``(k, 3)`` on the field's axes.
        xy_px: ``(k, 2)`` where they are seen.
        sd_px: ``(k,)`` standard deviation of where they are expected.
    """

    camera: Camera
    xyz_m: FloatArray
    xy_px: FloatArray
    sd_px: FloatArray


@dataclass(frozen=True)
class Seen:
    """A player at some moments, as one phone sees him.

    Attributes:
        xy_px: ``(n, 33, 2)`` NaN where he, or the landmark, is not seen well enough.
        px_per_m: ``(n,)`` scale of the body in the picture.
    """

    xy_px: FloatArray
    px_per_m: FloatArray


@dataclass(frozen=True)
class Phone:
    """One phone's film of a rep.

    Attributes:
        name: of the film, for messages.
        size_px: width and height of the picture.
        players: landmarks as read, unsmoothed, in pixels of the film's reference frame (the
            camera's turning taken out): the defender, then the attacker where there is one.
        known: points of the field, None where none are known.
    """

    name: str
    size_px: tuple[int, int]
    players: tuple[PoseTrack, ...]
    known: FieldPoints | None = None

    @property
    def t_s(self) -> FloatArray:
        """``(n,)`` times of the film's frames, seconds."""
        return self.players[0].t_s

    @cached_property
    def _smoothed(self) -> tuple[PoseTrack, ...]:
        defender, *others = self.players
        return (
            smooth_track(defender),
            *(smooth_track(other, spacing_s=ATTACKER_SPACING_S) for other in others),
        )

    @cached_property
    def _curves(self) -> tuple[Curve, ...]:
        curves = []
        for track in self._smoothed:
            # Filled-in landmarks have no score; they are as good as what they were filled in from.
            doubtful = track.score < MIN_SCORE
            xy_px = np.where(doubtful[..., None], np.nan, track.xy_px)
            curves.append(Curve.through(track.t_s, xy_px))
        return tuple(curves)

    @cached_property
    def _scales(self) -> tuple[FloatArray, ...]:
        return tuple(px_per_m(track) for track in self._smoothed)

    def at(self, player: int, t_s: FloatArray) -> Seen:
        """A player's smoothed landmarks at moments of this film's clock, ``(n,)`` seconds."""
        scale = np.interp(t_s, self.t_s, self._scales[player])
        return Seen(self._curves[player].at(t_s), scale)

    def body(self, player: int, t_s: FloatArray) -> FloatArray:
        """``(n, 33, 3)`` the pose model's body on this camera's axes, as read, nearest in time.

        The model sees a player as if the camera looked straight at him; that turn is taken out with
        a phone's usual focal length, which is near enough.
        """
        track = self.players[player]
        nearest = np.abs(track.t_s[None] - t_s[:, None]).argmin(axis=1)
        middle = (np.array(self.size_px) - 1) / 2
        hips = track.xy_px[nearest][:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
        ray = np.concatenate(
            [(hips - middle) / PHONE.focal_px(self.size_px), np.ones((len(hips), 1))], axis=1
        )
        return np.asarray(np.einsum("nij,nkj->nki", turned_by_ray(ray), track.world_m[nearest]))

    def renamed(self, player: int, swapped: BoolArray, landmarks: list[int]) -> Phone:
        """The same film with left and right exchanged in some frames.

        Args:
            player: whose landmarks.
            swapped: ``(n,)`` True in the frames.
            landmarks: which are exchanged.
        """
        track = self.players[player]
        mirror = SKELETON.mirror[landmarks]
        fields = {}
        for name in ("xy_px", "world_m", "score"):
            values = getattr(track, name).copy()
            frames = np.flatnonzero(swapped)[:, None]
            values[frames, landmarks] = getattr(track, name)[frames, mirror]
            fields[name] = values
        players = list(self.players)
        players[player] = replace(track, **fields)
        return replace(self, players=tuple(players))


def px_per_m(track: PoseTrack) -> FloatArray:
    """``(n,)`` scale of a body in the picture, by its spread there and in metres; gaps bridged."""
    spread_px = np.sqrt(track.xy_px.var(axis=1).sum(axis=1))
    spread_m = np.sqrt(track.world_m[..., :2].var(axis=1).sum(axis=1))
    scale = spread_px / spread_m
    seen = np.isfinite(scale)
    if not seen.any():
        return np.full(len(scale), np.nan)
    return np.asarray(np.interp(track.t_s, track.t_s[seen], scale[seen]))


@dataclass(frozen=True)
class Curve:
    """Values between frames, by cubic Hermite interpolation; NaN beside a frame not seen.

    Attributes:
        t_s: ``(n,)`` seconds, strictly increasing, at least two.
        values, slopes: ``(n, ...)``.
    """

    t_s: FloatArray
    values: FloatArray
    slopes: FloatArray

    @classmethod
    def through(cls, t_s: FloatArray, values: FloatArray) -> Curve:
        """The curve through values ``(n, ...)``."""
        slopes = np.gradient(values, t_s, axis=0)
        chord = np.diff(values, axis=0) / np.diff(t_s).reshape(-1, *[1] * (values.ndim - 1))
        # Beside a gap the slope is not known from both sides: a straight line there.
        before, after = np.concatenate([chord[:1], chord]), np.concatenate([chord, chord[-1:]])
        slopes = np.where(np.isfinite(slopes), slopes, before)
        return cls(t_s, values, np.where(np.isfinite(slopes), slopes, after))

    def at(self, t_s: FloatArray) -> FloatArray:
        """``(m, ...)`` values at ``(m,)`` moments; NaN beyond the first and the last frame."""
        after = np.clip(np.searchsorted(self.t_s, t_s), 1, len(self.t_s) - 1)
        before = after - 1
        shape = (-1, *[1] * (self.values.ndim - 1))
        h = (self.t_s[after] - self.t_s[before]).reshape(shape)
        u = ((t_s - self.t_s[before]) / (self.t_s[after] - self.t_s[before])).reshape(shape)
        a, b = self.values[before], self.values[after]
        p, q = (self.slopes[i] * h - (b - a) for i in (before, after))
        there = a + u * (b - a) + u * (1 - u) * ((1 - u) * p - u * q)
        # On a frame the neighbour, which may not be seen, does not count.
        there = np.where(u == 0, a, np.where(u == 1, b, there))
        outside = (t_s < self.t_s[0] - ROUNDING_S) | (t_s > self.t_s[-1] + ROUNDING_S)
        there[outside] = np.nan
        return np.asarray(there)


def between(t_s: FloatArray, values: FloatArray, at_s: FloatArray) -> FloatArray:
    """Values ``(n, ...)`` of frames at moments ``(m,)`` between them, see :class:`Curve`."""
    return Curve.through(t_s, values).at(at_s)
