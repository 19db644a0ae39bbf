"""One player while he is being followed, and the track he leaves."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.boxes import mapped_box
from posecheck.players.box_filter import BoxFilter
from posecheck.players.detector import Person
from posecheck.players.track import PlayerTrack

MIN_TRACK_S = 0.4
MIN_FOUND = 2
MAX_UNSEEN_S = 1.0
"""A player not found for so long, though looked for, has gone."""
MAX_DOUBTFUL_S = 0.35
"""The same for one found only once."""
MAX_HIDDEN_S = 2.0
"""The same for one whom another player may hide, or whose colours are still there."""

_MOVING = 0.35
"""Heights/s: slower than this is shifting about on the spot."""
_FOUND_SD = 0.04
"""One sigma of a found box, as a share of its height: what arms and stride do to it."""
_COLOURS_KNOWN_AFTER, _OTHER_COLOURS = 3, 0.7
"""Once found so often, a player is not found again in colours less alike (Bhattacharyya
coefficient) than this; from front to back and in and out of shadow one jersey stays above 0.8."""
_NEW_COLOURS = 0.2
"""Share of the latest look in a player's colours: light and side change while he runs."""
_FAR_AFTER_MISS_S = 0.3
"""Flow slips onto the background when a player has gone; it is believed for so long."""


