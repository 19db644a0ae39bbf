"""Clips of known truth, measured with metres from every source: marks, cones found, players.

The pose model reads each clip once; every source is then tried on the same landmarks.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.camera.pinhole import Camera
from posecheck.errors import ClipError
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.keypoints.reading import STANDING_SPACING_S
from posecheck.maths.arrays import FloatArray
from posecheck.measures.intervals import Intervals, Spread, default_intervals
from posecheck.measures.measure import Measure
from posecheck.measures.of_rep import measure_rep
from posecheck.measures.quantities import QUANTITIES, ReadFrom
from posecheck.pipeline.check import Observed, Settings, observe_keypoints, read_clip
from posecheck.pose.reader import PoseReader
from posecheck.pose.skeleton import SKELETON
from posecheck.practice.field import CLOSEOUT_CONES, closeout_layout
from posecheck.practice.layout import Layout, Point
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.reps.rep import AFTERMATH_S
from posecheck.reps.splitting import find_reps
from posecheck.video.clip import Clip, open_clip

MARK_COUNTS = (4, 5, 6, 8)
CLICK_SD_PX = 0.7
EDGE_PX = 5
GRID = {f"{x},{y}": (float(x), float(y)) for x in range(-15, 16, 3) for y in range(0, 22, 3)}
"""Points to mark: cameras that see neither goal nor cones are wanted too, so nobody painted them.
Metres, on the field's axes."""
MARKABLE_M = 25.0
"""Further off nobody would click a point."""
SHOWN_JOINTS = 0.8
"""A frame shows the defender with this share of his joints in sight."""
ARRIVING_S = 0.3
"""So long after the moment of arrival he is still arriving."""
FOLLOWED_WITHIN = 0.15
"""The hips count as followed within this share of the player's height in the picture."""

PLAYERS = ("players, heights stated", "players")
SOURCES = (*(f"{n} marks" for n in MARK_COUNTS), "marks it came with", "found", *PLAYERS)

KEYS = tuple(
    quantity.key
    for quantity in QUANTITIES
    if quantity.read_from is ReadFrom.GROUND and quantity.in_accuracy_table
)
"""Ground measures whose truth is told."""


@dataclass(frozen=True)
class Film:
    """A clip with its truth.

    Attributes:
        collection: what its name begins with: spread, moving or, in the sample practice, rep.
        way: how the phone was held.
        heights_m: of defender and attacker.
        told: the truth's JSON part.
        view: points marked by hand when the clip came with them.
    """

    path: Path
    collection: str
    way: str
    heights_m: Sequence[float | None]
    told: dict[str, float]
    spot: str
    view: View | None

    @property
    def truth_arrays(self) -> Path:
        """The truth's array part."""
        return self.path.parents[1] / "truth" / f"{self.path.stem}.npz"


@dataclass(frozen=True)
class Read:
    """One measure beside its truth.

    Attributes:
        value: as read.
        sd: standard deviation carried over from the ground track.
        below, above: how far an interval of no width already reaches, where film is missing.
        truth: what really happened.
    """

    value: float
    sd: float
    below: float
    above: float
    truth: float

    def covered(self, spread: Spread) -> bool:
        """Whether the truth lies inside the interval."""
        half = spread.factor * float(np.hypot(spread.floor, self.sd))
        return self.below - half <= self.truth <= self.above + half

    def asked(self, floor: float) -> float:
        """The least factor that would cover the truth."""
        short = max(self.below - self.truth, self.truth - self.above, 0.0)
        return short / float(np.hypot(floor, self.sd))


@dataclass(frozen=True)
class Outcome:
    """A clip measured with metres from one source.

    Attributes:
        clip, collection, way: of the film.
        source: where metres were to come from.
        refused: why that was not possible, None when it was.
        shown: share of the frames from start to arrival in which the film shows the defender,
            inside the picture and not hidden.
        followed: share of the frames, until a second after arrival, in which no landmarks sit on
            somebody else, nor are missing though he is shown.
        arrival_off_s: of the arrival moment, None when none was found.
        place_off_m: middle distance of the defender from his true place, start to arrival.
        reads: by measure, those that could be read.
    """

    clip: str
    collection: str
    way: str
    source: str
    refused: str | None
    shown: float
    followed: float
    arrival_off_s: float | None = None
    place_off_m: float | None = None
    reads: dict[str, Read] | None = None


# -- film and sources ------------------------------------------------------------------------------


