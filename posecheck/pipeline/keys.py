"""By what keypoints and measures are known from run to run, besides the content of their clip.

Everything that could change them is in the key: the settings, what the practice says of the clip,
and the content of the code that makes them. Where files lie does not matter.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from posecheck.files.digest import facts_digest
from posecheck.pipeline.fingerprint import (
    keypoints_fingerprint,
    measures_fingerprint,
    scans_fingerprint,
)
from posecheck.pipeline.settings import Settings
from posecheck.pose.model_files import CLOSE_VARIANT, close_model_location
from posecheck.practice.practice import Practice


def keypoints_key(settings: Settings, practice: Practice, clip: Path) -> str:
    """SHA-256, hexadecimal, over everything but its film that could change a clip's keypoints.

    Of the practice that is the layout, the marks and the spot, since known points help to choose
    roles, and what the coach has put right: who the defender is, and when he arrives.
    """
    facts = {
        "code": keypoints_fingerprint(),
        "model": models_used(settings),
        "field": _field(practice, clip),
    }
    return facts_digest(facts)


def measures_key(settings: Settings, practice: Practice, clip: Path) -> str:
    """SHA-256, hexadecimal, over everything but its film that could change a clip's measures.

    Of the practice that is what helps to make keypoints, and how tall the players are; not the
    plan, the names or the strong hands, which only judging and pages look at.
    """
    return measures_key_by(models_used(settings), settings.reach_m, practice, clip)


def measures_key_by(models: str, reach_m: float, practice: Practice, clip: Path) -> str:
    """The same by the pose models in words and the reach, whether or not the models are here."""
    notes = practice.notes_for(clip)
    facts = {
        "code": measures_fingerprint(),
        "model": models,
        "reach_m": reach_m,
        "field": _field(practice, clip),
        "slow_in_part": notes.slow_in_part,
        "heights_m": [
            None if player is None else player.height_m
            for player in (notes.defender, notes.attacker)
        ],
        "stature": None if practice.stature is None else dataclasses.asdict(practice.stature),
    }
    return facts_digest(facts)


def scan_key(settings: Settings, slow_motion: float) -> str:
    """SHA-256, hexadecimal, over everything but a long film itself that could change its scan."""
    facts = {"code": scans_fingerprint(), "model": settings.model, "slow_motion": slow_motion}
    return facts_digest(facts)


def models_used(settings: Settings) -> str:
    """In words: the pose model, the one that reads the defender again, if it is there, and what
    runs them."""
    again = close_model_location(settings.model, settings.models_folder) is not None
    close = f", and {CLOSE_VARIANT} around the arrival" if again else ""
    return f"{settings.model}{close}, read with {settings.reader.in_words}"


def _field(practice: Practice, clip: Path) -> dict[str, object]:
    """What a practice says of the field and the film of one clip."""
    notes, layout, lens = practice.notes_for(clip), practice.layout, practice.lens_for(clip)
    return {
        "slow_motion": practice.slow_motion_for(clip),
        "layout": dataclasses.asdict(layout) | {"cones": sorted(layout.cones)},
        "view": None if notes.view is None else dataclasses.asdict(notes.view),
        "spot": notes.spot,
        "lens": None if lens is None else dataclasses.asdict(lens),
        "arrival_s": notes.arrival_s,
        "defender_at": None if notes.defender_at is None else dataclasses.asdict(notes.defender_at),
    }