@dataclass
class Player:
    """Somebody known.

    Attributes:
        number: counts everybody ever begun in the clip.
        filter: his box over time, in the steadied picture.
        first_frame: where his track begins.
        found_s, looked_s: when he was last found, and last looked for.
        trunk: where his trunk lies in his box, as in :class:`Person`.
        colours, jerseys: of the trunk, as in :class:`Person`.
        moved_when_found: whether he was moving when last found.
        recognised: whether his pixels may be followed: he was found, or at least his colours.
        n_found: how many times he was found.
        unsure_frames: frames since he was last found or recognised.
        n_carried: frames of the track up to the last one in which somebody stood where he stands
            and may hide him: he is taken to be still there.
        seen: for each frame since the first, whether the picture told where he is.
    """

    number: int
    filter: BoxFilter
    first_frame: int
    found_s: float
    looked_s: float
    trunk: FloatArray
    colours: FloatArray
    jerseys: list[FloatArray]
    moved_when_found: bool = False
    recognised: bool = True
    n_found: int = 1
    unsure_frames: int = 0
    n_carried: int = 0
    seen: list[bool] = field(default_factory=lambda: [True])

    @classmethod
    def begin(
        cls, number: int, person: Person, to_reference: FloatArray, frame: int, now_s: float
    ) -> Player:
        """Take up somebody nobody knew."""
        box = mapped_box(to_reference, person.box_xyxy)
        return cls(
            number=number,
            filter=BoxFilter(box, _FOUND_SD),
            first_frame=frame,
            found_s=now_s,
            looked_s=now_s,
            trunk=person.trunk,
            colours=person.colours,
            jerseys=[person.jersey_rgb],
        )

    @property
    def missed(self) -> bool:
        """Whether he was not found when he was last looked for."""
        return self.found_s < self.looked_s

    @property
    def confirmed(self) -> bool:
        """Whether he was found more than once: a bush, a bag or a shadow rarely is."""
        return self.n_found >= MIN_FOUND

    @property
    def moves(self) -> bool:
        """Whether he is on his way somewhere, or was when he was last found.

        So one who has just come to a stand counts as moving until he has been found standing.
        """
        return self.moved_when_found or self._is_fast()

    def go_on(self, step_s: float) -> None:
        """To the next frame."""
        self.filter.predict(step_s)
        self.seen.append(False)
        self.unsure_frames += 1

    def see_motion(self, speed: FloatArray, growth: float, sd: float, n_frames: int) -> None:
        """His pixels moved over the last ``n_frames``; see :meth:`BoxFilter.see_motion`."""
        if self.filter.see_motion(speed, growth, sd):
            self.seen[-n_frames:] = [True] * min(n_frames, len(self.seen))

    def take(self, person: Person, to_reference: FloatArray, now_s: float, crowded: bool) -> None:
        """He was found. Of two players close together, one may be found in the other's colours."""
        self.filter.see_box(mapped_box(to_reference, person.box_xyxy), _FOUND_SD)
        self.seen[-1] = True
        self.n_found += 1
        self.found_s = now_s
        self.trunk = person.trunk
        self.recognised = True
        self.unsure_frames = 0
        self.moved_when_found = self._is_fast()
        if not crowded:
            # A mean at first: somebody just come into the picture shows but part of his jersey.
            new = max(_NEW_COLOURS, 1 / self.n_found)
            mixed = (1 - new) * self.colours**2 + new * person.colours**2
            self.colours = np.sqrt(mixed / mixed.sum())
            self.jerseys.append(person.jersey_rgb)

    def miss(self, recognised: bool) -> None:
        """He was not found where he was looked for.

        If his colours are there all the same, the pose model has only failed to read him.
        Otherwise the flow since he was last found may be that of whatever hid him: a runner is
        taken to have run on, and one who stood to have stayed.
        """
        self.recognised = recognised
        if not recognised:
            self.filter.coast_since(self.unsure_frames, keep_speed=self.moved_when_found)
            for frame in range(1, self.unsure_frames + 1):
                self.seen[-frame] = False
        self.unsure_frames = 0

    def is_gone(self, crowded: bool) -> bool:
        """Whether he has been looked for in vain for too long; to be asked once a frame.

        Args:
            crowded: whether another player is near, who may hide him.
        """
        if not self.confirmed:
            patience_s = MAX_DOUBTFUL_S
        else:
            patience_s = MAX_HIDDEN_S if crowded or self.recognised else MAX_UNSEEN_S
        if crowded and not self.moved_when_found:
            self.n_carried = len(self.seen)
        return self.looked_s - self.found_s > patience_s

    def unlikeness(self, box: FloatArray, person: Person) -> float:
        """How little a person looks like this player, expected in the box.

        Infinite when it cannot be him.
        """
        height = box[3] - box[1]
        if height <= 0:  # a size carried on for long has shrunk to nothing
            return float("inf")
        found = person.box_xyxy
        apart = np.linalg.norm(box[:2] + box[2:] - found[:2] - found[2:]) / 2 / height
        scale = abs(np.log((found[3] - found[1]) / height))
        reach = 0.5 + min(2 * self.filter.place_sd / self.filter.height, 2.0)
        alike = float(self.colours @ person.colours)
        other_jersey = self.n_found >= _COLOURS_KNOWN_AFTER and alike < _OTHER_COLOURS
        if apart > reach or scale > 0.6 or other_jersey:
            return float("inf")
        return float(apart / 0.3 + scale / 0.25 + (1 - alike) / 0.1)

    def track(self, number: int, to_reference: FloatArray, t_s: FloatArray) -> PlayerTrack | None:
        """The track as it is handed on, or None when it is too short to be a player's.

        Args:
            number: within the clip.
            to_reference: ``(n_frames, 3, 3)`` the camera's motion.
            t_s: ``(n_frames,)`` times.
        """
        seen = np.array(self.seen, dtype=bool)
        frames = self.first_frame + np.arange(len(seen))
        if self.missed:
            seen &= t_s[frames] <= self.found_s + _FAR_AFTER_MISS_S
        if not seen.any():
            return None
        n = max(int(np.flatnonzero(seen)[-1]) + 1, self.n_carried)
        if not self.confirmed or t_s[frames[n - 1]] - t_s[frames[0]] < MIN_TRACK_S:
            return None
        box = np.full((len(t_s), 4), np.nan)
        whole = np.zeros(len(t_s), dtype=bool)
        whole[frames[:n]] = seen[:n]
        for frame, steadied in zip(frames[:n], self.filter.smoothed(), strict=False):
            box[frame] = mapped_box(np.linalg.inv(to_reference[frame]), steadied)
        whole &= np.isfinite(box).all(axis=1)
        return PlayerTrack(number, box, whole, np.median(self.jerseys, axis=0))

    def _is_fast(self) -> bool:
        return float(np.linalg.norm(self.filter.speed)) > _MOVING * self.filter.height