def films(folder: Path) -> Iterator[Film]:
    """Every clip of a folder in which somebody arrives."""
    practice = read_practice(folder)
    for told_path in sorted((folder / "truth").glob("*[0-9a-z].json")):
        told = json.loads(told_path.read_text())
        path = folder / "clips" / f"{told_path.stem}.mp4"
        if told.get("arrival_s") is None:
            continue
        notes = practice.notes_for(path)
        known = [each.height_m for each in (notes.defender, notes.attacker) if each]
        if not known:
            known = json.loads(told_path.with_suffix(".scene.json").read_text())["heights_m"]
        collection = path.stem.partition("-")[0]
        way = told["view"] if collection == "moving" else "tripod"
        if collection == "rep" and told["view"] == "hand":
            way = "pan"
        yield Film(path, collection, way, known, told, told["spot"], notes.view)


def sources(film: Film, clip: Clip) -> Iterator[tuple[str, Practice]]:
    """What a practice could say of the clip, by the name of where metres then come from."""
    home, key = film.path.parents[1].resolve(), f"clips/{film.path.name}"

    def saying(layout: Layout, notes: ClipNotes) -> Practice:
        told = {key: replace(notes, spot=film.spot)}
        return Practice(home, film.collection, layout=layout, notes=told)

    for count in MARK_COUNTS:
        view = marked(film, clip, count)
        if view is not None:
            yield f"{count} marks", saying(Layout(GRID | CLOSEOUT_CONES, True), ClipNotes(view))
    if film.view is not None:
        yield "marks it came with", saying(closeout_layout(), ClipNotes(film.view))
    yield "found", saying(closeout_layout(), ClipNotes())
    defender, attacker = (Player(n, "", height_m=each) for n, each in enumerate(film.heights_m))
    yield PLAYERS[0], saying(Layout(), ClipNotes(defender=defender, attacker=attacker))
    yield PLAYERS[1], saying(Layout(), ClipNotes())


def marked(film: Film, clip: Clip, count: int) -> View | None:
    """So many points of the grid clicked in the frame that shows most, drawn at random.

    None when the picture never shows as many.
    """
    arrays = np.load(film.truth_arrays)
    size = np.array([clip.width_px, clip.height_px])
    best: dict[str, FloatArray] = {}
    frame = 0
    for i in range(0, len(arrays["t_s"]), 10):
        seen = points_in_picture(_camera(arrays, i), size)
        if len(seen) > len(best):
            best, frame = seen, i
    if len(best) < count:
        return None
    rng = np.random.default_rng(zlib.crc32(f"{film.path.stem} {count}".encode()))
    names = rng.choice(sorted(best), count, replace=False)
    clicked = {str(name): best[name] + rng.normal(0, CLICK_SD_PX, 2) for name in names}
    marks: dict[str, Point] = {name: (float(x), float(y)) for name, (x, y) in clicked.items()}
    return View("drawn", (clip.width_px, clip.height_px), float(arrays["t_s"][frame]), marks)


def points_in_picture(camera: Camera, size_px: npt.ArrayLike) -> dict[str, FloatArray]:
    """The grid's points that a camera shows, not too far off: pixels by name."""
    found = {}
    for name, xy in GRID.items():
        at = camera.to_image(np.array([*xy, 0.0]))
        near = np.linalg.norm(np.array(xy) - camera.centre_m[:2]) <= MARKABLE_M
        if near and ((at >= EDGE_PX) & (at <= np.array(size_px) - 1 - EDGE_PX)).all():
            found[name] = at
    return found


def _camera(arrays: np.lib.npyio.NpzFile, frame: int) -> Camera:
    return Camera(
        arrays["camera_matrix"][frame].astype(float),
        arrays["camera_rotation"][frame].astype(float),
        arrays["camera_centre_m"][frame].astype(float),
    )


# -- reading ---------------------------------------------------------------------------------------


def read_film(film: Film, kept: Path, reader: PoseReader) -> list[Outcome]:
    """Measure a clip with metres from every source, or read back what was measured."""
    file = kept / "readings" / f"{film.path.stem}.json"
    if file.exists():
        return [_outcome(each) for each in json.loads(file.read_text())]
    clip = open_clip(film.path)
    plain = Practice(film.path.parents[1].resolve(), film.collection)
    try:
        keypoints = read_clip(clip, plain, Settings(keypoints_folder=kept / "keypoints"), reader)
    except ClipError as error:
        none = Outcome(film.path.stem, film.collection, film.way, "", str(error), np.nan, 0.0)
        outcomes = [none]
    else:
        outcomes = [
            measured(film, clip, keypoints, source, practice)
            for source, practice in sources(film, clip)
        ]
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(json.dumps([asdict(each) for each in outcomes]))
    return outcomes


