"""Ground measures of clips with metres from every source, beside their truth.

Landmarks of a clip are read once; every source of metres (marks, cones found, players) is then
tried on the same landmarks.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from models.data.film import Film
from models.recipe import GroundIntervals
from models.render.lens import distorted
from posecheck.camera.pinhole import Camera
from posecheck.errors import ClipError
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.keypoints.tuning import STANDING_SPACING_S
from posecheck.maths.arrays import FloatArray
from posecheck.measures.intervals import Intervals, Spread, default_intervals
from posecheck.measures.measure import Measure
from posecheck.measures.of_rep import measure_rep
from posecheck.pipeline.observe import Observed, observe_keypoints
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.field import CLOSEOUT_CONES, closeout_layout
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.reps.splitting import find_reps
from posecheck.reps.tuning import AFTERMATH_S
from posecheck.video.clip import Clip

EDGE_PX = 5
GRID = {f"{x},{y}": (float(x), float(y)) for x in range(-15, 16, 3) for y in range(0, 22, 3)}
"""Points to mark, metres on the field's axes: cameras that see neither goal nor cones are wanted
too, so nobody painted them."""
MARKABLE_M = 25.0
"""Further off nobody would click a point."""
SHOWN_JOINTS = 0.8
"""A frame shows the defender with this share of his joints in sight."""
ARRIVING_S = 0.3
"""So long after the moment of arrival he is still arriving."""
FOLLOWED_WITHIN = 0.15
"""The hips count as followed within this share of the player's height in the picture."""

FROM_PLAYERS = ("players, heights stated", "players")
CAME_WITH, FOUND = "marks it came with", "found"

MEASURES = (
    "closeout_speed_mps",
    "arrival_speed_mps",
    "braking_distance_m",
    "peak_braking_mps2",
    "overrun_m",
    "approach_offset_m",
    "bow_m",
)
"""Ground measures whose truth is known."""


@dataclass(frozen=True)
class Reading:
    """One measure beside its truth.

    Attributes:
        value: as read.
        sd: standard deviation carried over from the ground track.
        low, high: what an interval of no width already covers, where film is missing.
        truth: what really happened.
    """

    value: float
    sd: float
    low: float
    high: float
    truth: float

    def covered(self, spread: Spread) -> bool:
        """Whether the truth lies inside the interval."""
        half = spread.factor * float(np.hypot(spread.floor, self.sd))
        return self.low - half <= self.truth <= self.high + half

    def factor(self, floor: float) -> float:
        """The least factor with which the interval would cover the truth."""
        short = max(self.low - self.truth, self.truth - self.high, 0.0)
        return short / float(np.hypot(floor, self.sd))


@dataclass(frozen=True)
class Outcome:
    """A clip measured with metres from one source.

    Attributes:
        clip, collection, camera: of the film.
        source: where metres were to come from.
        refused: why that was not possible, None when it was.
        shown: share of the frames from start to arrival in which the film shows the defender,
            inside the picture and not occluded.
        followed: share of the frames, until a second after arrival, in which landmarks neither sit
            on somebody else, nor are missing though he is shown.
        arrival_off_s: of the arrival moment, None when none was found.
        place_off_m: median distance of the defender from his true place, start to arrival.
        readings: by measure, those that could be read.
    """

    clip: str
    collection: str
    camera: str
    source: str
    refused: str | None
    shown: float
    followed: float
    arrival_off_s: float | None = None
    place_off_m: float | None = None
    readings: Mapping[str, Reading] = field(default_factory=dict)

    @property
    def rep(self) -> str:
        """The rep the clip shows: moving-903-pan and moving-903-hand show the same."""
        return "-".join(self.clip.split("-")[:2])

    @property
    def from_players(self) -> bool:
        """Whether metres were to come from the players alone."""
        return self.source in FROM_PLAYERS


def source_names(recipe: GroundIntervals) -> list[str]:
    """Every source of metres, in the order of the cards."""
    return [*(f"{n} marks" for n in recipe.marks), CAME_WITH, FOUND, *FROM_PLAYERS]


# -- sources -------------------------------------------------------------------------------------


