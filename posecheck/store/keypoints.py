"""The keypoints of a clip as one Parquet file, named after the clip's content and a key.

The key stands for everything else that could change them. One row per frame: ``t_s``, the camera's
motion, then for the defender and (when there is one) the attacker the landmarks as lists in the
order of the skeleton, and those of the defender by the heavy model when it read him. Not seen is
NaN. How the two were recognised, when anybody runs at anybody and whether the defender may only
walk is the file's metadata.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from posecheck.camera.motion import CameraMotion
from posecheck.errors import RecordError
from posecheck.files.whole_file import write_whole
from posecheck.keypoints.clip_keypoints import ClipKeypoints, MaybeWalk
from posecheck.maths.arrays import FloatArray
from posecheck.pose.track import PoseTrack

_SHAPES = {"xy_px": (33, 2), "world_m": (33, 3), "score": (33,)}
"""Shape of each array in one frame.

Source: definition
"""

_WHO = ("defender", "attacker", "defender_close")

_ROLES, _CLOSEOUTS, _MAYBE_WALK = b"roles", b"closeouts_s", b"maybe_walk"


def keypoints_path(folder: Path, clip_digest: str, key: str) -> Path:
    """Where a clip's keypoints are kept.

    Args:
        folder: that holds the keypoints of many clips.
        clip_digest: SHA-256 of the clip's content, hexadecimal.
        key: SHA-256, hexadecimal, over everything else that could change them.
    """
    # Half of each digest is plenty to tell files of one folder apart, and paths stay short.
    return folder / f"{clip_digest[:16]}-{key[:16]}.parquet"


def forget_keypoints(folder: Path, clip_digest: str) -> None:
    """Delete all keypoints of a clip, whatever their key."""
    for file in folder.glob(f"{clip_digest[:16]}-*.parquet"):
        file.unlink(missing_ok=True)


def write_keypoints(path: Path, keypoints: ClipKeypoints) -> None:
    """Write a clip's keypoints.

    Raises:
        RecordError: the folder cannot be written to, or the disk is full.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    motion = keypoints.camera_motion
    columns: dict[str, Any] = {
        "t_s": keypoints.defender.t_s,
        "tracked": motion.tracked,
        "to_reference": _lists(motion.to_reference),
    }
    for who in _WHO:
        track = getattr(keypoints, who)
        if track is not None:
            columns |= {f"{who}_{name}": _lists(getattr(track, name)) for name in _SHAPES}
    facts = {
        _ROLES: keypoints.roles.encode(),
        _CLOSEOUTS: json.dumps(keypoints.closeouts_s).encode(),
    }
    if keypoints.maybe_walk is not None:
        facts[_MAYBE_WALK] = json.dumps(asdict(keypoints.maybe_walk)).encode()
    table = pa.table(columns).replace_schema_metadata(facts)
    write_whole(path, lambda file: pq.write_table(table, file, compression="zstd"))


def read_keypoints(path: Path) -> ClipKeypoints:
    """Read what :func:`write_keypoints` wrote.

    Raises:
        FileNotFoundError: there is no such file.
        RecordError: the file is damaged.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(pa.BufferReader(path.read_bytes()))
        t_s = table["t_s"].to_numpy()
        tracks = {
            who: _track(table, who, t_s) for who in _WHO if f"{who}_score" in table.column_names
        }
        motion = CameraMotion(
            _array(table["to_reference"], len(t_s), (3, 3)),
            table["tracked"].to_numpy().astype(bool),
        )
        roles = table.schema.metadata[_ROLES].decode()
        closeouts_s = json.loads(table.schema.metadata.get(_CLOSEOUTS, b"[]"))
        return ClipKeypoints(
            tracks["defender"],
            tracks.get("attacker"),
            motion,
            roles,
            tracks.get("defender_close"),
            tuple((start_s, end_s) for start_s, end_s in closeouts_s),
            _maybe_walk(table.schema.metadata.get(_MAYBE_WALK)),
        )
    except (pa.ArrowException, KeyError, TypeError, ValueError) as error:
        raise RecordError(
            f"{path}: this keypoint file is damaged; delete it and check the clip again."
        ) from error


def _maybe_walk(written: bytes | None) -> MaybeWalk | None:
    if written is None:
        return None
    start_s, end_s = (found := json.loads(written))["run_s"]
    return MaybeWalk((start_s, end_s), found["fault"], found["remedy"])


def _track(table: Any, who: str, t_s: FloatArray) -> PoseTrack:
    xy_px, world_m, score = (
        _array(table[f"{who}_{name}"], len(t_s), shape) for name, shape in _SHAPES.items()
    )
    return PoseTrack(t_s, xy_px, world_m, score)


def _lists(values: np.ndarray[Any, np.dtype[np.float64]]) -> Any:
    import pyarrow as pa

    flat = np.ascontiguousarray(values, dtype=np.float64).reshape(-1)
    return pa.FixedSizeListArray.from_arrays(pa.array(flat), values[0].size)


def _array(
    column: Any, n_frames: int, shape: tuple[int, ...]
) -> np.ndarray[Any, np.dtype[np.float64]]:
    flat = column.combine_chunks().flatten().to_numpy(zero_copy_only=False)
    return np.array(flat, dtype=np.float64).reshape(n_frames, *shape)