def _outcome(told: dict) -> Outcome:  # type: ignore[type-arg]
    reads = told.pop("reads")
    return Outcome(**told, reads=reads and {key: Read(**each) for key, each in reads.items()})


def measured(
    film: Film, clip: Clip, keypoints: ClipKeypoints, source: str, practice: Practice
) -> Outcome:
    """One clip with what one practice says of it."""
    shares = _shares(film, clip, keypoints)

    def refused(because: str) -> Outcome:
        return Outcome(film.path.stem, film.collection, film.way, source, because, *shares)

    try:
        seen = observe_keypoints(clip, keypoints, practice)
    except ClipError as error:
        return refused(str(error))
    if (seen.ground.source == "players") is not source.startswith("players"):
        return refused(" ".join(seen.faults))
    reps = find_reps(
        seen.defender_ground.xy_m,
        seen.attacker_ground.xy_m if seen.attacker_ground else None,
        clip.t_s,
        seen.defender_ground.velocity_mps,
        cone_xy_m=seen.cone_xy_m,
    )
    arrived = [rep for rep in reps if rep.arrival_s is not None]
    if not arrived:
        return refused("no arrival found")
    true_s = film.told["arrival_s"]
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
            intervals=_plain_bars(factor),
        )
        for factor in (1.0, 0.0)
    )
    reads = {}
    for key in KEYS:
        read = beside_truth(wide[key], bare[key], film.told[key])
        if read is not None:
            reads[key] = read
    return Outcome(
        film.path.stem,
        film.collection,
        film.way,
        source,
        None,
        *shares,
        (rep.arrival_s or np.nan) - true_s,
        _place_off_m(film, seen),
        reads,
    )


def _shares(film: Film, clip: Clip, keypoints: ClipKeypoints) -> tuple[float, float]:
    """Of a rep's frames: those that show the defender, and those without landmarks gone astray."""
    arrays = np.load(film.truth_arrays)
    true_s = arrays["t_s"]
    shown = arrays["defender_visible"].mean(axis=1) >= SHOWN_JOINTS
    joints = arrays["defender_joints_m"].astype(float)
    seen = np.stack([_camera(arrays, i).to_image(each) for i, each in enumerate(joints)])
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
        last_s = film.told["arrival_s"] + after_s
        return np.asarray((true_s >= film.told["start_s"]) & (true_s <= last_s))

    return float(shown[during(ARRIVING_S)].mean()), float(1 - astray[during(AFTERMATH_S)].mean())


def _plain_bars(factor: float) -> Intervals:
    """Error bars of so many standard deviations, with no floor."""
    usual = default_intervals()
    spread = {source: Spread(factor, 0.0) for source in ("marks", "players")}
    return Intervals(
        stance=usual.stance,
        ground=dict.fromkeys(usual.ground, spread),
    )


def beside_truth(wide: Measure, bare: Measure, truth: float | None) -> Read | None:
    """A measure with bars of one standard deviation and with none, set beside its truth."""
    if truth is None or wide.value is None or wide.high is None:
        return None
    assert bare.value is not None and bare.low is not None and bare.high is not None
    return Read(wide.value, wide.high - bare.high, bare.low, bare.high, float(truth))


def _place_off_m(film: Film, seen: Observed) -> float:
    arrays = np.load(film.truth_arrays)
    t_s = seen.clip.t_s
    true = arrays["defender_ground_m"].astype(float)
    if not seen.ground.on_field:
        true = on_camera_axes(_camera(arrays, 0), true)
    true = np.column_stack([np.interp(t_s, arrays["t_s"], true[:, i]) for i in (0, 1)])
    during = (t_s >= film.told["start_s"]) & (t_s <= film.told["arrival_s"])
    off = np.linalg.norm(seen.defender_ground.xy_m - true, axis=1)[during]
    return float(np.nanmedian(off))


def on_camera_axes(camera: Camera, xy_m: FloatArray) -> FloatArray:
    """Places ``(n, 2)`` of the field from below the camera: metres to its right, and away."""
    away = camera.rotation[2, :2] / np.linalg.norm(camera.rotation[2, :2])
    right = np.array([away[1], -away[0]])
    return np.asarray((xy_m - camera.centre_m[:2]) @ np.stack([right, away], axis=1))
