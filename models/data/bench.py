"""Reps of rendered film measured and judged as a check does, beside their truth.

The whole way from pixels to a verdict, with metres from marked points and from players alone, so
that it can be said how far off posecheck is on film that no fit has seen.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass, field, fields, replace
from functools import cached_property
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pyarrow as pa

from models.data.film import Film, films
from models.data.ground import FROM_PLAYERS, sources
from models.data.keyed import read_keyed, write_keyed
from models.files import INTERVALS, ROWS, digest, nets_digest
from models.recipe import recipe
from posecheck.errors import ClipError
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.maths.timeline import in_window, nearest_frame
from posecheck.measures.quantities import QUANTITIES
from posecheck.measures.result import RepResult
from posecheck.pipeline.fingerprint import keypoints_fingerprint, measures_fingerprint
from posecheck.pipeline.judge import judge_rep
from posecheck.pipeline.known_ground import known_ground
from posecheck.pipeline.measure import measure_observed
from posecheck.pipeline.observe import observe_keypoints
from posecheck.pipeline.read import landmarks_of, maybe_walk, roles_of
from posecheck.pipeline.settings import Settings
from posecheck.players.track import Followed
from posecheck.players.tracker import follow_players
from posecheck.pose.model_files import pose_model_path
from posecheck.pose.reader import PoseReader
from posecheck.practice.practice import Practice
from posecheck.reps.tuning import AFTER_ARRIVAL_S, BEFORE_ARRIVAL_S
from posecheck.scoring.truth import read_truth
from posecheck.store import keypoints as kept_keypoints
from posecheck.video.clip import Clip, open_clip

BENCH = ROWS / "bench.parquet"
STEP = "foreign"
MARKS = "6 marks"
SOURCES = (MARKS, FROM_PLAYERS[1])
"""Where metres come from: points marked by hand, and nothing but the players."""


@dataclass(frozen=True)
class Figure:
    """One measure of a rep with its interval, beside its truth; as read None where missing."""

    value: float | None
    low: float | None
    high: float | None
    truth: float


@dataclass(frozen=True)
class BenchRep:
    """One rep measured and judged with metres from one source.

    Attributes:
        collection, clip, source: of the film, and where metres were to come from.
        kind: what was acted out: upright, clean or between; in other film "stance".
        flags_expected: rules that the truth breaks.
        focal: true focal length over the picture's longer side.
        k1: true radial distortion.
        camera_height_m: of the lens over the ground.
        look, dress: of the film, as in ``models.data.stills``; "" in other film.
        height_px, view_deg: true ones of the defender at arrival.
        dip_deg: by how much the camera then looks down at his feet.
        shown: share of his joints that the film shows about arrival, median over the frames: inside
            the picture and not occluded.
        refused: why nothing was measured, None when something was.
        call: of the rep as a whole.
        flags: rules flagged.
        open: core rules that could not be decided, with the reason of each.
        arrival_off_frames: of the arrival moment.
        arrival_bar_frames: within which it is said to lie.
        scale: what is said of where metres come from.
        figures: by measure, those whose truth is known.
    """

    collection: str
    clip: str
    source: str
    kind: str
    flags_expected: Sequence[str]
    focal: float
    k1: float
    camera_height_m: float
    look: str
    dress: str
    height_px: float
    view_deg: float
    dip_deg: float
    shown: float
    refused: str | None = None
    call: str | None = None
    flags: Sequence[str] = ()
    open: Sequence[str] = ()
    arrival_off_frames: float | None = None
    arrival_bar_frames: float | None = None
    scale: str = ""
    figures: Mapping[str, Figure] = field(default_factory=dict)


_FIGURE = pa.struct(
    [("measure", pa.string()), *((each.name, pa.float64()) for each in fields(Figure))]
)
_STRINGS = ("collection", "clip", "source", "kind", "look", "dress", "refused", "call", "scale")
_TYPES: dict[str, pa.DataType] = {
    "figures": pa.list_(_FIGURE),
    **dict.fromkeys(("flags", "open", "flags_expected"), pa.list_(pa.string())),
    **dict.fromkeys(_STRINGS, pa.string()),
}
_SCHEMA = pa.schema([(each.name, _TYPES.get(each.name, pa.float64())) for each in fields(BenchRep)])


def bench_key() -> str:
    """What the rows were made with: nets and intervals."""
    return f"{nets_digest()[:32]}{digest(INTERVALS)[:32]}"


def bench_folders(folders: Sequence[Path], kept: Path, workers: int) -> None:
    """Measure and judge every rep of some folders; the rows replace those that were there.

    Args:
        folders: of ``python -m models render``, or the sample practice.
        kept: where landmarks and results are kept from run to run.
        workers: processes.

    Raises:
        ValueError: the folders hold no rep whose truth is known.
    """
    chosen = [film for folder in folders for film in films(folder.resolve()) if film.truth]
    if not chosen:
        raise ValueError(f"no reps with their truth in {', '.join(map(str, folders))}")
    into = kept / f"bench-{measures_fingerprint()[:12]}"
    into.mkdir(parents=True, exist_ok=True)
    todo = [film for film in chosen if not (into / f"{film.name}.json").exists()]
    print(f"{len(chosen)} clips, {len(todo)} to be measured", flush=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        jobs = {pool.submit(_bench_into, into, kept, film): film.name for film in todo}
        for n, job in enumerate(as_completed(jobs), 1):
            job.result()
            print(f"{n} of {len(todo)}: {jobs[job]}", flush=True)
    rows = [
        row
        for film in chosen
        for row in json.loads((into / f"{film.name}.json").read_text("utf-8"))
    ]
    for row in rows:
        row["figures"] = [{"measure": key} | each for key, each in row["figures"].items()]
    write_keyed(BENCH, pa.Table.from_pylist(rows, _SCHEMA), bench_key())


def read_bench() -> list[BenchRep]:
    """The rows in the tree.

    Raises:
        StaleRows: other nets or intervals made them.
    """
    found = []
    for row in read_keyed(BENCH, bench_key(), STEP).to_pylist():
        figures = {each.pop("measure"): Figure(**each) for each in row.pop("figures")}
        found.append(BenchRep(**row, figures=figures))
    return found


def _bench_into(into: Path, kept: Path, film: Film) -> None:
    import cv2

    cv2.setNumThreads(1)
    with PoseReader(pose_model_path(recipe().stills.pose_model)) as reader:
        rows = [asdict(each) for each in bench_film(film, kept, reader)]
    scratch = into / f"{film.name}.part"
    scratch.write_text(json.dumps(rows), "utf-8")
    scratch.replace(into / f"{film.name}.json")


def bench_film(film: Film, kept: Path, reader: PoseReader) -> list[BenchRep]:
    """One rep with metres from every source that its picture allows.

    Players are followed once; each source of metres then decides by itself who of them is who.
    """
    clip, ground = open_clip(film.path), recipe().intervals.ground
    settings = Settings(recipe().stills.pose_model)
    blank = _blank(film, (clip.width_px, clip.height_px))
    tried = [each for each in sources(film, clip, ground) if each[0] in SOURCES]
    read = _Landmarks(clip, film.name, kept / "bench-keypoints", settings, reader)
    return [
        _benched(film, practice, settings, read, replace(blank, source=source))
        for source, practice in tried
    ]


class _Landmarks:
    """A clip's landmarks for several practices, kept from run to run."""

    def __init__(
        self, clip: Clip, name: str, folder: Path, settings: Settings, reader: PoseReader
    ) -> None:
        self.clip = clip
        self._file = folder / f"{name}-{keypoints_fingerprint()[:12]}"
        self._settings, self._reader = settings, reader
        self._by_roles: dict[tuple[int, int], ClipKeypoints] = {}

    def of(self, source: str, practice: Practice) -> ClipKeypoints:
        """As :func:`posecheck.pipeline.read.read_clip` reads them.

        Raises:
            NothingToMeasure: nobody closes out.
        """
        file = self._file / f"{source.replace(' ', '-')}.parquet"
        if not file.exists():
            file.parent.mkdir(parents=True, exist_ok=True)
            kept_keypoints.write_keypoints(file, self._read(practice))
        return kept_keypoints.read_keypoints(file)

    @cached_property
    def _followed(self) -> Followed:
        return follow_players(self.clip, self._reader)

    def _read(self, practice: Practice) -> ClipKeypoints:
        motion = self._followed.camera_motion
        known = known_ground(self.clip, practice, motion)
        roles = roles_of(self.clip, practice, self._followed, known)
        pair = id(roles.defender), id(roles.attacker)
        if pair not in self._by_roles:
            self._by_roles[pair] = landmarks_of(self.clip, roles, motion, self._settings)
        walk = maybe_walk(self.clip, self._followed, roles)
        return replace(self._by_roles[pair], roles=roles.how, maybe_walk=walk)


