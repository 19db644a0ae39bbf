"""Follow everybody through a clip in one pass over its frames.

On key frames, a few a second, known players are read where they are expected, the detector
searches for the others, and who was found is assigned to the players known so far; in between, the
players' own pixels are followed by optical flow, and runners are read once more. Each player's box
is filtered while the film runs and smoothed at its end, all in the steadied picture, so that a
panning camera does not look like running.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from posecheck.camera.motion_estimator import CameraMotionEstimator
from posecheck.maths.arrays import FloatArray, Image, Pixels
from posecheck.maths.boxes import overlap
from posecheck.maths.homography import mapped, mapped_box
from posecheck.players.detector import (
    FindsPeople,
    PaintedOut,
    Person,
    around,
    around_motion,
    at_least,
    colours_in,
    exposed_tiles,
    find_people,
    moving_boxes,
    person_in,
    regions_for,
    tiles,
)
from posecheck.players.doubles import Sightings, without_doubles
from posecheck.players.flow import player_motion
from posecheck.players.matching import assigned, each_once, read_in_place
from posecheck.players.neighbours import is_crowded
from posecheck.players.player import Player
from posecheck.players.track import Followed
from posecheck.players.tuning import (
    BESIDE_HEIGHTS,
    FIRST_SWEEPS,
    FLOW_SD_HEIGHTS,
    FLOW_STEP_S,
    KEY_STEP_S,
    KNOWN_MARGIN,
    MAX_MOTION_REGIONS,
    MIN_OTHER_THAN_BESIDE,
    MIN_SAME_COLOURS,
    NEW_SHARES,
    NEXT_SWEEP_S,
    OTHER_REGION_HEIGHTS,
    READ_STEP_S,
    SHARED_BOX,
    SMALL_PX,
    SMALLEST_REGION_SIDE,
    STILL_STEP_S,
    SWEEP_STEP_S,
    VAIN_S,
    VAIN_SEARCHES,
)
from posecheck.video.clip import Clip, Glimpse
from posecheck.video.kept_frames import KeptFrames


@dataclass(frozen=True)
class _View:
    """A frame to compare a later one with: small picture, camera motion, and the players' boxes."""

    index: int
    t_s: float
    grey: Image
    to_reference: FloatArray
    boxes: dict[int, FloatArray]


def follow_players(clip: Clip, reader: FindsPeople, kept: KeptFrames | None = None) -> Followed:
    """Find and follow everybody in a clip.

    Memory does not grow with the clip's length: two small grey pictures are kept at a time.

    Args:
        clip: the film.
        reader: the pose model.
        kept: frames to be kept on the way.

    Returns:
        The tracks, in order of first appearance, none when nobody is in the film; and the
        camera's motion.

    Raises:
        UnreadableClip: the file has changed or vanished since it was opened.
    """
    follower = _Follower(clip.width_px, clip.height_px, reader)
    for glimpse in clip.glimpses(SMALL_PX, kept):
        follower.step(glimpse)
    return follower.followed(clip.t_s)


