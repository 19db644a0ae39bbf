"""Who of the people read in one frame is which of the players who are being followed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from posecheck.maths.arrays import FloatArray, Pixels
from posecheck.maths.boxes import overlap
from posecheck.players.detector import FindsPeople, Person, person_in
from posecheck.players.neighbours import is_crowded, part_of
from posecheck.players.player import Player
from posecheck.players.tuning import LEAST_BOX_PX, RAN_COST, SAME_BODY


def read_in_place(
    reader: FindsPeople,
    frame_rgb: Pixels,
    boxes: dict[int, FloatArray],
    players: Sequence[Player],
) -> dict[int, Person]:
    """Those of the players who are read where they are expected, by number.

    Of two in whose boxes one body is read it is his whom it fits better.

    Args:
        reader: the pose model.
        frame_rgb: the picture.
        boxes: ``(4,)`` where each player is expected, by number.
        players: whom to read.
    """
    read = []
    for player in players:
        box = boxes[player.number]
        if np.any(box[2:] - box[:2] < LEAST_BOX_PX):
            continue
        person = person_in(reader, frame_rgb, box)
        if person is not None:
            crowded = is_crowded(player.number, boxes)
            read.append((player.assignment_cost(box, person, crowded), player.number, person))
    own: dict[int, Person] = {}
    for cost, number, person in sorted(read, key=lambda each: each[0]):
        once = all(overlap(person.box_xyxy, e.box_xyxy) <= SAME_BODY for e in own.values())
        if once and np.isfinite(cost):
            own[number] = person
    return own


def assigned(
    players: Sequence[Player],
    boxes: dict[int, FloatArray],
    people: Sequence[Person],
    now_s: float,
) -> dict[int, Person]:
    """Who of the people found is which player, by number, at the least total cost.

    Args:
        players: all who are followed.
        boxes: ``(4,)`` where each is expected, by number.
        people: found in this frame.
        now_s: the frame's time.
    """
    from scipy.optimize import linear_sum_assignment

    if not people or not players:
        return {}
    near = [is_crowded(player.number, boxes) for player in players]
    cost = np.array(
        [
            [player.assignment_cost(boxes[player.number], person, crowded) for person in people]
            for player, crowded in zip(players, near, strict=True)
        ]
    )
    for row, player in enumerate(players):
        if player.searched_s == now_s and not np.isfinite(cost[row]).any():
            # He was searched for where he should be, and is not there.
            for column in np.flatnonzero(~np.isfinite(cost).any(axis=0)):
                if player.may_have_run(boxes[player.number], people[int(column)], now_s):
                    cost[row, column] = RAN_COST
    pairs = zip(*linear_sum_assignment(np.minimum(cost, 1e6)), strict=True)
    return {
        players[int(row)].number: people[int(column)]
        for row, column in pairs
        if np.isfinite(cost[row, column])
    }


def each_once(people: Sequence[Person]) -> list[Person]:
    """People found, without those who are one found before a second time, or part of one."""
    once: list[Person] = []
    for person in people:
        if all(overlap(person.box_xyxy, other.box_xyxy) <= SAME_BODY for other in once):
            once.append(person)
    return [
        person
        for person in once
        if not any(part_of(person.box_xyxy, other.box_xyxy) for other in once)
    ]