def sources(film: Film, clip: Clip, recipe: GroundIntervals) -> Iterator[tuple[str, Practice]]:
    """What a practice could say of the clip, by the name of where metres then come from."""
    home, key = film.path.parents[1].resolve(), f"clips/{film.path.name}"

    def saying(layout: Layout, notes: ClipNotes) -> Practice:
        said = {key: replace(notes, spot=film.spot)}
        return Practice(home, film.collection, layout=layout, notes=said)

    for count in recipe.marks:
        view = marked(film, (clip.width_px, clip.height_px), count, recipe.click_sd_px)
        if view is not None:
            yield f"{count} marks", saying(Layout(GRID | CLOSEOUT_CONES, True), ClipNotes(view))
    if film.view is not None:
        yield CAME_WITH, saying(closeout_layout(), ClipNotes(film.view))
    yield FOUND, saying(closeout_layout(), ClipNotes())
    defender, attacker = (Player(n, "", height_m=each) for n, each in enumerate(film.heights_m[:2]))
    yield FROM_PLAYERS[0], saying(Layout(), ClipNotes(defender=defender, attacker=attacker))
    yield FROM_PLAYERS[1], saying(Layout(), ClipNotes())


def marked(film: Film, size_px: tuple[int, int], count: int, click_sd_px: float) -> View | None:
    """So many points of the grid clicked in the frame that shows most, drawn at random.

    None when the picture never shows as many.
    """
    best: dict[str, FloatArray] = {}
    frame = 0
    for i in range(0, len(film.arrays["t_s"]), 10):
        seen = points_in_picture(film.camera_at(i), size_px, float(film.scene.get("k1", 0.0)))
        if len(seen) > len(best):
            best, frame = seen, i
    if len(best) < count:
        return None
    rng = np.random.default_rng(zlib.crc32(f"{film.name} {count}".encode()))
    names = rng.choice(sorted(best), count, replace=False)
    clicked = {str(name): best[name] + rng.normal(0, click_sd_px, 2) for name in names}
    marks: dict[str, Point] = {name: (float(x), float(y)) for name, (x, y) in clicked.items()}
    return View("drawn", size_px, float(film.arrays["t_s"][frame]), marks)


def points_in_picture(
    camera: Camera, size_px: npt.ArrayLike, k1: float = 0.0
) -> dict[str, FloatArray]:
    """The grid's points that a camera shows, not too far off: pixels by name.

    Args:
        camera: without its radial distortion.
        size_px: of the picture.
        k1: radial distortion, of (distance from the middle / focal length) squared. The clicks are
            where the film shows the points, not where a lens without distortion would.
    """
    found = {}
    for name, xy in GRID.items():
        straight = camera.to_image(np.array([*xy, 0.0]))
        r2 = np.sum(((straight - camera.matrix[:2, 2]) / camera.focal_px) ** 2)
        if not 1 + 3 * k1 * r2 > 0:  # beyond where the barrel folds over; no lens shows that
            continue
        at = distorted(camera.matrix, k1, straight)
        near = np.linalg.norm(np.array(xy) - camera.centre_m[:2]) <= MARKABLE_M
        if near and ((at >= EDGE_PX) & (at <= np.array(size_px) - 1 - EDGE_PX)).all():
            found[name] = at
    return found


# -- reading -------------------------------------------------------------------------------------


def outcomes(
    film: Film, clip: Clip, keypoints: ClipKeypoints, recipe: GroundIntervals
) -> Iterator[Outcome]:
    """Measure a clip with metres from every source."""
    shown, followed = _shares(film, clip, keypoints)
    for source, practice in sources(film, clip, recipe):
        blank = Outcome(film.name, film.collection, film.camera, source, None, shown, followed)
        yield measured(film, clip, keypoints, practice, blank)


def not_followed(film: Film, because: str) -> Outcome:
    """A clip in which nobody was found to close out."""
    return Outcome(film.name, film.collection, film.camera, "", because, np.nan, 0.0)


