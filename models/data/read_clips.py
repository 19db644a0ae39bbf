"""Read clips with the nets in the tree, and keep what was read as rows.

A clip's landmarks are kept in a folder, and so is what was read from them with the code and nets as
they are, clip by clip: a stopped run goes on where it was.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, fields
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from models.data.film import WITHOUT_REP, Film, films
from models.data.ground import Outcome, Reading, not_followed, outcomes
from models.data.keyed import StaleRows, read_keyed, write_keyed
from models.data.windows import Window, marked_all_over, windows_around_arrival, windows_of_all
from models.files import ROWS, nets_digest
from models.recipe import Recipe, recipe
from posecheck.body.stance_track import StanceTrack
from posecheck.errors import ClipError
from posecheck.keypoints.clip_keypoints import ClipKeypoints
from posecheck.keypoints.landmark_tracks import Wanted, read_keypoints
from posecheck.pipeline.fingerprint import measures_fingerprint
from posecheck.pipeline.observe import observe_keypoints
from posecheck.pipeline.read import read_clip
from posecheck.pipeline.settings import Settings
from posecheck.players.tracker import follow_players
from posecheck.pose.model_files import CLOSE_VARIANT, pose_model_path
from posecheck.pose.open_readers import Readers
from posecheck.practice.practice import Practice
from posecheck.store import keypoints as kept_keypoints
from posecheck.video.clip import Clip, open_clip

WINDOWS, OUTCOMES = ROWS / "windows.parquet", ROWS / "ground.parquet"
STEP = "read"
WITH_STANCE = ("spread", "captured", "database")
WITH_GROUND = ("spread", "moving", "rep")
"""Collections whose stance and whose ground measures are kept."""

_READING = pa.struct(
    [("measure", pa.string()), *((each.name, pa.float64()) for each in fields(Reading))]
)
_TYPES: dict[str, pa.DataType] = {
    "body": pa.int64(), "bent": pa.bool_(), "readings": pa.list_(_READING),
    **dict.fromkeys(
        ("collection", "clip", "movement", "measure", "side", "camera", "source", "refused"),
        pa.string(),
    ),
}  # fmt: skip
_WINDOWS, _OUTCOMES = (
    pa.schema([(each.name, _TYPES.get(each.name, pa.float64())) for each in fields(kind)])
    for kind in (Window, Outcome)
)


def read_folders(folders: Sequence[Path], kept: Path, workers: int, *, ground: bool = True) -> None:
    """Read every clip of some folders; the rows replace those of the same collections.

    Without ``ground`` only windows of the stance are read.
    """
    chosen = [film for folder in folders for film in films(folder.resolve())]
    if not chosen:
        raise ValueError(f"no clips with their truth in {', '.join(map(str, folders))}")
    key = nets_digest()
    what = "readings" if ground else "windows"
    into = kept / f"{what}-{measures_fingerprint()[:12]}"
    into.mkdir(parents=True, exist_ok=True)
    todo = [film for film in chosen if not (into / f"{film.name}.json").exists()]
    print(f"{len(chosen)} clips, {len(todo)} to be read", flush=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        jobs = {pool.submit(_read_into, into, kept, film, ground): film.name for film in todo}
        for n, job in enumerate(as_completed(jobs), 1):
            job.result()
            print(f"{n} of {len(todo)}: {jobs[job]}", flush=True)
    found = [json.loads((into / f"{film.name}.json").read_text("utf-8")) for film in chosen]
    write_windows([Window(**row) for each in found for row in each["windows"]], key)
    write_outcomes([_outcome(row) for each in found for row in each["ground"]], key)


def _read_into(into: Path, kept: Path, film: Film, ground: bool) -> None:
    import cv2

    cv2.setNumThreads(1)
    with Readers(pose_model_path(recipe().stills.pose_model)) as reader:
        found_windows, found_ground = read_film(film, kept, reader, recipe(), ground=ground)
    rows = {
        "windows": [asdict(each) for each in found_windows],
        "ground": [asdict(each) for each in found_ground],
    }
    scratch = into / f"{film.name}.part"
    scratch.write_text(json.dumps(rows), "utf-8")
    scratch.replace(into / f"{film.name}.json")


def read_film(
    film: Film, kept: Path, reader: Readers, recipe: Recipe, *, ground: bool = True
) -> tuple[list[Window], list[Outcome]]:
    """Windows of its stance, and its ground measures by source of metres."""
    stance = recipe.intervals.stance
    clip = open_clip(film.path)
    if film.collection in WITHOUT_REP:
        keypoints = _of_only_player(clip, film, kept, reader, recipe.stills.pose_model)
        track = _stance(film, clip, keypoints, stance.click_px)
        return list(windows_of_all(film, track, stance)), []
    settings = Settings(recipe.stills.pose_model, keypoints_folder=kept / "keypoints")
    plain = Practice(film.path.parents[1].resolve(), film.collection)
    try:
        keypoints, _ = read_clip(clip, plain, settings, reader)
    except ClipError as error:
        return [], [not_followed(film, str(error))] if film.collection in WITH_GROUND else []
    found = list(outcomes(film, clip, keypoints, recipe.intervals.ground)) if ground else []
    if film.collection not in WITH_STANCE:
        return [], found
    try:
        track = _stance(film, clip, keypoints, stance.click_px)
    except ClipError:
        return [], found
    return list(windows_around_arrival(film, track, stance)), found


def _stance(film: Film, clip: Clip, keypoints: ClipKeypoints, click_px: float) -> StanceTrack:
    practice = marked_all_over(film, (clip.width_px, clip.height_px), click_px)
    return observe_keypoints(clip, keypoints, practice).stance


def _of_only_player(
    clip: Clip, film: Film, kept: Path, reader: Readers, model: str
) -> ClipKeypoints:
    """Landmarks of the player seen longest: there is only one, and nobody he could close out to.

    The second pose model reads him all through, as it would around an arrival.
    """
    file = kept / "keypoints" / f"{film.name}-{clip.digest[:16]}.parquet"
    if not file.exists():
        followed = follow_players(clip, reader)
        player = max(followed.tracks, key=lambda track: track.seen.sum())
        every = np.ones(clip.n_frames, dtype=bool)
        wanted = [Wanted(player, every), Wanted(player, every, pose_model_path(CLOSE_VARIANT))]
        pose, close = read_keypoints(clip, wanted, pose_model_path(model))
        file.parent.mkdir(parents=True, exist_ok=True)
        keypoints = ClipKeypoints(pose, None, followed.camera_motion, "alone", close)
        kept_keypoints.write_keypoints(file, keypoints)
    return kept_keypoints.read_keypoints(file)


# -- rows ----------------------------------------------------------------------------------------


def write_windows(found: Sequence[Window], key: str, path: Path = WINDOWS) -> None:
    """Windows as rows, beside those of other collections that the same nets read."""
    _write_beside(path, [asdict(each) for each in found], _WINDOWS, key)


def read_windows(key: str, path: Path = WINDOWS) -> list[Window]:
    """Windows that the nets of this digest read.

    Raises:
        StaleRows: other nets read them.
    """
    return [Window(**row) for row in read_keyed(path, key, STEP).to_pylist()]


def write_outcomes(found: Sequence[Outcome], key: str, path: Path = OUTCOMES) -> None:
    """Outcomes as rows, beside those of other collections that the same nets read."""
    rows = []
    for each in found:
        readings = [{"measure": key} | asdict(read) for key, read in each.readings.items()]
        rows.append({**asdict(each), "readings": readings})
    _write_beside(path, rows, _OUTCOMES, key)


def read_outcomes(key: str, path: Path = OUTCOMES) -> list[Outcome]:
    """Outcomes that the nets of this digest read.

    Raises:
        StaleRows: other nets read them.
    """
    found = []
    for row in read_keyed(path, key, STEP).to_pylist():
        readings = {each.pop("measure"): Reading(**each) for each in row.pop("readings")}
        found.append(Outcome(**row, readings=readings))
    return found


def _outcome(row: Mapping[str, Any]) -> Outcome:
    readings = {measure: Reading(**each) for measure, each in row["readings"].items()}
    return Outcome(**{**row, "readings": readings})


def _write_beside(
    path: Path, rows: Sequence[Mapping[str, Any]], schema: pa.Schema, key: str
) -> None:
    if not rows:
        return
    new = {row["collection"] for row in rows}
    try:
        there = read_keyed(path, key, STEP).to_pylist()
    except (FileNotFoundError, StaleRows):
        there = []
    others = [row for row in there if row["collection"] not in new]
    write_keyed(path, pa.Table.from_pylist([*others, *rows], schema), key)
