"""Following on made films, whose true boxes are those that were painted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from actors import (
    BLUE,
    RED,
    YELLOW,
    Actor,
    SeesJerseys,
    filling,
    runs,
    standing_pose,
    stands,
    truth,
    write_film,
)

from posecheck.maths.boxes import overlap
from posecheck.players import Followed, PlayerTrack, follow_players
from posecheck.players.detector import PaintedOut, Person
from posecheck.players.player import Player
from posecheck.pose.track import PlayerPose
from posecheck.video.clip import open_clip


def followed(path: Path) -> Followed:
    return follow_players(open_clip(path), SeesJerseys(RED, BLUE, YELLOW))


def overlaps(track: PlayerTrack, boxes: np.ndarray) -> np.ndarray:
    """``(n,)`` overlap with the true boxes; NaN where either is missing."""
    both = np.isfinite(track.box_xyxy[:, 0]) & np.isfinite(boxes[:, 0])
    return np.array(
        [
            overlap(a, b) if ok else np.nan
            for a, b, ok in zip(track.box_xyxy, boxes, both, strict=True)
        ]
    )


def follower_of(film: Followed, boxes: np.ndarray) -> PlayerTrack:
    """The track that lies over the true boxes in the first frames it and they share."""
    best = [np.nanmean(np.append(overlaps(track, boxes), 0.0)) for track in film.tracks]
    return film.tracks[int(np.argmax(best))]


def test_a_closeout_at_sprint_speed(tmp_path: Path) -> None:
    # Top speed 13 px a frame, which is 39 at 1080p: as fast as a sprint near the camera gets.
    defender = Actor(RED, runs((100, 300), (470, 290), 0.5, 1.9), lambda t: 100)
    attacker = Actor(BLUE, stands(520, 290))
    write_film(tmp_path / "film.mp4", [attacker, defender], 3.0)
    film = followed(tmp_path / "film.mp4")
    assert len(film.tracks) == 2
    for actor in (attacker, defender):
        boxes = truth(actor, film.t_s)
        track = follower_of(film, boxes)
        got = overlaps(track, boxes)
        assert np.nanmin(got) > 0.7
        assert np.isfinite(got).all()
        assert track.seen.mean() > 0.95
        off = np.abs(track.box_xyxy - boxes).max(axis=1)
        assert np.percentile(off, 95) < 0.15 * 90


@pytest.mark.parametrize("jerseys", [(RED, BLUE), (RED, RED)], ids=["two colours", "one colour"])
def test_two_players_who_cross_keep_their_identities(tmp_path: Path, jerseys: tuple) -> None:
    behind = Actor(jerseys[0], runs((120, 280), (520, 280), 0.3, 2.6))
    front = Actor(jerseys[1], runs((520, 300), (120, 300), 0.3, 2.6), lambda t: 100)
    write_film(tmp_path / "film.mp4", [behind, front], 3.0)
    film = followed(tmp_path / "film.mp4")
    for actor in (behind, front):
        boxes = truth(actor, film.t_s)
        track = follower_of(film, boxes)
        got = overlaps(track, boxes)
        assert got[5] > 0.6 and got[-5] > 0.6
        assert np.nanmean(got) > 0.7
    assert len(film.tracks) == 2


@pytest.mark.parametrize("jerseys", [(RED, BLUE), (RED, RED)], ids=["two colours", "one colour"])
def test_a_runner_who_hides_the_one_he_runs_past(tmp_path: Path, jerseys: tuple) -> None:
    standing = Actor(jerseys[0], stands(380, 280))
    runner = Actor(jerseys[1], runs((100, 290), (580, 290), 0.5, 2.6), lambda t: 95)
    write_film(tmp_path / "film.mp4", [standing, runner], 3.0)
    film = followed(tmp_path / "film.mp4")
    assert len(film.tracks) == 2
    for actor in (standing, runner):
        boxes = truth(actor, film.t_s)
        got = overlaps(follower_of(film, boxes), boxes)
        assert np.isfinite(got).all()
        assert np.median(got) > 0.8
        assert got.min() > 0.45 if actor is standing else got.min() > 0.6


def test_one_who_is_hidden_to_the_end_is_taken_to_stand_there_still(tmp_path: Path) -> None:
    standing = Actor(BLUE, stands(400, 280))
    runner = Actor(RED, runs((100, 290), (402, 290), 0.4, 2.0), lambda t: 105)
    write_film(tmp_path / "film.mp4", [standing, runner], 3.0)
    film = followed(tmp_path / "film.mp4")
    boxes = truth(standing, film.t_s)
    track = follower_of(film, boxes)
    assert np.isfinite(track.box_xyxy[:, 0]).all()
    assert overlaps(track, boxes).min() > 0.7
    assert track.seen[:40].all() and not track.seen[-20:].any()


class ReadsOneAlone(SeesJerseys):
    """Of several in one region it reads the first alone, as the pose model often does.

    In each region it looks at it may so read the same one again.
    """

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        return [
            pose
            for region in regions
            for pose in super(ReadsOneAlone, self).find_people(frame_rgb, [region])[:1]
        ]


def along(*corners: tuple[float, float, float]) -> Callable[[float], tuple[float, float]]:
    """Past corners (seconds, x, y) as players run: rounded over 0.35 s before and after each."""
    t_s, x, y = np.array(corners).T
    around_s = np.linspace(-0.35, 0.35, 29)
    weight = np.cos(around_s / 0.35 * np.pi / 2) ** 2
    weight /= weight.sum()

    def foot(at_s: float) -> tuple[float, float]:
        return tuple(float(np.interp(at_s + around_s, t_s, each) @ weight) for each in (x, y))  # type: ignore[return-value]

    return foot


CONTACTS = {
    # The attacker goes by him, so near that neither is seen whole.
    "the attacker dodges through": (
        along((0, 400, 285), (1.5, 400, 285), (2.5, 150, 290), (4, 150, 290)),
        along((0, 100, 290), (0.4, 100, 290), (1.6, 360, 290), (2.0, 380, 290), (3.3, 200, 292),
              (4, 200, 292)),
    ),
    "they bump and part": (
        along((0, 400, 285), (1.6, 400, 285), (2.2, 440, 285), (4, 560, 285)),
        along((0, 100, 290), (0.4, 100, 290), (1.7, 400, 292), (2.2, 400, 292), (3.4, 150, 290),
              (4, 150, 290)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("contact", CONTACTS)
@pytest.mark.parametrize("sees", [SeesJerseys, ReadsOneAlone], ids=["both read", "one read"])
@pytest.mark.parametrize("jerseys", [(RED, BLUE), (RED, RED)], ids=["two colours", "one colour"])
def test_two_in_contact_stay_two_and_keep_their_identities(
    tmp_path: Path, jerseys: tuple, sees: type[SeesJerseys], contact: str
) -> None:
    attacker, defender = (
        Actor(jersey, foot, lambda t, high=high: high)  # type: ignore[misc]
        for jersey, foot, high in zip(jerseys, CONTACTS[contact], (90, 95), strict=True)
    )
    write_film(tmp_path / "film.mp4", [attacker, defender], 4.0)
    film = follow_players(open_clip(tmp_path / "film.mp4"), sees(RED, BLUE))
    assert len(film.tracks) == 2
    true = [truth(actor, film.t_s) for actor in (attacker, defender)]
    tracks = [follower_of(film, boxes) for boxes in true]
    for track, mine, other in zip(tracks, true, true[::-1], strict=True):
        seen = track.seen
        assert seen.mean() > 0.8
        # Wherever the two are apart he is on his own body.
        apart = seen & (np.abs(mine[:, 0] - other[:, 0]) > 30)
        assert np.nanmin(overlaps(track, mine)[apart]) > 0.5
    both = tracks[0].seen & tracks[1].seen
    shared = np.array(
        [overlap(*pair) for pair in zip(*(track.box_xyxy for track in tracks), strict=True)]
    )
    truly = np.array([overlap(*pair) for pair in zip(*true, strict=True)])
    assert not np.any(both & (shared > 0.6) & (truly < 0.4))


class FindsLegless:
    """Whoever is searched for is read without his legs; in place he is read whole."""

    def __init__(self, box: np.ndarray) -> None:
        self._box = box

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        return [standing_pose(self._box - np.array([0, 0, 0, 30]))] if len(regions) else []

    def person_in(self, frame_rgb: np.ndarray, box_xyxy: np.ndarray) -> PlayerPose | None:
        return standing_pose(self._box)


def test_whoever_is_found_is_read_in_place_before_he_is_followed(tmp_path: Path) -> None:
    actor = Actor(RED, stands(300, 290), lambda t: 120)
    write_film(tmp_path / "film.mp4", [actor], 0.5)
    box = actor.box(0.0)
    (track,) = follow_players(open_clip(tmp_path / "film.mp4"), FindsLegless(box)).tracks
    np.testing.assert_allclose(track.box_xyxy[0], box, atol=6)


class FindsWhileLit:
    """Finds one person in a box for as long as the corner of the picture is bright."""

    def __init__(self, box: np.ndarray) -> None:
        self._pose = standing_pose(box)

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        lit = frame_rgb[:20, :20].mean() > 150
        middle = np.nanmean(self._pose.xy_px, axis=0)
        near = any(np.all((r[:2] < middle) & (middle < r[2:])) for r in np.asarray(regions))
        return [self._pose] if lit and near else []

    def person_in(self, frame_rgb: np.ndarray, box_xyxy: np.ndarray) -> PlayerPose | None:
        return filling(self.find_people(frame_rgb, [box_xyxy]), box_xyxy)


@pytest.mark.parametrize(
    "in_jersey", [True, False], ids=["his colours are there", "a wall of them"]
)
def test_a_box_in_which_nobody_is_read_is_lost(tmp_path: Path, in_jersey: bool) -> None:
    """The model reads him for 1.5 s; what stays in the box is a dummy in his jersey, or the wall
    he stood before."""
    box = np.array([285.0, 200, 315, 290])
    dummy = Actor(RED, stands(300, 290))
    lamp = Actor((255, 255, 255), lambda t: (10, 47) if t < 1.5 else None, lambda t: 60)
    film = tmp_path / "film.mp4"
    brick = [] if in_jersey else [Actor(RED, stands(x, 290)) for x in range(150, 460, 30)]
    write_film(film, [*brick, dummy, lamp], 4.0)
    tracks = follow_players(open_clip(film), FindsWhileLit(box)).tracks
    assert len(tracks) == 1
    seen = np.flatnonzero(tracks[0].seen)
    assert seen[0] == 0
    # Found last within a second before the lamp goes out, and believed by his colours no longer
    # than four searches; before a wall of his colours, not at all.
    last_s = seen[-1] / 30
    assert last_s <= (1.5 + 1.4 if in_jersey else 1.5)


def test_two_close_together_are_both_seen_though_the_model_reads_one(tmp_path: Path) -> None:
    standing = Actor(BLUE, stands(400, 285))
    runner = Actor(RED, runs((100, 290), (352, 290), 0.4, 2.0), lambda t: 95)
    write_film(tmp_path / "film.mp4", [standing, runner], 3.2)
    film = follow_players(open_clip(tmp_path / "film.mp4"), ReadsOneAlone(RED, BLUE))
    assert len(film.tracks) == 2
    for actor in (standing, runner):
        boxes = truth(actor, film.t_s)
        track = follower_of(film, boxes)
        assert track.seen[-30:].all()
        assert np.nanmin(overlaps(track, boxes)) > 0.7


class MissesOneBeside(SeesJerseys):
    """Finds the red one alone as long as he is not painted out; reads both in place.

    With ``sees_paint`` it takes paint for a body that is not there.
    """

    def __init__(self, sees_paint: bool) -> None:
        super().__init__(RED, BLUE)
        self._sees_paint = sees_paint

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        if not isinstance(frame_rgb, PaintedOut):
            return SeesJerseys(RED).find_people(frame_rgb, regions)
        paint = [standing_pose(np.array([430.0, 200, 460, 290]))] if self._sees_paint else []
        return super().find_people(frame_rgb, regions) + paint


@pytest.mark.parametrize("sees_paint", [False, True])
def test_one_who_is_missed_beside_a_taller_one_is_found(tmp_path: Path, sees_paint: bool) -> None:
    tall = Actor(RED, stands(300, 290), lambda t: 120)
    beside = Actor(BLUE, stands(352, 285))
    write_film(tmp_path / "film.mp4", [beside, tall], 2.0)
    film = follow_players(open_clip(tmp_path / "film.mp4"), MissesOneBeside(sees_paint))
    assert len(film.tracks) == 2
    for actor in (tall, beside):
        boxes = truth(actor, film.t_s)
        track = follower_of(film, boxes)
        assert np.isfinite(track.box_xyxy[:, 0]).argmax() <= 10
        assert np.nanmin(overlaps(track, boxes)) > 0.7


def test_a_player_hidden_for_half_a_second_is_carried_and_not_called_seen(tmp_path: Path) -> None:
    actor = Actor(RED, lambda t: (60 + 150 * t, 290))
    write_film(tmp_path / "film.mp4", [actor], 3.2, wall=(260, 330))
    film = followed(tmp_path / "film.mp4")
    assert len(film.tracks) == 1
    boxes = truth(actor, film.t_s)
    hidden = (boxes[:, 0] > 260) & (boxes[:, 2] < 330)
    assert hidden.sum() >= 5
    track = film.tracks[0]
    assert np.nanmin(overlaps(track, boxes)) > 0.5
    assert not track.seen[hidden].any()


def test_a_pan_is_not_taken_for_running(tmp_path: Path) -> None:
    def pan_px(t_s: float) -> float:
        return 60 * t_s

    defender = Actor(RED, runs((100, 300), (420, 290), 0.5, 2.2), lambda t: 100)
    attacker = Actor(BLUE, stands(480, 290))
    write_film(tmp_path / "film.mp4", [attacker, defender], 3.0, pan_px)
    film = followed(tmp_path / "film.mp4")
    assert film.camera_motion.tracked.all()
    for actor in (attacker, defender):
        boxes = truth(actor, film.t_s, pan_px)
        track = follower_of(film, boxes)
        assert np.nanmin(overlaps(track, boxes)) > 0.7
    standing = follower_of(film, truth(attacker, film.t_s, pan_px))
    feet = (standing.box_xyxy[:, [0, 3]] + standing.box_xyxy[:, [2, 3]]) / 2
    steadied = film.camera_motion.steadied(feet)
    assert np.nanmax(np.ptp(steadied, axis=0)) < 8


def test_nobody(tmp_path: Path) -> None:
    write_film(tmp_path / "film.mp4", [], 1.5)
    film = followed(tmp_path / "film.mp4")
    assert film.tracks == ()
    assert np.array_equal(
        film.camera_motion.to_reference, np.tile(np.eye(3), (len(film.t_s), 1, 1))
    )


def away(
    foot: Callable[[float], tuple[float, float]], from_s: float, to_s: float
) -> Callable[[float], tuple[float, float] | None]:
    return lambda t_s: foot(t_s) if from_s <= t_s < to_s else None


def test_one_who_comes_later_is_found_and_one_who_flits_by_is_dropped(tmp_path: Path) -> None:
    late = Actor(RED, away(runs((-40, 300), (400, 290), 1.0, 2.5), 1.0, 9.0))
    flits = Actor(BLUE, away(stands(520, 290), 0.0, 0.25))
    write_film(tmp_path / "film.mp4", [flits, late], 3.5)
    film = followed(tmp_path / "film.mp4")
    assert len(film.tracks) == 1
    boxes = truth(late, film.t_s)
    inside = (boxes[:, 0] > 0) & np.isfinite(boxes[:, 0])
    got = overlaps(film.tracks[0], boxes)
    # Found within half a second of coming wholly into view, and not before he came.
    first = np.flatnonzero(np.isfinite(film.tracks[0].box_xyxy[:, 0]))[0]
    assert 0 <= film.t_s[first] - film.t_s[np.flatnonzero(inside)[0]] <= 0.5
    assert np.nanmin(got[first:]) > 0.6


def test_looks_are_few(tmp_path: Path) -> None:
    defender = Actor(RED, runs((100, 300), (470, 290), 0.5, 1.9), lambda t: 100)
    attacker = Actor(BLUE, stands(520, 290))
    write_film(tmp_path / "film.mp4", [attacker, defender], 4.0)
    reader = SeesJerseys(RED, BLUE)
    follow_players(open_clip(tmp_path / "film.mp4"), reader)
    assert reader.n_regions < 70


def test_nobody_is_assigned_to_a_player_whose_box_has_shrunk_to_nothing() -> None:
    box = np.array([100.0, 100, 160, 300])
    person = Person(box, np.array([0.3, 0.2, 0.7, 0.5]), np.ones(1))
    player = Player.begin(0, person, np.eye(3), 0, 0.0)
    assert player.assignment_cost(box, person) == pytest.approx(0.0)
    shrunk = np.array([130.0, 210, 129, 190])
    assert player.assignment_cost(shrunk, person) == float("inf")


def test_somebody_who_comes_into_the_picture_is_known_again_once_he_shows_all_his_colours() -> None:
    """First seen cut off by the edge, in other colours than his jersey's."""
    box = np.array([0.0, 100, 60, 250])
    ragged, jersey = (np.sqrt(np.array(shares)) for shares in ((0.99, 0.01), (0.01, 0.99)))
    trunk = np.array([0.3, 0.2, 0.7, 0.5])

    def person(colours: np.ndarray) -> Person:
        return Person(box, trunk, colours)

    player = Player.begin(0, person(ragged), np.eye(3), 0, 0.0)
    for look in range(1, 4):
        assert np.isfinite(player.assignment_cost(box, person(jersey)))
        player.update_found(person(jersey), np.eye(3), 0.3 * look, crowded=False)
    assert float(player.colours @ jersey) > 0.9