def measured(
    film: Film, clip: Clip, keypoints: ClipKeypoints, practice: Practice, blank: Outcome
) -> Outcome:
    """One clip with what one practice says of it."""
    try:
        seen = observe_keypoints(clip, keypoints, practice)
    except ClipError as error:
        return replace(blank, refused=str(error))
    if (seen.ground.source == "players") is not blank.from_players:
        return replace(blank, refused=" ".join(seen.faults))
    reps = find_reps(
        seen.defender_ground.xy_m,
        seen.attacker_ground.xy_m if seen.attacker_ground else None,
        clip.t_s,
        seen.defender_ground.velocity_mps,
        cone_xy_m=seen.cone_xy_m,
    )
    arrived = [rep for rep in reps if rep.arrival_s is not None]
    if not arrived:
        return replace(blank, refused="no arrival found")
    true_s = film.truth["arrival_s"]
    rep = min(arrived, key=lambda each: abs((each.arrival_s or 0.0) - true_s))
    wide, bare = (
        measure_rep(
            rep,
            seen.stance,
            seen.defender_ground,
            seen.attacker_ground,
            seen.ground,
            cone_xy_m=seen.cone_xy_m,
            spot_side=practice.layout.side_of(film.spot),
            intervals=_plain_intervals(factor),
        )
        for factor in (1.0, 0.0)
    )
    beside = {key: beside_truth(wide[key], bare[key], film.truth[key]) for key in MEASURES}
    return replace(
        blank,
        arrival_off_s=(rep.arrival_s or np.nan) - true_s,
        place_off_m=_place_off_m(film, seen),
        readings={key: read for key, read in beside.items() if read is not None},
    )


def _shares(film: Film, clip: Clip, keypoints: ClipKeypoints) -> tuple[float, float]:
    """Of a rep's frames: those that show the defender, and those without landmarks gone astray."""
    arrays = film.arrays
    true_s = arrays["t_s"]
    shown = arrays["defender_visible"].mean(axis=1) >= SHOWN_JOINTS
    joints = arrays["defender_joints_m"].astype(float)
    seen = np.stack([film.camera_at(i).to_image(each) for i, each in enumerate(joints)])
    names = [str(name) for name in arrays["joint_names"]]
    hips = seen[:, [names.index("left_hip"), names.index("right_hip")]].mean(axis=1)
    read = keypoints.defender.xy_px[:, SKELETON.indices("left_hip", "right_hip")].mean(axis=1)
    known_s = clip.t_s[np.isfinite(read[:, 0])]
    read = read[np.isfinite(read[:, 0])]
    if not len(read):
        return float(shown.mean()), 0.0
    there = np.column_stack([np.interp(true_s, known_s, read[:, i]) for i in (0, 1)])
    near = np.linalg.norm(there - hips, axis=1) <= FOLLOWED_WITHIN * np.ptp(seen[..., 1], axis=1)
    # A player who stands is read every tenth of a second.
    known = np.abs(true_s[:, None] - known_s).min(axis=1) <= STANDING_SPACING_S
    astray = np.where(known, ~near, shown)

    def during(after_s: float) -> npt.NDArray[np.bool_]:
        last_s = film.truth["arrival_s"] + after_s
        return np.asarray((true_s >= film.truth["start_s"]) & (true_s <= last_s))

    return float(shown[during(ARRIVING_S)].mean()), float(1 - astray[during(AFTERMATH_S)].mean())


def _plain_intervals(factor: float) -> Intervals:
    """Intervals of so many standard deviations, with no floor."""
    usual = default_intervals()
    spread = {source: Spread(factor, 0.0) for source in ("marks", "players")}
    return Intervals(stance=usual.stance, ground=dict.fromkeys(usual.ground, spread))


def beside_truth(wide: Measure, bare: Measure, truth: float | None) -> Reading | None:
    """A measure with an interval of one standard deviation and with none, beside its truth."""
    if truth is None or wide.value is None or wide.high is None:
        return None
    assert bare.value is not None and bare.low is not None and bare.high is not None
    return Reading(wide.value, wide.high - bare.high, bare.low, bare.high, float(truth))


def _place_off_m(film: Film, seen: Observed) -> float:
    t_s = seen.clip.t_s
    true = film.arrays["defender_ground_m"].astype(float)
    if not seen.ground.on_field:
        true = on_camera_axes(film.camera_at(0), true)
    true = np.column_stack([np.interp(t_s, film.arrays["t_s"], true[:, i]) for i in (0, 1)])
    during = (t_s >= film.truth["start_s"]) & (t_s <= film.truth["arrival_s"])
    off = np.linalg.norm(seen.defender_ground.xy_m - true, axis=1)[during]
    return float(np.nanmedian(off))


def on_camera_axes(camera: Camera, xy_m: FloatArray) -> FloatArray:
    """Places ``(n, 2)`` of the field from below the camera: metres to its right, and away."""
    away = camera.rotation[2, :2] / np.linalg.norm(camera.rotation[2, :2])
    right = np.array([away[1], -away[0]])
    return np.asarray((xy_m - camera.centre_m[:2]) @ np.stack([right, away], axis=1))
