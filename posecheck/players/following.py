"""Follow everybody through a clip in one pass over its frames.

On key frames, a few a second, people are looked for with the pose model and assigned to the
players known so far; in between, the players' own pixels are followed by optical flow. Each
player's box is filtered while the film runs and smoothed when it has run, all in the steadied
picture, so that a panning camera does not look like running.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from posecheck.clip import Clip, Glimpse
from posecheck.players.box_filter import BoxFilter
from posecheck.players.camera_motion import CameraMotionEstimator
from posecheck.players.finding import (
    FindsPeople,
    Person,
    around,
    colours_in,
    find_people,
    moving_boxes,
    near,
    regions_for,
    tiles,
)
from posecheck.players.flow import player_motion
from posecheck.players.track import Followed, PlayerTrack

FloatArray = npt.NDArray[np.float64]
Grey = npt.NDArray[np.uint8]

SMALL_PX = 640
"""Longer side of the small grey pictures that camera and flow work on."""

KEY_STEP_S = 0.3
"""Between two looks at a moving player. Braking at 7 m/s^2 takes him 0.08 m off a straight line
drawn between the two, a twentieth of his height; and 0.3 m off where he was expected, which the
region looked in leaves room for."""

FLOW_STEP_S = 0.025
"""Film faster than 40 a second is followed by optical flow on every second, third... frame."""

STILL_LOOK_S = 1.0
"""Between two looks at a standing player."""

SWEEP_STEP_S = 6.0
"""Between two sweeps of the whole picture for standing players nobody has found yet."""
SECOND_SWEEP_S = 0.6
"""A second sweep comes so soon when the first found fewer than two players."""

MAX_UNSEEN_S = 1.0
"""A player not found for so long, though looked for, has gone."""
MAX_HIDDEN_S = 2.0
"""The same for one whom another player may hide."""

MIN_TRACK_S = 0.4
MIN_FOUND = 2
"""Something found once and never again was a bush, a bag or a shadow."""

_MOVING = 0.35
"""Heights/s: slower than this is shifting about on the spot."""
_SAME_COLOURS = 0.8
"""Bhattacharyya coefficient of the trunk's colours, from which on it may be the same jersey."""
_FOUND_SD = 0.04
"""One sigma of a found box, as a share of its height: what arms and stride do to it."""
_MAX_MOTION_REGIONS = 2