def _benched(
    film: Film, practice: Practice, settings: Settings, read: _Landmarks, blank: BenchRep
) -> BenchRep:
    try:
        keypoints = read.of(blank.source, practice)
        result = measure_observed(
            observe_keypoints(read.clip, keypoints, practice), practice, settings
        )
    except ClipError as error:
        return replace(blank, refused=str(error))
    true_s = film.truth["arrival_s"]
    rep = min(result.reps, key=lambda each: abs((each.rep.arrival_s or np.inf) - true_s))
    if (blank.source == MARKS) is not rep.on_field:
        return replace(blank, refused=" ".join(rep.film), scale=rep.scale)
    verdict = judge_rep(rep.measures, practice, film.path, Thresholds())
    arrival_s, bar_s = rep.rep.arrival_s, rep.arrival_within_s
    return replace(
        blank,
        call=str(verdict.call),
        flags=[each.rule for each in verdict.flags],
        open=[f"{e.rule}: {e.reason}" for e in verdict.findings if e.call is Call.CANT_TELL],
        arrival_off_frames=None if arrival_s is None else (arrival_s - true_s) * result.rate_hz,
        arrival_bar_frames=None if bar_s is None else bar_s * result.rate_hz,
        scale=rep.scale,
        figures=_figures(film, rep),
    )


