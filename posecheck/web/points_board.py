"""What the points page shows and does, without the serving: frames, fits, finding, saving.

Everything that goes in and out is plain values, ready for JSON. Pixels are the clip's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.errors import SettingsError, UsageError
from posecheck.files.names import OUTPUT_FOLDER, PRACTICE_FILE
from posecheck.ground.find.background import motion_of
from posecheck.ground.find.points import PointsNotFound, find_points
from posecheck.ground.from_points import ground_from_marks
from posecheck.ground.tuning import MIN_MARKS
from posecheck.maths.arrays import FloatArray
from posecheck.practice.field import GOAL_HEIGHT_M, GOAL_WIDTH_M, crease_radius_m
from posecheck.practice.found_cuts import cut_files
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import View
from posecheck.practice.points_file import write_points
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.video.folder import find_clips
from posecheck.web.film import Film
from posecheck.web.tuning import (
    GRID_MARGIN_M,
    GRID_STEP_M,
    LINE_POINTS,
    RING_POINTS,
)

FEW_MARKS_WARNING = (
    "Four points can fit and be wrong: see that the lines lie right, or place one more."
)
"""Seven unknowns of a camera against eight numbers: hardly anything is left to disagree."""


class PointsBoard:
    """One practice's camera positions while points are set in them.

    Args:
        folder: of the practice.
        checked: whether there is a page on which its players are named.

    Raises:
        SettingsError: practice.toml or points.toml cannot be used.
        UsageError: there is no layout, or there are no clips.
    """

    def __init__(self, folder: Path, checked: bool = False) -> None:
        self.checked = checked
        self.practice: Practice = read_practice(folder)
        if not self.practice.layout.points:
            raise UsageError(
                f"{self.practice.folder / PRACTICE_FILE}: it has no layout, so there are no points "
                'to set; write [layout] and, below it, preset = "five-spots" into it.'
            )
        own = self.practice.folder
        paths = [*find_clips([own]), *cut_files(own / OUTPUT_FOLDER)]
        if not paths:
            raise UsageError(
                f"{self.practice.folder}: there are no clips in it; name their folder."
            )
        self.film = Film(self.practice, paths)

    def state(self) -> dict[str, Any]:
        """All that the page starts from, as the practice is described now."""
        with self.film.lock:
            self.practice = practice = read_practice(self.practice.folder)
        notes = {key: practice.notes_for(path) for key, path in self.film.paths.items()}
        return {
            "name": practice.name,
            "checked": self.checked,
            "need": MIN_MARKS,
            "points": [
                {"name": name, "at": list(at), "cone": name in practice.layout.cones}
                for name, at in _in_reading_order(practice.layout)
            ],
            "crease_m": crease_radius_m(practice.layout),
            "clips": [
                {"key": key, "view": note.view.name if note.view else None, "spot": note.spot}
                for key, note in notes.items()
            ],
            "views": [
                {
                    "name": view.name,
                    "size": view.size,
                    "time_s": view.time_s,
                    "marks": {name: list(at) for name, at in view.marks.items()},
                }
                for view in practice.views.values()
            ],
        }

    def fit(self, key: str, view: Mapping[str, Any]) -> dict[str, Any]:
        """Fit a camera to marks and draw the field as it sees it.

        Args:
            key: of the clip the marks are shown in.
            view: as in :meth:`state`.

        Returns:
            ``sentence``, and when the marks fit ``errors_cm`` by point and ``drawing``.
        """
        with self.film.lock:
            clip = self.film.clip(key)
        size = (clip.width_px, clip.height_px)
        try:
            marked = _view(view)
            ground = ground_from_marks(marked, self.practice.layout, size)
        except SettingsError as error:
            return {"fits": False, "sentence": _without_view(str(error))}
        scale = np.array(size) / np.array(marked.size)
        errors = {}
        for name, at in marked.marks.items():
            seen = ground.camera.to_ground((np.array(at) + 0.5) * scale - 0.5)
            off = float(np.linalg.norm(seen - np.array(self.practice.layout.points[name])))
            errors[name] = round(100 * off, 1) if np.isfinite(off) else None
        sentence = (
            f"{ground.described}; the phone is {ground.camera.centre_m[2]:.1f} m above the ground."
        )
        if len(errors) == MIN_MARKS:
            sentence += f" {FEW_MARKS_WARNING}"
        return {
            "fits": True,
            "sentence": sentence,
            "errors_cm": errors,
            "drawing": drawing(ground.camera, self.practice.layout, size),
        }

    def find(self, key: str) -> dict[str, Any]:
        """Look for the points in a clip.

        Returns:
            ``found`` (what, in words), ``time_s`` and ``marks`` of the moment that shows most of
            them; or ``sentence`` when nothing was found.
        """
        with self.film.lock:
            clip = self.film.clip(key)
            motion = motion_of(clip)
            spot = self.practice.notes_for(self.film.paths[key]).spot
            try:
                found = find_points(clip, self.practice.layout, motion, spot)
            except PointsNotFound as why:
                return {"found": None, "sentence": f"Not found: {why}. Set them by hand."}
        names = list(found.view.marks)
        first = np.column_stack([np.array(list(found.view.marks.values())), np.ones(len(names))])
        there = np.einsum("nij,kj->nki", np.linalg.inv(motion.to_reference), first)
        xy_px = there[..., :2] / there[..., 2:]
        inside = np.all((xy_px >= 0) & (xy_px < [clip.width_px, clip.height_px]), axis=2)
        inside &= (there[..., 2] > 0) & motion.tracked[:, None]
        # Amid the run most cones stand free: the defender has left his, and has not arrived.
        most = np.flatnonzero(inside.sum(axis=1) == inside.sum(axis=1).max())
        best = int(most[len(most) // 2])
        return {
            "found": found.described,
            "time_s": float(clip.t_s[best]),
            "marks": {
                name: xy_px[best, i].round(1).tolist()
                for i, name in enumerate(names)
                if inside[best, i]
            },
        }

    def save(self, views: list[Mapping[str, Any]], view_of_clip: Mapping[str, str]) -> str:
        """Write points.toml and read the practice again.

        Args:
            views: all camera positions, as in :meth:`state`.
            view_of_clip: by clip, the name of its position.

        Returns:
            The name of the file.

        Raises:
            SettingsError: an unknown name, or a point outside its picture.
            RecordError: the file cannot be written.
        """
        made = [_view(view) for view in views]
        names = {view.name for view in made}
        if len(names) < len(made):
            raise SettingsError("Two camera positions have the same name; change one.")
        for view in made:
            for mark, (x, y) in view.marks.items():
                if mark not in self.practice.layout.points:
                    raise SettingsError(
                        f"{view.name}: {mark} is not a point of the layout; reload."
                    )
                if view.size is None or not (0 <= x < view.size[0] and 0 <= y < view.size[1]):
                    raise SettingsError(f"{view.name}: {mark} is outside the picture; move it.")
        for clip, name in view_of_clip.items():
            if clip not in self.film.paths or name not in names:
                raise SettingsError(f"{clip} cannot be given to {name}; reload the page.")
        with self.film.lock:
            path = write_points(self.practice.folder, made, view_of_clip)
            self.practice = read_practice(self.practice.folder)
        return path.name


def drawing(camera: Camera, layout: Layout, size_px: tuple[int, int]) -> dict[str, Any]:
    """The field as a camera sees it: grid, crease, goal, points; pixels of the clip.

    Lines are broken where they leave the ground that the camera sees.
    """
    places = np.array(list(layout.points.values()))
    low = np.floor((places.min(axis=0) - GRID_MARGIN_M) / GRID_STEP_M) * GRID_STEP_M
    high = np.ceil((places.max(axis=0) + GRID_MARGIN_M) / GRID_STEP_M) * GRID_STEP_M
    along = [np.linspace(low[axis], high[axis], LINE_POINTS) for axis in (0, 1)]
    grid = []
    for x in np.arange(low[0], high[0] + 0.1, GRID_STEP_M):
        grid.append(np.column_stack([np.full(LINE_POINTS, x), along[1], np.zeros(LINE_POINTS)]))
    for y in np.arange(low[1], high[1] + 0.1, GRID_STEP_M):
        grid.append(np.column_stack([along[0], np.full(LINE_POINTS, y), np.zeros(LINE_POINTS)]))
    lines: dict[str, list[list[list[float]]]] = {
        "grid": [piece for line in grid for piece in _pieces(camera, line, size_px)],
        "crease": [],
        "goal": [],
    }
    radius = crease_radius_m(layout)
    if radius is not None:
        angle = np.linspace(0, 2 * np.pi, RING_POINTS)
        ring = [radius * np.cos(angle), radius * np.sin(angle), np.zeros(RING_POINTS)]
        lines["crease"] = _pieces(camera, np.column_stack(ring), size_px)
    if layout.goal:
        half = GOAL_WIDTH_M / 2
        corners = np.array(
            [[-half, 0, 0], [-half, 0, GOAL_HEIGHT_M], [half, 0, GOAL_HEIGHT_M], [half, 0, 0]]
        )
        lines["goal"] = _pieces(camera, corners, size_px)
    seen = camera.to_image(np.column_stack([places, np.zeros(len(places))]))
    points = {
        name: [round(float(x), 1), round(float(y), 1)]
        for name, (x, y) in zip(layout.points, seen, strict=True)
        if np.isfinite(x)
    }
    return {**lines, "points": points}


def _pieces(
    camera: Camera, line_m: FloatArray, size_px: tuple[int, int]
) -> list[list[list[float]]]:
    """The parts of a line that are in or near the picture."""
    xy = camera.to_image(line_m)
    with np.errstate(invalid="ignore"):
        near = np.all(np.abs(xy - np.array(size_px) / 2) < 1.5 * np.array(size_px), axis=1)
    breaks = np.flatnonzero(np.diff(near.astype(int))) + 1
    return [
        part.round(1).tolist()
        for part, inside in zip(np.split(xy, breaks), np.split(near, breaks), strict=True)
        if inside[0] and len(part) > 1
    ]


def _in_reading_order(layout: Layout) -> list[tuple[str, Point]]:
    """Cones first, from the inside one outwards; then crease and goal."""

    def place(item: tuple[str, Point]) -> tuple[bool, float, float]:
        name, (x, y) = item
        return (name not in layout.cones, float(np.hypot(x, y)) if name in layout.cones else y, x)

    return sorted(layout.points.items(), key=place)


def _view(given: Mapping[str, Any]) -> View:
    """A view as it came from the page.

    Raises:
        SettingsError: it is not one.
    """
    try:
        marks = {str(name): (float(x), float(y)) for name, (x, y) in dict(given["marks"]).items()}
        size = None if given["size"] is None else (int(given["size"][0]), int(given["size"][1]))
        view = View(str(given["name"]).strip(), size, float(given["time_s"]), marks)
    except (KeyError, TypeError, ValueError, IndexError):
        raise SettingsError("The page sent something unreadable; reload it.") from None
    if not view.name or not np.isfinite([view.time_s, *np.ravel(list(marks.values()))]).all():
        raise SettingsError("A camera position has no name; give it one.")
    return view


def _without_view(sentence: str) -> str:
    """The page says which position it is; the sentence need not."""
    where, _, rest = sentence.partition(": ")
    said = rest if where.startswith("view '") else sentence
    said = said.replace("its marks", "the marks")
    return said[:1].upper() + said[1:]