@dataclass
class _Track:
    number: int
    filter: BoxFilter
    first_frame: int
    found_s: float
    looked_s: float
    colours: FloatArray
    jerseys: list[FloatArray]
    moved_when_found: bool = False
    recognised: bool = True
    n_found: int = 1
    unsure_frames: int = 0
    seen: list[bool] = field(default_factory=lambda: [True])

    @property
    def missed(self) -> bool:
        """Whether he was not there when he was last looked for."""
        return self.found_s < self.looked_s

    def moves(self) -> bool:
        return float(np.linalg.norm(self.filter.speed)) > _MOVING * self.filter.height

    def miss(self, recognised: bool) -> None:
        """Not found where he was looked for.

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

    def take(self, person: Person, to_reference: FloatArray, now_s: float, crowded: bool) -> None:
        self.filter.see_box(mapped_box(to_reference, person.box_xyxy), _FOUND_SD)
        self.seen[-1] = True
        self.n_found += 1
        self.found_s = now_s
        self.recognised = True
        self.unsure_frames = 0
        self.moved_when_found = self.moves()
        if not crowded:
            # Of two players close together, one may be found in the other's colours.
            self.colours = _mixed(self.colours, person.colours)
            self.jerseys.append(person.jersey_rgb)


def follow_players(clip: Clip, reader: FindsPeople) -> Followed:
    """Find and follow everybody in a clip.

    Memory does not grow with the pictures: two small grey ones are kept at a time.

    Args:
        clip: the film.
        reader: the pose model.

    Returns:
        The tracks, in order of first appearance, none when nobody is in the film; and the
        camera's motion.

    Raises:
        UnreadableClip: the file has changed or vanished since it was opened.
    """
    follower = _Follower(clip.width_px, clip.height_px, reader)
    for glimpse in clip.glimpses(SMALL_PX):
        follower.step(glimpse)
    return follower.followed(clip.t_s)


class _Follower:
    def __init__(self, width_px: int, height_px: int, reader: FindsPeople) -> None:
        self._size = (width_px, height_px)
        self._reader = reader
        self._camera = CameraMotionEstimator(width_px, height_px)
        self._to_reference = np.eye(3)
        self._tracks: list[_Track] = []
        self._gone: list[_Track] = []
        self._n_tracks = 0
        self._n_sweeps = 0
        self._sweep_s = -np.inf
        self._now_s = 0.0
        self._frame = -1
        self._key_s = -np.inf
        self._key_view: tuple[Grey, FloatArray, list[FloatArray]] | None = None
        self._flow_s = -np.inf
        self._flow_view: tuple[Grey, FloatArray, dict[int, FloatArray]] | None = None

    def step(self, glimpse: Glimpse) -> None:
        step_s = glimpse.t_s - self._now_s
        self._now_s, self._frame = glimpse.t_s, glimpse.index
        for track in self._tracks:
            track.filter.predict(step_s)
            track.seen.append(False)
            track.unsure_frames += 1
        self._to_reference = self._camera.add(glimpse.grey, list(self._boxes().values()))
        if self._now_s - self._flow_s >= FLOW_STEP_S:
            self._see_motion(glimpse.grey)
        if self._now_s - self._key_s >= KEY_STEP_S - 1e-6:
            self._look(glimpse)
        if self._flow_view is None or self._now_s - self._flow_s >= FLOW_STEP_S:
            self._flow_s = self._now_s
            self._flow_view = (glimpse.grey, self._to_reference, self._boxes())
        self._let_go()

    def followed(self, t_s: FloatArray) -> Followed:
        motion = self._camera.motion()
        tracks: list[PlayerTrack] = []
        for track in sorted(self._gone + self._tracks, key=lambda track: track.number):
            finished = _finished(track, motion.to_reference, t_s, len(tracks))
            if finished is not None:
                tracks.append(finished)
        return Followed(t_s, tuple(tracks), motion)

    def _boxes(self) -> dict[int, FloatArray]:
        """Where the players are in the present picture, by track number."""
        from_reference = np.asarray(np.linalg.inv(self._to_reference), dtype=np.float64)
        return {
            track.number: mapped_box(from_reference, track.filter.box_xyxy)
            for track in self._tracks
        }

    def _see_motion(self, grey: Grey) -> None:
        if self._flow_view is None:
            return
        before, before_to_reference, boxes = self._flow_view
        # Where a player was looked for and not found, the pixels are another's.
        tracks = [t for t in self._tracks if t.number in boxes and t.recognised]
        if not tracks:
            return
        shrink = grey.shape[1] / self._size[0]
        from_reference = np.asarray(np.linalg.inv(self._to_reference), dtype=np.float64)
        guess = [mapped_box(from_reference, track.filter.box_xyxy) * shrink for track in tracks]
        motions = player_motion(before, grey, [boxes[t.number] * shrink for t in tracks], guess)
        step_s = self._now_s - self._flow_s
        for track, motion in zip(tracks, motions, strict=True):
            if motion is None:
                continue
            then = _mapped(before_to_reference, motion.before_xy / shrink)
            now = _mapped(self._to_reference, motion.after_xy / shrink)
            speed = np.median(now - then, axis=0) / step_s
            sd = _flow_sd(now - then, track.filter.height) / step_s
            if track.filter.see_motion(speed, np.log(motion.growth) / step_s, sd):
                track.seen[-1] = True

    def _look(self, glimpse: Glimpse) -> None:
        boxes = self._boxes()
        regions = self._regions(glimpse.grey, boxes)
        people = find_people(self._reader, glimpse.rgb, regions) if regions else []
        assigned = self._assigned(boxes, people)
        for track, person in assigned:
            crowded = any(
                near(box, boxes[track.number]) for n, box in boxes.items() if n != track.number
            )
            track.take(person, self._to_reference, self._now_s, crowded)
            people = [other for other in people if other is not person]
        for track in self._tracks:
            if track.missed and track.looked_s == self._now_s:
                track.miss(self._recognised(track, glimpse.rgb))
        for person in people:
            self._begin(person)
        self._key_s = self._now_s
        self._key_view = (glimpse.grey, self._to_reference, list(self._boxes().values()))

    def _recognised(self, track: _Track, frame_rgb: npt.NDArray[np.uint8]) -> bool:
        """Whether what the flow has followed still wears the player's colours."""
        box = self._boxes()[track.number]
        there = colours_in(frame_rgb, box)
        others = [float(other.colours @ there) for other in self._tracks if other is not track]
        return float(track.colours @ there) >= max([_SAME_COLOURS, *others])

    def _regions(self, grey: Grey, boxes: dict[int, FloatArray]) -> list[FloatArray]:
        expected = []
        for track in self._tracks:
            box = boxes[track.number]
            others = [other for number, other in boxes.items() if number != track.number]
            # Once more when he has just come to a stand: his place is read from then on.
            moves = track.moves() or track.moved_when_found
            crowded = any(near(box, other) for other in others)
            if moves or crowded or track.missed or self._now_s - track.looked_s >= STILL_LOOK_S:
                expected.append((box, min(2 * track.filter.place_sd, track.filter.height)))
                track.looked_s = self._now_s
        regions = regions_for(expected)
        if self._now_s >= self._sweep_s or (
            self._n_sweeps == 1 and self._now_s >= SECOND_SWEEP_S and len(self._tracks) < 2
        ):
            regions += tiles(*self._size, turn=self._n_sweeps)
            self._n_sweeps += 1
            self._sweep_s = self._now_s + SWEEP_STEP_S
        elif self._key_view is not None:
            regions += self._motion_regions(grey, boxes)
        return regions

    def _motion_regions(self, grey: Grey, boxes: dict[int, FloatArray]) -> list[FloatArray]:
        assert self._key_view is not None
        before, before_to_reference, known = self._key_view
        shrink = grey.shape[1] / self._size[0]
        to_small = np.diag([shrink, shrink, 1.0])
        between = np.linalg.inv(self._to_reference) @ before_to_reference
        moved = moving_boxes(
            before,
            grey,
            to_small @ between @ np.linalg.inv(to_small),
            [_widened(box) * shrink for box in [*known, *boxes.values()]],
        )
        least = 0.25 * min(self._size)
        regions = []
        for box in moved[:_MAX_MOTION_REGIONS]:
            region = around(box / shrink)
            short = max(0.0, (least - (region[2] - region[0])) / 2)
            regions.append(region + np.array([-short, -short, short, short]))
        return regions

    def _assigned(
        self, boxes: dict[int, FloatArray], people: Sequence[Person]
    ) -> list[tuple[_Track, Person]]:
        from scipy.optimize import linear_sum_assignment

        if not people or not self._tracks:
            return []
        cost = np.array(
            [
                [_unlikeness(track, boxes[track.number], person) for person in people]
                for track in self._tracks
            ]
        )
        rows, columns = linear_sum_assignment(np.where(np.isfinite(cost), cost, 1e6))
        return [
            (self._tracks[row], people[column])
            for row, column in zip(rows, columns, strict=True)
            if np.isfinite(cost[row, column])
        ]

    def _begin(self, person: Person) -> None:
        self._tracks.append(
            _Track(
                self._n_tracks,
                BoxFilter(mapped_box(self._to_reference, person.box_xyxy), _FOUND_SD),
                self._frame,
                self._now_s,
                self._now_s,
                person.colours,
                [person.jersey_rgb],
            )
        )
        self._n_tracks += 1

    def _let_go(self) -> None:
        boxes = self._boxes()
        staying = []
        for track in self._tracks:
            box = boxes[track.number]
            hidden = any(
                near(box, other) for number, other in boxes.items() if number != track.number
            )
            unseen_s = min(self._now_s, track.looked_s) - track.found_s
            middle = (box[:2] + box[2:]) / 2
            outside = np.any(middle < 0) or np.any(middle > self._size)
            if outside or unseen_s > (MAX_HIDDEN_S if hidden else MAX_UNSEEN_S):
                self._gone.append(track)
            else:
                staying.append(track)
        self._tracks = staying