class FindsOneAlone(SeesJerseys):
    """In its first sweeps of the whole picture it misses who is dressed in blue."""

    def __init__(self, missed: int) -> None:
        super().__init__(RED, BLUE)
        self._missed = missed

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        wide = sum(float(np.ptp(region[[0, 2]])) for region in regions)
        if wide >= frame_rgb.shape[1] and self._missed:
            self._missed -= 1
            return SeesJerseys(RED).find_people(frame_rgb, regions)
        return super().find_people(frame_rgb, regions)


@pytest.mark.parametrize(("missed", "latest_s"), [(0, 0.1), (1, 0.9), (3, 2.1)])
def test_as_long_as_only_one_is_known_the_other_is_looked_for_again(
    tmp_path: Path, missed: int, latest_s: float
) -> None:
    write_film(
        tmp_path / "film.mp4", [Actor(RED, stands(420, 300)), Actor(BLUE, stands(150, 300))], 7
    )
    film = follow_players(open_clip(tmp_path / "film.mp4"), FindsOneAlone(missed))
    assert len(film.tracks) == 2
    (later,) = (t for t in film.tracks if t.box_xyxy[-1, 0] < 300)
    first_s = film.t_s[np.isfinite(later.box_xyxy[:, 0])][0]
    assert first_s <= latest_s