def _figures(film: Film, rep: RepResult) -> dict[str, Figure]:
    return {
        each.key: Figure(read.value, read.low, read.high, float(film.truth[each.key]))
        for each in QUANTITIES
        if film.truth.get(each.key) is not None
        for read in [rep.measures[each.key]]
    }


def _blank(film: Film, size_px: tuple[int, int]) -> BenchRep:
    """What is known of a film before anything is read."""
    truth = read_truth(film.path.parents[1], film.name)
    arrival = nearest_frame(truth.t_s, film.truth["arrival_s"])
    camera = film.camera_at(arrival)
    dress = film.scene.get("dress", [""])
    away_m = np.linalg.norm(film.arrays["defender_ground_m"][arrival] - camera.centre_m[:2])
    from_s, to_s = -BEFORE_ARRIVAL_S, AFTER_ARRIVAL_S
    about = in_window(truth.t_s - film.truth["arrival_s"], from_s, to_s)
    return BenchRep(
        collection=film.collection,
        clip=film.name,
        source="",
        kind=film.scene.get("kind", film.movement),
        flags_expected=list(film.truth["flags_expected"]),
        focal=float(camera.matrix[0, 0]) / max(size_px),
        k1=float(film.scene.get("k1", 0.0)),
        camera_height_m=float(camera.centre_m[2]),
        look=str(film.scene.get("look", "")),
        dress=str(dress[0]),
        height_px=float(truth.height_px[arrival]),
        view_deg=float(truth.view_deg[arrival]),
        dip_deg=float(np.degrees(np.arctan2(camera.centre_m[2], away_m))),
        shown=float(np.median(film.arrays["defender_visible"][about].mean(axis=1))),
    )
