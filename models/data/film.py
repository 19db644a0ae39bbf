"""Clips whose truth is known, as the renderer leaves them in a folder."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.practice.notes import View
from posecheck.practice.reading import read_practice

SAMPLE = "rep"
"""What the clips of the sample practice are called."""

WITHOUT_REP = ("captured", "database")
"""Collections in which one player moves as somebody was captured moving."""

Arrays = Mapping[str, npt.NDArray[Any]]


@dataclass(frozen=True)
class Film:
    """A clip with its truth.

    Attributes:
        path: of the clip.
        collection: what its name begins with: spread, moving, captured, database, foreign or, in
            the sample practice, rep.
        camera: how the phone was held.
        body: number of the body that is measured.
        movement: what it does.
        heights_m: of defender and attacker, where there are two.
        truth: the truth's JSON part.
        spot: where the attacker waits.
        view: points marked by hand, when the clip came with them.
        scene: what else is known of bodies, lens and light.
    """

    path: Path
    collection: str
    camera: str
    body: int
    movement: str
    heights_m: Sequence[float | None]
    truth: Mapping[str, Any]
    spot: str | None
    view: View | None
    scene: Mapping[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Of the clip."""
        return self.path.stem

    @cached_property
    def arrays(self) -> Arrays:
        """The truth's array part."""
        with np.load(self._truth(".npz"), allow_pickle=False) as file:
            return dict(file)

    @cached_property
    def stance(self) -> Arrays:
        """The defender's stance over time, by measure."""
        own = self._truth(".stance.npz")
        if not own.exists():
            return self.arrays
        with np.load(own, allow_pickle=False) as file:
            return dict(file)

    def _truth(self, ending: str) -> Path:
        return self.path.parents[1] / "truth" / f"{self.name}{ending}"

    def camera_at(self, frame: int) -> Camera:
        """The true camera of a frame."""
        matrix, rotation, centre = (
            self.arrays[f"camera_{part}"][frame].astype(float)
            for part in ("matrix", "rotation", "centre_m")
        )
        return Camera(matrix, rotation, centre)


def films(folder: Path) -> Iterator[Film]:
    """Every clip of a folder in which somebody arrives, or moves as captured."""
    practice = read_practice(folder)
    for path in sorted((folder / "clips").glob("*.mp4")):
        truth, scene = (
            _json(folder / "truth" / f"{path.stem}{ending}") for ending in (".json", ".scene.json")
        )
        collection = path.stem.partition("-")[0]
        if collection in WITHOUT_REP:
            body, movement = scene["body"], scene["movement"]
            yield Film(path, collection, "tripod", body, movement, (), {}, None, None, scene)
            continue
        if truth.get("arrival_s") is None:
            continue
        notes = practice.notes_for(path)
        known = [each.height_m for each in (notes.defender, notes.attacker) if each]
        camera = truth["view"] if collection == "moving" else "tripod"
        if collection == SAMPLE and truth["view"] == "hand":
            camera = "pan"
        yield Film(
            path,
            collection,
            camera,
            scene.get("body", truth["defender"]),
            truth["kind"],
            known or scene["heights_m"],
            truth,
            truth["spot"],
            notes.view,
            scene,
        )


def _json(path: Path) -> dict[str, Any]:
    return dict(json.loads(path.read_text("utf-8"))) if path.exists() else {}