class SeesDouble(SeesJerseys):
    """For as long as the corner of the picture is bright it reads everybody twice, the second time
    a few pixels aside."""

    def find_people(self, frame_rgb: np.ndarray, regions: Sequence[np.ndarray]) -> list[PlayerPose]:
        people = super().find_people(frame_rgb, regions)
        if frame_rgb[:20, :20].mean() < 150:
            return people
        aside = [replace(pose, xy_px=pose.xy_px + np.array([9.0, 0.0])) for pose in people]
        return people + aside


def test_of_two_boxes_over_one_body_the_one_that_is_found_stays(tmp_path: Path) -> None:
    player = Actor(RED, runs((200, 290), (460, 290), 2.0, 3.6))
    lamp = Actor((255, 255, 255), lambda t: (10, 47) if t < 1.0 else None, lambda t: 60)
    write_film(tmp_path / "film.mp4", [player, lamp], 4.0)
    film = follow_players(open_clip(tmp_path / "film.mp4"), SeesDouble(RED))
    boxes = truth(player, film.t_s)
    after = film.t_s > 1.4
    seen = [track for track in film.tracks if track.seen[after].any()]
    assert len(seen) == 1
    assert seen[0].seen[after].mean() > 0.9
    assert np.nanmin(overlaps(seen[0], boxes)[after]) > 0.6