def mapped_box(homography: FloatArray, box_xyxy: FloatArray) -> FloatArray:
    """A box taken through a homography: its centre moved, its sides scaled, kept upright."""
    middle = (box_xyxy[:2] + box_xyxy[2:]) / 2
    there = _mapped(homography, middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    scale = np.sqrt(abs(np.linalg.det(there[1:] - there[0])))
    half = scale * (box_xyxy[2:] - box_xyxy[:2]) / 2
    return np.concatenate([there[0] - half, there[0] + half])


def _finished(
    track: _Track, to_reference: FloatArray, t_s: FloatArray, number: int
) -> PlayerTrack | None:
    """The track as it is handed on, or None when it is too short to be a player."""
    seen = np.array(track.seen, dtype=bool)
    frames = track.first_frame + np.arange(len(seen))
    if track.missed:
        # He had gone when he was looked for last; flow alone slips onto the background.
        seen &= t_s[frames] <= track.found_s + KEY_STEP_S
    if not seen.any():
        return None
    n = int(np.flatnonzero(seen)[-1]) + 1
    if track.n_found < MIN_FOUND or t_s[frames[n - 1]] - t_s[frames[0]] < MIN_TRACK_S:
        return None
    box = np.full((len(t_s), 4), np.nan)
    whole = np.zeros(len(t_s), dtype=bool)
    whole[frames[:n]] = seen[:n]
    for frame, steadied in zip(frames[:n], track.filter.smoothed(), strict=False):
        box[frame] = mapped_box(np.linalg.inv(to_reference[frame]), steadied)
    return PlayerTrack(number, box, whole, np.median(track.jerseys, axis=0))


def _unlikeness(track: _Track, box: FloatArray, person: Person) -> float:
    """How little a person looks like a track's player; infinite when it cannot be him."""
    height = box[3] - box[1]
    found = person.box_xyxy
    apart = np.linalg.norm(box[:2] + box[2:] - found[:2] - found[2:]) / 2 / height
    scale = abs(np.log((found[3] - found[1]) / height))
    # As far as a second of sprinting when he was last seen long ago.
    reach = 0.5 + min(2 * track.filter.place_sd / track.filter.height, 2.0)
    if apart > reach or scale > 0.6:
        return float("inf")
    colour = 1 - float(track.colours @ person.colours)
    return float(apart / 0.3 + scale / 0.25 + colour / 0.1)


def _flow_sd(shifts: FloatArray, height: float) -> float:
    """One sigma of a median shift, in heights: half a small pixel, and the points' own spread."""
    spread = 1.48 * np.median(np.abs(shifts - np.median(shifts, axis=0)))
    return float(0.005 + spread / height)


def _mixed(old: FloatArray, new: FloatArray) -> FloatArray:
    mixed = 0.8 * old**2 + 0.2 * new**2
    return np.asarray(np.sqrt(mixed / mixed.sum()))


def _widened(box: FloatArray) -> FloatArray:
    """A box with room for the stick, the shadow's edge and a stride."""
    room = 0.2 * (box[3] - box[1])
    return np.asarray(box + np.array([-room, -room / 2, room, room / 2]))


def _mapped(homography: FloatArray, points: FloatArray) -> FloatArray:
    mapped = np.concatenate([points, np.ones((len(points), 1))], axis=1) @ homography.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])
