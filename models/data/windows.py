"""Readings of the stance over windows of film, beside their truth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from models.data.film import Film
from models.recipe import StanceIntervals
from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.filming.conditions import Group, Side
from posecheck.filming.limits import unfit
from posecheck.filming.stance_reading import stance_reading
from posecheck.maths.arrays import FloatArray
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice

GRID = {f"{x},{y}": (float(x), float(y)) for x in range(-14, 15, 4) for y in range(0, 21, 4)}
"""Points all over the ground, metres: cameras that see neither goal nor cones are wanted too, so
nobody painted them."""
EDGE_PX = 4


@dataclass(frozen=True)
class Window:
    """One window's reading of one measure beside its truth.

    Attributes:
        collection, clip, body, movement: of the film; bodies are numbered within a collection.
        measure: what was read.
        start_s: when the window begins.
        value, below, above: as read: the value, and how far the truth may lie on either side before
            the factors of ``intervals.toml``.
        truth: median of the truth over the window.
        bent: whether the knees were read bent.
        side: from where he is seen.
        view_deg, height_px: as read.
    """

    collection: str
    clip: str
    body: int
    movement: str
    measure: str
    start_s: float
    value: float
    below: float
    above: float
    truth: float
    bent: bool
    side: Side
    view_deg: float
    height_px: float

    @property
    def who(self) -> tuple[str, int]:
        """The body; no two collections share one."""
        return self.collection, self.body

    @property
    def group(self) -> Group:
        """Windows whose intervals are fitted together."""
        return f"{self.side}_{'bent' if self.bent else 'straight'}"


def marked_all_over(film: Film, size_px: tuple[int, int], click_px: float) -> Practice:
    """The clip as part of a practice with every point of the grid marked that it shows.

    Args:
        film: whose first frame is marked.
        size_px: of the picture, width and height.
        click_px: most that a mark is off, across and down.
    """
    seen = film.camera_at(0).to_image(np.array([(*xy, 0.0) for xy in GRID.values()]))
    inside = np.all((seen > EDGE_PX) & (seen < np.array(size_px) - 1 - EDGE_PX), axis=1)
    rng = np.random.default_rng(int(film.name[-3:]))
    clicked = seen + rng.uniform(-click_px, click_px, seen.shape)
    marks = {
        point: (float(x), float(y))
        for point, (x, y), there in zip(GRID, clicked, inside, strict=True)
        if there
    }
    notes = ClipNotes(View("grid", size_px, 0.0, marks))
    key = f"clips/{film.path.name}"
    home = film.path.parents[1].resolve()
    return Practice(home, film.collection, layout=Layout(GRID), notes={key: notes})


def windows_around_arrival(
    film: Film, track: StanceTrack, recipe: StanceIntervals
) -> Iterator[Window]:
    """Windows around the true arrival: a run seen from far shows nothing of a stance."""
    before, after = recipe.around_s
    arrival = film.truth["arrival_s"]
    last = min(arrival + after, track.t_s[-1] - recipe.window_s)
    yield from windows(film, track, arrival + before, last, recipe)


def windows_of_all(film: Film, track: StanceTrack, recipe: StanceIntervals) -> Iterator[Window]:
    """Windows from the clip's beginning to its end."""
    yield from windows(film, track, 0.0, film.stance["t_s"][-1] - recipe.window_s, recipe)


def windows(
    film: Film, track: StanceTrack, first_s: float, last_s: float, recipe: StanceIntervals
) -> Iterator[Window]:
    """Every window that begins between two moments and shows a stance."""
    true: Mapping[str, npt.NDArray[np.floating]] = film.stance
    for start in np.arange(first_s, last_s, recipe.every_s):
        window = (float(start), float(start + recipe.window_s))
        during = (true["t_s"] >= window[0]) & (true["t_s"] <= window[1])
        reads = {key: stance_reading(key, track, window) for key in STANCE}
        for key, read in reads.items():
            # What stands in for a hidden step errs otherwise, and has an allowance of its own.
            if unfit(read.conditions) is None and not read.conditions.hidden:
                truth: FloatArray = true[key][during].astype(float)
                yield Window(
                    film.collection,
                    film.name,
                    film.body,
                    film.movement,
                    key,
                    window[0],
                    read.value,
                    read.below,
                    read.above,
                    float(np.median(truth)),
                    read.conditions.bent,
                    read.conditions.seen_from,
                    read.conditions.view_deg,
                    read.conditions.height_px,
                )
