"""One player while he is being followed, and his finished track."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.maths.homography import mapped_box
from posecheck.players.box_filter import BoxFilter
from posecheck.players.detector import Person
from posecheck.players.track import PlayerTrack
from posecheck.players.tuning import (
    COLOURS_KNOWN_AFTER,
    COST_COLOURS,
    COST_HEIGHTS,
    COST_LOG_SCALE,
    COST_LOST,
    FASTEST_HEIGHTS,
    FLOW_TRUSTED_S,
    FOUND_SD,
    MAX_DOUBTFUL_S,
    MAX_EXTRA_REACH_HEIGHTS,
    MAX_HIDDEN_S,
    MAX_LOG_SCALE,
    MAX_STOPPED_UNREAD_S,
    MAX_UNREAD_S,
    MAX_UNSEEN_S,
    MIN_OWN_COLOURS,
    MIN_SAME_COLOURS,
    MIN_TIMES_FOUND,
    MIN_TRACK_S,
    MOVING_SPEED,
    NEW_COLOURS_SHARE,
    REACH_HEIGHTS,
)


@dataclass
class Player:
    """A player who is being followed.

    Attributes:
        number: counts every player ever begun in the clip.
        filter: his box over time, in pixels of the clip's first frame.
        first_frame: where his track begins.
        found_s, searched_s: when he was last found, and last searched for.
        trunk: where his trunk lies in his box, as in :class:`Person`.
        colours: of his trunk, as in :class:`Person`.
        moved_when_found: whether he was moving when last found.
        recognised: whether his pixels may be followed: he was found, or at least his colours.
        unread_from_s: since when his colours have been there, searched for, without his pose being
            read; None when he was read, or hidden, last.
        n_found: how many times he was found.
        unsure_frames: frames since he was last found or recognised.
        n_carried: frames of the track up to the last one in which somebody near may occlude him
            while he stands: he is assumed to be still there.
        seen: for each frame since the first, whether his place was read from the picture.
        all_found_s: every moment at which he was found.
    """

    number: int
    filter: BoxFilter
    first_frame: int
    found_s: float
    searched_s: float
    trunk: FloatArray
    colours: FloatArray
    moved_when_found: bool = False
    recognised: bool = True
    unread_from_s: float | None = None
    n_found: int = 1
    unsure_frames: int = 0
    n_carried: int = 0
    seen: list[bool] = field(default_factory=lambda: [True])
    all_found_s: list[float] = field(default_factory=list)

    @classmethod
    def begin(
        cls, number: int, person: Person, to_reference: FloatArray, frame: int, now_s: float
    ) -> Player:
        """Begin to follow somebody new."""
        box = mapped_box(to_reference, person.box_xyxy)
        return cls(
            number=number,
            filter=BoxFilter(box, FOUND_SD),
            first_frame=frame,
            found_s=now_s,
            searched_s=now_s,
            trunk=person.trunk,
            colours=person.colours,
            all_found_s=[now_s],
        )

    @property
    def missed(self) -> bool:
        """Whether he was not found when he was last searched for."""
        return self.found_s < self.searched_s

    @property
    def confirmed(self) -> bool:
        """Whether he was found more than once: a bush, a bag or a shadow rarely is."""
        return self.n_found >= MIN_TIMES_FOUND

    @property
    def moves(self) -> bool:
        """Whether he is moving, or was when he was last found.

        One who has just come to a stop counts as moving until he has been found standing.
        """
        return self.moved_when_found or self._is_fast()

    def predict(self, step_s: float) -> None:
        """Go on to the next frame."""
        self.filter.predict(step_s)
        self.seen.append(False)
        self.unsure_frames += 1

    def update_motion(
        self, speed: FloatArray, growth: float, sd: float, growth_sd: float, n_frames: int
    ) -> None:
        """His pixels moved over the last ``n_frames``; see :meth:`BoxFilter.update_motion`."""
        if self.filter.update_motion(speed, growth, sd, growth_sd):
            self.seen[-n_frames:] = [True] * min(n_frames, len(self.seen))

    def update_found(
        self, person: Person, to_reference: FloatArray, now_s: float, crowded: bool
    ) -> None:
        """He was found.

        Args:
            person: as found, in pixels of this frame.
            to_reference: ``(3, 3)`` this frame's homography to the clip's first frame.
            now_s: the frame's time.
            crowded: whether another player is near. Of two close together, one may be found in
                the other's colours, which are then not learned.
        """
        box = mapped_box(to_reference, person.box_xyxy)
        if _heights_off(self.filter.box_xyxy, box) > self._reach():
            # He ran there while the flow on his pixels slipped onto the background.
            self.filter.coast_since(self.unsure_frames, keep_speed=self.moved_when_found)
        self.filter.update_box(box, FOUND_SD)
        self.seen[-1] = True
        self.n_found += 1
        self.found_s = now_s
        self.all_found_s.append(now_s)
        self.unread_from_s = None
        self.trunk = person.trunk
        self.recognised = True
        self.unsure_frames = 0
        self.moved_when_found = self._is_fast()
        if not crowded:
            # A mean at first: somebody entering the picture shows only part of his jersey.
            new = max(NEW_COLOURS_SHARE, 1 / self.n_found)
            mixed = (1 - new) * self.colours**2 + new * person.colours**2
            self.colours = np.sqrt(mixed / mixed.sum())

    def update_missed(self, recognised: bool) -> None:
        """He was not found where he was searched for.

        If his colours are there nevertheless, the pose model has only failed to read him.
        Otherwise the flow since he was last found may be that of whatever occludes him: a runner
        is assumed to have kept his speed, and one who stood to have stayed. So it is when no pose
        was read for long, sooner if he ran and the flow has come to rest: that is background.
        """
        if not recognised:
            self.unread_from_s = None  # something hides him, which is no doubt about his pixels
        elif self.unread_from_s is None:
            self.unread_from_s = self.searched_s
        else:
            stopped = self.moved_when_found and not self._is_fast()
            most_s = MAX_STOPPED_UNREAD_S if stopped else MAX_UNREAD_S
            recognised = self.searched_s - self.unread_from_s <= most_s
        self.recognised = recognised
        if not recognised:
            self.filter.coast_since(self.unsure_frames, keep_speed=self.moved_when_found)
            for frame in range(1, self.unsure_frames + 1):
                self.seen[-frame] = False
        self.unsure_frames = 0

    def is_gone(self, crowded: bool) -> bool:
        """Whether he has been searched for in vain for too long; to be called once a frame.

        Args:
            crowded: whether another player is near, who may occlude him.
        """
        if not self.confirmed:
            patience_s = MAX_DOUBTFUL_S
        else:
            patience_s = MAX_HIDDEN_S if crowded or self.recognised else MAX_UNSEEN_S
        if crowded and not self.moved_when_found:
            self.n_carried = len(self.seen)
        return self.searched_s - self.found_s > patience_s

    def assignment_cost(self, box: FloatArray, person: Person, crowded: bool = True) -> float:
        """Cost of taking a person found for this player, who is expected in the box.

        Infinite when it cannot be him. A runner's colours change, from shade into light say, so
        they do not rule out a person of his height just where he is expected, unless another
        player is near.

        Args:
            box: ``(4,)`` where he is expected.
            person: found.
            crowded: whether another player is near.
        """
        height = box[3] - box[1]
        if height <= 0:  # a size predicted for long has shrunk to nothing
            return float("inf")
        apart = _heights_off(box, person.box_xyxy)
        scale = _log_scale(box, person.box_xyxy)
        alike = float(self.colours @ person.colours)
        other_jersey = self.n_found >= COLOURS_KNOWN_AFTER and alike < MIN_OWN_COLOURS
        off = apart / COST_HEIGHTS + scale / COST_LOG_SCALE
        if not crowded and self.moves and off <= 1:
            other_jersey = False
        if apart > self._reach() or scale > MAX_LOG_SCALE or other_jersey:
            return float("inf")
        # Of two whose boxes have come to lie over one body, the one that was there stays.
        lost = 0.0 if self.recognised else COST_LOST
        return float(off + (1 - alike) / COST_COLOURS + lost)

    def may_have_run(self, box: FloatArray, person: Person, now_s: float) -> bool:
        """Whether somebody found too far from the box he is expected in may still be he.

        Flow that has slipped onto the background holds a player where he was when he set off; he is
        then about as large, in the same colours, and no further off than a run takes him.
        """
        if box[3] <= box[1] or now_s - self.found_s > MAX_UNSEEN_S:
            return False
        far = REACH_HEIGHTS + FASTEST_HEIGHTS * (now_s - self.found_s)
        return bool(
            _heights_off(box, person.box_xyxy) <= far
            and _log_scale(box, person.box_xyxy) <= MAX_LOG_SCALE
            and self.colours @ person.colours >= MIN_SAME_COLOURS
        )

    def track(self, to_reference: FloatArray, t_s: FloatArray) -> PlayerTrack | None:
        """The finished track, or None when it is too short to be a player's.

        Args:
            to_reference: ``(n_frames, 3, 3)`` the camera's motion.
            t_s: ``(n_frames,)`` times.
        """
        seen = np.array(self.seen, dtype=bool)
        frames = self.first_frame + np.arange(len(seen))
        if self.missed:
            seen &= t_s[frames] <= self.found_s + FLOW_TRUSTED_S
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
        return PlayerTrack(self.number, box, whole)

    def _reach(self) -> float:
        """Heights from where he is expected within which he may be."""
        doubt = 2 * self.filter.place_sd / self.filter.height
        return REACH_HEIGHTS + min(doubt, MAX_EXTRA_REACH_HEIGHTS)

    def _is_fast(self) -> bool:
        return float(np.linalg.norm(self.filter.speed)) > MOVING_SPEED * self.filter.height


def _heights_off(box: FloatArray, found: FloatArray) -> float:
    """From the middle of one box to that of another, in heights of the first."""
    off = np.linalg.norm(box[:2] + box[2:] - found[:2] - found[2:]) / 2
    return float(off / (box[3] - box[1]))


def _log_scale(box: FloatArray, found: FloatArray) -> float:
    """Logarithm of the ratio of two boxes' heights, without its sign."""
    return float(abs(np.log((found[3] - found[1]) / (box[3] - box[1]))))