def test_a_runner_who_is_alone_where_he_is_expected_is_known_whatever_the_light() -> None:
    """Out of the shade his shirt is another colour; beside somebody else it says who he is."""
    shade, light = (np.sqrt(np.array(shares)) for shares in ((0.99, 0.01), (0.01, 0.99)))
    trunk = np.array([0.3, 0.2, 0.7, 0.5])

    def at(left: float, colours: np.ndarray) -> Person:
        return Person(np.array([left, 100, left + 60, 250]), trunk, colours)

    def followed(step_px: float) -> Player:
        player = Player.begin(0, at(0, shade), np.eye(3), 0, 0.0)
        for look in range(1, 5):
            player.predict(0.15)
            person = at(look * step_px, shade)
            player.update_found(person, np.eye(3), 0.15 * look, crowded=False)
        return player

    runner, stander = followed(60), followed(0)
    box = runner.filter.box_xyxy
    assert runner.moves
    assert np.isfinite(runner.assignment_cost(box, at(box[0], light), crowded=False))
    assert not np.isfinite(runner.assignment_cost(box, at(box[0], light), crowded=True))
    assert not np.isfinite(runner.assignment_cost(box, at(box[0] + 60, light), crowded=False))
    box = stander.filter.box_xyxy
    assert not np.isfinite(stander.assignment_cost(box, at(box[0], light), crowded=False))