class _Follower:
    def __init__(self, width_px: int, height_px: int, reader: FindsPeople) -> None:
        self._size = (width_px, height_px)
        self._reader = reader
        self._camera = CameraMotionEstimator(width_px, height_px)
        self._players: list[Player] = []
        self._gone: list[Player] = []
        self._n_sweeps = 0
        self._sweep_s = -np.inf
        self._swept_to_reference = np.eye(3)
        self._flow_view: _View | None = None
        self._key_view: _View | None = None
        self._vain: list[tuple[float, FloatArray]] = []
        self._read_s = 0.0
        self._now_s = 0.0
        self._to_reference = np.eye(3)

    def step(self, glimpse: Glimpse) -> None:
        """Process the next frame."""
        step_s = glimpse.t_s - self._now_s
        self._now_s = glimpse.t_s
        for player in self._players:
            player.predict(step_s)
        self._to_reference = self._camera.add(glimpse.grey, list(self._boxes().values()))
        flow_due = self._is_due(self._flow_view, FLOW_STEP_S)
        if flow_due and self._flow_view is not None:
            self._update_motion(self._flow_view, glimpse)
        if self._is_due(self._key_view, KEY_STEP_S):
            self._search(glimpse)
            self._key_view = self._view(glimpse)
            self._read_s = self._now_s
        elif self._now_s - self._read_s >= READ_STEP_S - 1e-6:
            self._read_runners(glimpse)
        if flow_due:
            self._flow_view = self._view(glimpse)
        self._drop_gone()

    def followed(self, t_s: FloatArray) -> Followed:
        """Everybody who was followed for long enough."""
        motion = self._camera.motion()
        everybody: list[Sightings] = []
        for player in sorted(self._gone + self._players, key=lambda player: player.number):
            track = player.track(motion.to_reference, t_s)
            if track is not None:
                everybody.append(Sightings(track, frozenset(player.all_found_s)))
        tracks = [
            replace(track, track_id=number)
            for number, track in enumerate(without_doubles(everybody, t_s))
        ]
        return Followed(t_s, tuple(tracks), motion)

    def _is_due(self, last: _View | None, step_s: float) -> bool:
        return last is None or self._now_s - last.t_s >= step_s - 1e-6

    def _view(self, glimpse: Glimpse) -> _View:
        return _View(glimpse.index, glimpse.t_s, glimpse.grey, self._to_reference, self._boxes())

    def _boxes(self) -> dict[int, FloatArray]:
        """Where the players are in the present picture, by their numbers."""
        from_reference = np.linalg.inv(self._to_reference)
        return {
            player.number: mapped_box(from_reference, player.filter.box_xyxy)
            for player in self._players
        }

    def _update_motion(self, before: _View, glimpse: Glimpse) -> None:
        # Where a player was searched for and not found, the pixels are another's.
        players = [p for p in self._players if p.number in before.boxes and p.recognised]
        if not players:
            return
        boxes = self._boxes()
        shrink = glimpse.grey.shape[1] / self._size[0]
        motions = player_motion(
            before.grey,
            glimpse.grey,
            [before.boxes[player.number] * shrink for player in players],
            [boxes[player.number] * shrink for player in players],
            [player.trunk for player in players],
        )
        step_s = self._now_s - before.t_s
        for player, motion in zip(players, motions, strict=True):
            if motion is None:
                continue
            then = mapped(before.to_reference, motion.before_xy / shrink)
            now = mapped(self._to_reference, motion.after_xy / shrink)
            speed = np.median(now - then, axis=0) / step_s
            sd = _flow_sd(now - then, player.filter.height) / step_s
            growth = float(np.log(motion.growth)) / step_s
            growth_sd = FLOW_SD_HEIGHTS / step_s + motion.growth_sd / step_s
            n_frames = glimpse.index - before.index
            player.update_motion(speed, growth, sd, growth_sd, n_frames)

    def _search(self, glimpse: Glimpse) -> None:
        boxes = self._boxes()
        due = self._due(boxes)
        swept = self._sweep() or self._exposed_tiles()
        moved = self._moved(glimpse.grey, boxes)
        least_px = SMALLEST_REGION_SIDE * min(self._size)
        about = [at_least(each, least_px) for box in moved for each in around_motion(box)]
        if not due and not swept and not about:
            return
        frame_rgb = glimpse.rgb  # once: what is searched is most of the picture
        read = read_in_place(self._reader, frame_rgb, boxes, due)
        unread = [player for player in due if player.number not in read]
        regions = regions_for(self._expected(boxes, unread)) + swept + about
        people = each_once([*read.values(), *find_people(self._reader, frame_rgb, regions)])
        self._remember_vain(moved, people)
        found = assigned(self._players, boxes, people, self._now_s)
        again = self._other_regions(boxes, found) + self._doubted(boxes, people, found)
        if again:
            people = each_once(people + find_people(self._reader, frame_rgb, again))
            found = assigned(self._players, boxes, people, self._now_s)
        hidden = [
            player
            for player in self._players
            if player.searched_s == self._now_s
            and player.number not in found
            and is_crowded(player.number, boxes)
        ]
        if hidden and found:
            # Of two players close together the model often reads only one. Which of them it was is
            # decided once both are found.
            rest = PaintedOut(frame_rgb, [person.box_xyxy for person in found.values()])
            # What is left of somebody painted out still makes a body where he is.
            more = {
                number: person
                for number, person in read_in_place(self._reader, rest, boxes, hidden).items()
                if all(overlap(person.box_xyxy, e.box_xyxy) <= SHARED_BOX for e in found.values())
            }
            where = [around(boxes[each.number]) for each in hidden if each.number not in more]
            others = [*more.values(), *find_people(self._reader, rest, where)]
            found = assigned(self._players, boxes, each_once(people + others), self._now_s)
        self._update(frame_rgb, boxes, found)
        taken = list(found.values())
        # What shares so much with somebody known is limbs of two, or him again.
        known = [each.box_xyxy for each in taken]
        known += [boxes[p.number] for p in self._players if p.confirmed and not p.missed]

        def is_apart(person: Person) -> bool:
            return all(overlap(person.box_xyxy, box) <= NEW_SHARES for box in known)

        new = [person for person in people if person not in taken and is_apart(person)]
        new = [self._read_again(frame_rgb, person) for person in new]
        seen = sum(not player.missed for player in self._players)
        if not new and (swept or seen < 2):
            new = [each for each in self._beside(frame_rgb, known) if is_apart(each)]
        for person in each_once(new):
            if is_apart(person):
                number = len(self._gone) + len(self._players)
                self._players.append(
                    Player.begin(number, person, self._to_reference, glimpse.index, self._now_s)
                )

    def _beside(self, frame_rgb: Pixels, known: list[FloatArray]) -> list[Person]:
        """People next to those known, whom the detector misses beside somebody nearer.

        What is left of somebody painted out may still look like a body: so who is found without
        those known must be read in the same place with them.
        """
        rest = PaintedOut(frame_rgb, known)
        aside = np.array([BESIDE_HEIGHTS, 0.0] * 2)
        regions = [
            around(box + side * (box[3] - box[1]) * aside) for box in known for side in (-1, 1)
        ]
        people = []
        for person in find_people(self._reader, rest, regions):
            again = person_in(self._reader, frame_rgb, person.box_xyxy)
            if again is not None and overlap(again.box_xyxy, person.box_xyxy) > SHARED_BOX:
                people.append(again)
        return people

    def _read_again(self, frame_rgb: Pixels, person: Person) -> Person:
        """Somebody found by a search as he is read in place: where the detector has pointed the
        landmark network wrong, his box lacks his legs or his head."""
        again = person_in(self._reader, frame_rgb, person.box_xyxy)
        if again is None or overlap(again.box_xyxy, person.box_xyxy) <= SHARED_BOX:
            return person
        return again

    def _read_runners(self, glimpse: Glimpse) -> None:
        """Between two key frames, read those who move in place.

        Flow slips off a runner onto what is behind him. Who is not read is not missed for that.
        """
        boxes = self._boxes()
        self._read_s = self._now_s
        movers = [p for p in self._players if p.confirmed and p.moves]
        if not movers:
            return
        beside = [
            p
            for p in self._players
            if p.confirmed and p not in movers and is_crowded(p.number, boxes)
        ]
        read = read_in_place(self._reader, glimpse.pixels, boxes, movers + beside)
        found = assigned(self._players, boxes, list(read.values()), self._now_s)
        for player in movers:
            if (person := found.get(player.number)) is not None:
                crowded = is_crowded(player.number, boxes)
                player.update_found(person, self._to_reference, self._now_s, crowded)

    def _update(
        self, frame_rgb: Pixels, boxes: dict[int, FloatArray], found: dict[int, Person]
    ) -> None:
        """Update every player by whether he was found, and where."""
        for player in self._players:
            if (person := found.get(player.number)) is not None:
                crowded = is_crowded(player.number, boxes)
                player.update_found(person, self._to_reference, self._now_s, crowded)
        for player in self._players:
            if player.missed and player.searched_s == self._now_s:
                # Whose box another was found in is behind him: the pixels there are the other's.
                box = boxes[player.number]
                behind = any(overlap(box, each.box_xyxy) > SHARED_BOX for each in found.values())
                player.update_missed(not behind and self._recognised(player, frame_rgb))

    def _due(self, boxes: dict[int, FloatArray]) -> list[Player]:
        """The players to look for now."""
        due = [
            player
            for player in self._players
            if player.moves
            or player.missed
            or not player.confirmed
            or is_crowded(player.number, boxes)
            or self._now_s - player.searched_s >= STILL_STEP_S
        ]
        for player in due:
            player.searched_s = self._now_s
        return due

    def _expected(
        self, boxes: dict[int, FloatArray], players: list[Player]
    ) -> list[tuple[FloatArray, float]]:
        """Where players are to be searched for: boxes, and by how many pixels each may be wrong."""
        return [
            (boxes[player.number], min(2 * player.filter.place_sd, player.filter.height))
            for player in players
        ]

    def _doubted(
        self, boxes: dict[int, FloatArray], people: list[Person], found: dict[int, Person]
    ) -> list[FloatArray]:
        """Regions of players who were thought to stand, and of whom somebody found nearby may be
        one who has set off: flow slips onto the background."""
        taken = list(found.values())
        new = [person for person in people if person not in taken]
        doubted = [
            player
            for player in self._players
            if player.searched_s != self._now_s
            and any(player.may_have_run(boxes[player.number], each, self._now_s) for each in new)
        ]
        for player in doubted:
            player.searched_s = self._now_s
        return [around(boxes[player.number]) for player in doubted]

    def _other_regions(
        self, boxes: dict[int, FloatArray], found: dict[int, Person]
    ) -> list[FloatArray]:
        """A region of another size for every moving player who was searched for and not found:
        whether the detector finds somebody depends on how large he is in it, and where."""
        regions = []
        for player in self._players:
            if player.searched_s != self._now_s or player.number in found or not player.moves:
                continue
            box = boxes[player.number]
            off = min(2 * player.filter.place_sd, player.filter.height)
            height = float(box[3] - box[1])
            wide = off > OTHER_REGION_HEIGHTS / 2 * height
            regions.append(around(box, 0.0 if wide else OTHER_REGION_HEIGHTS * height))
        return regions

    def _sweep(self) -> list[FloatArray]:
        """The tiles of a sweep, none when no sweep is due."""
        too_few = self._n_sweeps < FIRST_SWEEPS and len(self._players) < 2
        again_s = self._n_sweeps * NEXT_SWEEP_S
        if self._now_s < self._sweep_s and not (too_few and self._now_s >= again_s):
            return []
        squares = tiles(*self._size, turn=self._n_sweeps)
        self._n_sweeps += 1
        self._sweep_s = self._now_s + SWEEP_STEP_S
        self._swept_to_reference = self._to_reference
        return squares

    def _exposed_tiles(self) -> list[FloatArray]:
        """Tiles of the picture that a pan has brought into view since the last sweep."""
        to_swept = np.linalg.inv(self._swept_to_reference) @ self._to_reference
        squares = exposed_tiles(*self._size, to_swept)
        if squares:
            self._swept_to_reference = self._to_reference
        return squares

    def _moved(self, grey: Image, boxes: dict[int, FloatArray]) -> list[FloatArray]:
        """Boxes in which something moved since the last key frame that is no known player."""
        before = self._key_view
        if before is None:
            return []
        shrink = grey.shape[1] / self._size[0]
        to_small = np.diag([shrink, shrink, 1.0])
        between = np.linalg.inv(self._to_reference) @ before.to_reference
        then = [mapped_box(between, box) for box in before.boxes.values()]
        known = [_widened(box) * shrink for box in [*then, *boxes.values()]]
        moved = moving_boxes(before.grey, grey, to_small @ between @ np.linalg.inv(to_small), known)
        self._vain = [vain for vain in self._vain if self._now_s - vain[0] < VAIN_S]
        unexplained = []
        for box in moved:
            middle = mapped(self._to_reference, [(box[:2] + box[2:]) / 2 / shrink])[0]
            vain = sum(np.all((b[:2] < middle) & (middle < b[2:])) for _, b in self._vain)
            if vain < VAIN_SEARCHES:
                unexplained.append(box / shrink)
        return unexplained[:MAX_MOTION_REGIONS]

    def _remember_vain(self, moved: list[FloatArray], people: list[Person]) -> None:
        for box in moved:
            region = around_motion(box)[0]
            middles = [(person.box_xyxy[:2] + person.box_xyxy[2:]) / 2 for person in people]
            if not any(np.all((region[:2] < m) & (m < region[2:])) for m in middles):
                self._vain.append((self._now_s, mapped_box(self._to_reference, region)))

    def _recognised(self, player: Player, frame_rgb: Pixels) -> bool:
        """Whether the pixels that the flow has followed still have the player's colours, and those
        beside him have not."""
        box = self._boxes()[player.number]
        there = float(player.colours @ colours_in(frame_rgb, box, player.trunk))
        colours = colours_in(frame_rgb, box, player.trunk)
        others = [float(other.colours @ colours) for other in self._players if other is not player]
        # Before a wall of his colours they do not show that he is there.
        aside = np.array([box[2] - box[0], 0.0] * 2)
        beside = [
            float(player.colours @ colours_in(frame_rgb, box + sign * aside, player.trunk))
            for sign in (-1, 1)
        ]
        least = max(MIN_SAME_COLOURS, *others, min(beside) + MIN_OTHER_THAN_BESIDE)
        return there >= least

    def _drop_gone(self) -> None:
        boxes = self._boxes()
        staying = []
        for player in self._players:
            box = boxes[player.number]
            middle = (box[:2] + box[2:]) / 2
            outside = bool(np.any(middle < 0) or np.any(middle > self._size))
            if outside or player.is_gone(crowded=is_crowded(player.number, boxes)):
                self._gone.append(player)
            else:
                staying.append(player)
        self._players = staying


def _flow_sd(shifts: FloatArray, height: float) -> float:
    """Standard deviation of a median shift, in heights, with the spread of the points."""
    # 1.48 median absolute deviations are one standard deviation of a normal distribution.
    spread = 1.48 * np.median(np.abs(shifts - np.median(shifts, axis=0)))
    return float(FLOW_SD_HEIGHTS + spread / height)


def _widened(box: FloatArray) -> FloatArray:
    """A box with a margin for the stick, the shadow's edge and a stride."""
    margin = KNOWN_MARGIN * (box[3] - box[1])
    return np.asarray(box + np.array([-margin, -margin / 2, margin, margin / 2]))
