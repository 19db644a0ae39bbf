"""Made-up seasons of an invented club: with a truth that is known, and through the real store."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from factories import make_clip_result, make_provenance, make_rep_result

from posecheck.files.names import OUTPUT_FOLDER, PRACTICE_FILE, RECORD_FILE
from posecheck.habits.season import HabitRep, Made, PlayerId, PracticeReps, Season
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call
from posecheck.measures.measure import Measure, missing
from posecheck.practice.layout import Side
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record

CLUB = "Harbor Point Herons"
NAMES = (
    "Theo Marsh", "Ellis Rowan", "Cal Whitlock", "Dev Okoro", "Nico Brandt", "Zoë Lind",
    "Sam Birch", "Robin Vale", "Ira Fenn", "Jo Castell", "Max Ödegård", "Lee Hollis",
)  # fmt: skip
ROSTER = tuple(Player(number, name) for number, name in enumerate(NAMES, start=5))
FIRST = dt.date(2026, 9, 1)
SPOTS = ("top-left", "top-right", "side-left", "top", "side-right", "top-left")
MADE = Made("0.6.0", "full", "ab" * 32)

# Of each measure: the usual value, its spread between reps, between practices, and the half error
# bar of a reading. Invented, of the size that factories.KINDS has.
SPREAD: dict[str, tuple[float, float, float, float]] = {
    "knee_bend_deg": (48, 6, 1.5, 7),
    "hip_drop": (0.16, 0.03, 0.007, 0.035),
    "hand_reach": (0.55, 0.1, 0.025, 0.13),
    "arrival_speed_mps": (2.2, 0.4, 0.1, 0.25),
    "braking_distance_m": (2.4, 0.5, 0.12, 0.3),
    "peak_braking_mps2": (4.6, 0.9, 0.2, 0.8),
    "speed_kept": (0.45, 0.09, 0.02, 0.05),
}


@dataclass(frozen=True)
class Truth:
    """What a player's reps really do.

    Attributes:
        trend: change of a measure from one practice to the next.
        last: change in the last practice alone.
        late: change in the later half of every practice.
        left: change to his left.
        upright: share of reps run out upright, by practice; None for one in ten.
    """

    trend: Mapping[str, float] = field(default_factory=dict)
    last: Mapping[str, float] = field(default_factory=dict)
    late: Mapping[str, float] = field(default_factory=dict)
    left: Mapping[str, float] = field(default_factory=dict)
    upright: Callable[[int], float] = lambda practice: 0.1


def played(
    rng: np.random.Generator,
    truths: Mapping[Player, Truth],
    practices: int = 8,
    reps: int = 6,
    unseen: float = 0.1,
    shared: float = 0.3,
) -> list[list[tuple[Player, str, bool, dict[str, Measure | None]]]]:
    """Reps by practice: player, spot, upright, and what is read; None for what the film hides.

    A share ``shared`` of the variance of each reading's error is common to a player's practice.
    """
    season = []
    for practice in range(practices):
        rows = []
        own_day = {
            player: {
                key: (rng.normal(0, day), rng.normal(0, half / 1.645 * shared**0.5))
                for key, (_, _, day, half) in SPREAD.items()
            }
            for player in truths
        }
        for turn in range(reps):
            for player, truth in truths.items():
                spot = SPOTS[(turn + practice) % len(SPOTS)]
                read: dict[str, Measure | None] = {}
                hidden = rng.random() < unseen
                for key, (usual, spread, _, half) in SPREAD.items():
                    day, misread = own_day[player][key]
                    value = usual + day + rng.normal(0, spread)
                    value += truth.trend.get(key, 0) * practice
                    value += truth.last.get(key, 0) * (practice == practices - 1)
                    value += truth.late.get(key, 0) * (turn >= reps / 2)
                    value += truth.left.get(key, 0) * ("left" in spot)
                    value += misread + rng.normal(0, half / 1.645 * (1 - shared) ** 0.5)
                    read[key] = (
                        None if hidden else Measure(key, value, value - half, value + half, "made")
                    )
                rows.append((player, spot, rng.random() < truth.upright(practice), read))
        season.append(rows)
    return season


def made_up_season(rng: np.random.Generator, truths: Mapping[Player, Truth], **usual) -> Season:
    """A season as the records of such reps read."""
    practices = []
    for number, rows in enumerate(played(rng, truths, **usual)):
        reps = tuple(
            HabitRep(
                who=PlayerId.of(player),
                name=player.name,
                side=_side(spot),
                measures={key: each for key, each in read.items() if each is not None},
                upright=Call.CANT_TELL
                if read["knee_bend_deg"] is None
                else (Call.FLAGGED if upright else Call.CLEAR),
                as_now=True,
            )
            for player, spot, upright, read in rows
        )
        date = FIRST + dt.timedelta(days=7 * number)
        practice = Practice(Path(f"week-{number + 1}"), f"Week {number + 1}", CLUB, date)
        practices.append(PracticeReps(practice, date, reps, frozenset({MADE}), 0))
    return Season(DEFAULT_THRESHOLDS, tuple(practices), (), ())


def _side(spot: str) -> Side:
    return Side.LEFT if "left" in spot else Side.RIGHT if "right" in spot else Side.MIDDLE


def write_season(
    folder: Path,
    rng: np.random.Generator,
    truths: Mapping[Player, Truth],
    versions: Mapping[int, str] | None = None,
    **usual,
) -> list[Path]:
    """The same as practices in folders of their own, each with its record; the practice folders.

    What is upright reads like the upright rep of ``factories``, so that judging flags it.

    Args:
        versions: of posecheck that measured a practice, by its place; else the usual one.
    """
    folders = []
    for number, rows in enumerate(played(rng, truths, **usual)):
        date = FIRST + dt.timedelta(days=7 * number)
        place = folder / f"{date:%m-%d}-one-on-ones"
        names = [f"clips/IMG_{turn + 1}.mp4" for turn in range(len(rows))]
        write_practice_file(place, f"Week {number + 1} one-on-ones", date, rows, names)
        practice = read_practice(place)
        made = make_provenance(version=(versions or {}).get(number, "0.6.0"))
        with Record(place / OUTPUT_FOLDER / RECORD_FILE, make=True) as record:
            for name, (_, _, upright, read) in zip(names, rows, strict=True):
                rep = make_rep_result("upright" if upright else "breakdown", picture=False)
                measures = dict(rep.measures)
                if not upright:
                    measures |= {
                        key: missing(key, "the legs are out of the picture")
                        if each is None
                        else each
                        for key, each in read.items()
                    }
                result = make_clip_result(
                    place / name, reps=(replace(rep, measures=measures),), provenance=made
                )
                record.save(practice, result)
        folders.append(place)
    return folders


def write_practice_file(
    place: Path,
    name: str,
    date: dt.date | None,
    rows: Sequence[tuple[Player | None, str, bool, object]],
    clips: Sequence[str],
) -> None:
    """A ``practice.toml`` with a roster and who is in which clip."""
    lines = [f"name = {json.dumps(name)}", f"club = {json.dumps(CLUB)}"]
    if date is not None:
        lines.append(f"date = {date}")
    lines.append('[layout]\npreset = "five-spots"')
    for player in dict.fromkeys(row[0] for row in rows if row[0] is not None):
        lines.append(f"[[players]]\nnumber = {player.number}\nname = {json.dumps(player.name)}")
    for clip, (player, spot, *_) in zip(clips, rows, strict=True):
        lines.append(f'[[clips]]\nfile = "{clip}"\nspot = "{spot}"')
        if player is not None:
            lines.append(f"defender = {player.number}")
    place.mkdir(parents=True, exist_ok=True)
    (place / PRACTICE_FILE).write_text("\n".join(lines), encoding="utf-8")
