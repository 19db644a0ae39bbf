"""Rows of single pictures: what the pose model read in each, the camera, and the truth.

One row a picture; what holds for a whole cast is repeated in its rows, which costs next to nothing
once compressed. Both nets are fitted from these rows alone, and whatever
:mod:`posecheck.body.view` may come to read from landmarks and camera can be read from them again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq
from scipy.spatial.transform import Rotation

from models.data.quantised import Quantised, numpy_of
from posecheck.body.view import BodyView, along_sight
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray

Flags = npt.NDArray[np.bool_]

XY_PX = Quantised("xy_px", 1 / 32, (33, 2))
WORLD_M = Quantised("world_m", 1e-4, (33, 3))
SCORE = Quantised("score", 1 / 255, (33,), "uint8")
GROUND_M = Quantised("ground_m", 1e-3, (2,))
FOOT_LIFT_M = Quantised("foot_lift_m", 5e-4, (2,))
BLUR = Quantised("blur", 1e-4)
TRUTH = (
    Quantised("knee_flexion_deg", 0.01, (2,)),
    Quantised("trunk_lean_deg", 0.01),
    Quantised("hip_drop", 5e-4),
    Quantised("hand_reach", 5e-4),
    Quantised("hand_height", 5e-4),
    Quantised("base_width", 1e-3),
)
HEAVY = (
    Quantised("heavy_xy_px", 1 / 32, (33, 2)),
    Quantised("heavy_world_m", 1e-4, (33, 3)),
    Quantised("heavy_score", 1 / 255, (33,), "int16"),
)
"""As the second pose model read them; NaN where it read somebody else, or nothing."""
WIDE_GROUND_M = replace(GROUND_M, step=2e-3)
"""Of players further off than 32 m."""
QUANTISED = (XY_PX, WORLD_M, SCORE, GROUND_M, FOOT_LIFT_M, BLUR, *TRUTH)
"""Steps lie far below what the pose model's landmarks, and bodies, differ by."""

FEET = tuple((f"{side}_heel", f"{side}_foot_index") for side in ("left", "right"))
"""Joints whose middle is a foot."""

MOST_HAND_HEIGHT = 3.0
"""A trunk that lies level gives the hands' height no scale (0 at the hips, 1 at the shoulders): in
a few poses of "varied" it runs to fifty either way, and is kept as this."""

_VECTOR = pa.list_(pa.float32(), 3)
SCHEMA = pa.schema(
    [
        ("cast", pa.int32()),
        ("album", pa.dictionary(pa.int8(), pa.string())),
        ("movement", pa.dictionary(pa.int8(), pa.string())),
        ("occluded", pa.bool_()),
        ("degraded", pa.bool_()),
        *(each.field for each in QUANTISED),
        ("camera_rotation_vector", _VECTOR),
        ("camera_centre_m", _VECTOR),
        ("focal_px", pa.float32()),
        ("principal_px", pa.list_(pa.float32(), 2)),
        ("sex", pa.dictionary(pa.int8(), pa.string())),
        ("age_years", pa.float32()),
        ("stature_m", pa.float32()),
        ("skin_rgb", _VECTOR),
        ("muscle", pa.float32()),
        ("weight", pa.float32()),
        ("trousers", pa.bool_()),
        ("poses", pa.int16()),
    ]
)
"""``album``: which movement poses were drawn from; ``movement``: the one this pose shows, which
differs in the album "captured" alone. ``poses``: how many pictures of the cast were rendered; those
missing were read as somebody else, or not at all."""

WIDE_SCHEMA = pa.schema(
    [
        *(WIDE_GROUND_M.field if each.name == GROUND_M.name else each for each in SCHEMA),
        ("camera", pa.dictionary(pa.int8(), pa.string())),
        ("look", pa.dictionary(pa.int8(), pa.string())),
        ("dress", pa.dictionary(pa.int8(), pa.string())),
        ("k1", pa.float32()),
        ("frame_px", pa.list_(pa.float32(), 2)),
        *(each.field for each in HEAVY),
    ]
)
"""Of casts filmed by "wide" cameras. ``camera_*``, ``focal_px``, ``principal_px``: of each picture,
without the distortion ``k1``, of which a reader of film knows nothing either; ``frame_px``: size of
the whole picture that the still was cut out of."""
_WIDE_DEFAULTS = {"camera": "phone", "look": "first", "dress": "uniform"}


@dataclass(frozen=True, eq=False)
class Cast:
    """One body's pictures, ``n`` of them.

    Attributes:
        number: of the cast.
        album: what its poses were drawn from.
        movement: ``(n,)`` what each shows.
        cameras: ``n``.
        xy_px, world_m, score: ``(n, 33, ...)`` landmarks as the pose model read them.
        ground_m: ``(n, 2)`` where the middle of the hips is, over the ground.
        foot_lift_m: ``(n, 2 feet)`` how high the middle of heel and toe joint is over the ground.
        truth: by measure; knee flexion ``(n, 2)``, left and right, the others ``(n,)``.
        occluded, degraded: ``(n,)`` another player stands partly in front; badly filmed.
        sex, age_years, stature_m, skin_rgb, muscle, weight, trousers: who it is.
        poses: how many pictures were rendered.
        camera: "phone", or "wide": any lens, height and distance.
        look: of the film, "first" or "second".
        dress: "uniform" or "street".
        k1: ``(n,)`` radial distortion of the pictures, which the cameras leave out.
        frame_px: ``(2,)`` size of the whole picture, NaN where a still is not cut out of one.
        heavy: as the second pose model read the pictures, those that it did read; or None.
    """

    number: int
    album: str
    movement: npt.NDArray[np.str_]
    cameras: Sequence[Camera]
    xy_px: FloatArray
    world_m: FloatArray
    score: FloatArray
    ground_m: FloatArray
    foot_lift_m: FloatArray
    truth: Mapping[str, FloatArray]
    occluded: Flags
    degraded: Flags
    sex: str
    age_years: float
    stature_m: float
    skin_rgb: FloatArray
    muscle: float
    weight: float
    trousers: bool
    poses: int
    camera: str
    look: str
    dress: str
    k1: FloatArray
    frame_px: FloatArray
    heavy: Cast | None

    @property
    def family(self) -> str:
        """Album, camera and look, by which families are left out of a fit."""
        return f"{self.album}/{self.camera}/{self.look}"

    def __len__(self) -> int:
        return len(self.xy_px)

    @cached_property
    def view(self) -> BodyView:
        """The body as it is seen, nothing known of where it is."""
        n = len(self)
        seen = [
            along_sight(*each) for each in zip(self.cameras, self.xy_px, self.world_m, strict=True)
        ]
        sight_xy, body_m, elevation = (np.array(part) for part in zip(*seen, strict=True))
        return BodyView(
            sight_xy,
            body_m,
            elevation,
            score=self.score,
            height_px=np.ptp(self.xy_px[..., 1], axis=1),
            lower=np.zeros(n),
            lower_sd=np.full(n, np.inf),
        )

    @property
    def skin(self) -> float:
        """How light the skin is, 0 to 1 (luminance of sRGB, ITU-R BT.709 weights)."""
        return float(self.skin_rgb @ (0.2126, 0.7152, 0.0722))


# -- from the renderer's files -------------------------------------------------------------------


def rows_of(path: Path) -> pa.Table:
    """The rows of one file that ``models.render.stills`` wrote.

    Raises:
        ValueError: a value cannot be kept; says which.
    """
    from models.render.body import JOINTS

    with np.load(path, allow_pickle=False) as file:
        arrays: dict[str, Any] = dict(file)
    n = len(arrays["xy_px"])
    movement = arrays["movement"]
    shown = list(dict.fromkeys(movement))
    joints = arrays["joints_m"]
    feet = [joints[:, [JOINTS.index(name) for name in pair], 2].mean(axis=1) for pair in FEET]
    matrix = arrays["camera_matrix"]
    values: dict[str, Any] = {
        **arrays,
        "foot_lift_m": np.stack(feet, axis=1),
        "hand_height": np.clip(arrays["hand_height"], -MOST_HAND_HEIGHT, MOST_HAND_HEIGHT),
        "cast": int(path.stem[-4:]),
        "album": arrays.get("album", shown[0] if len(shown) == 1 else "captured"),
        "occluded": _either(arrays, "occluded", "hidden"),
        "degraded": _either(arrays, "degraded", "spoilt"),
        "camera_rotation_vector": Rotation.from_matrix(arrays["camera_rotation"]).as_rotvec(),
        "focal_px": matrix[..., 0, 0],
        "principal_px": matrix[..., :2, 2],
    }
    wide = "heavy_xy_px" in arrays
    quantised = {each.name: each for each in (*QUANTISED, *HEAVY)}
    if wide:
        quantised[GROUND_M.name] = WIDE_GROUND_M
    schema = WIDE_SCHEMA if wide else SCHEMA
    try:
        columns = [
            quantised[field.name].encoded(values[field.name])
            if field.name in quantised
            else _column(values[field.name], field.type, n)
            for field in schema
        ]
    except ValueError as error:
        raise ValueError(f"{path.name}: {error}") from None
    return pa.Table.from_arrays(columns, schema=schema)


def _either(arrays: Mapping[str, Any], name: str, older: str) -> Any:
    return arrays[name] if name in arrays else arrays[older]


def _column(values: Any, kind: pa.DataType, n: int) -> pa.Array:
    """A plain column; one value for the whole cast is repeated."""
    rows = np.asarray(values)
    if pa.types.is_fixed_size_list(kind):
        rows = np.broadcast_to(rows, (n, kind.list_size))
        flat = pa.array(np.ascontiguousarray(rows).ravel().astype(np.float32))
        return pa.FixedSizeListArray.from_arrays(flat, kind.list_size)
    if rows.ndim == 0:
        rows = np.repeat(rows[None], n)
    if pa.types.is_dictionary(kind):
        return pa.array([str(each) for each in rows]).dictionary_encode().cast(kind)
    return pa.array(rows).cast(kind)


def write_rows(path: Path, table: pa.Table) -> None:
    """Rows as Parquet, the same bytes for the same rows."""
    varying = [*(each.name for each in QUANTISED), "camera_rotation_vector"]
    if "camera" in table.column_names:
        varying += [*(each.name for each in HEAVY), "principal_px", "k1"]
    repeated = [name for name in table.column_names if name not in varying]
    pq.write_table(
        table,
        path,
        compression="zstd",
        compression_level=19,
        use_dictionary=[_leaf(table.schema.field(name)) for name in repeated],
        use_byte_stream_split=[_leaf(table.schema.field(name)) for name in varying],
        write_statistics=False,
        row_group_size=1 << 20,
    )


def _leaf(field: pa.Field) -> str:
    nested = pa.types.is_fixed_size_list(field.type)
    return f"{field.name}.list.element" if nested else str(field.name)


# -- back from rows ------------------------------------------------------------------------------


def read_casts(
    paths: Iterable[Path], movements: Sequence[str] = (), model: str = "full"
) -> list[Cast]:
    """Every cast in files of rows, in order of their numbers.

    Args:
        paths: of the files.
        movements: only these albums, if any are named.
        model: which pose model's landmarks; with "heavy", only casts and pictures that it read.

    Raises:
        ValueError: a cast lies in more than one file.
    """
    casts = [cast for path in paths for cast in _casts(pq.read_table(path))]
    numbers = [cast.number for cast in casts]
    if len(set(numbers)) < len(numbers):
        raise ValueError("the rows hold a cast more than once: gather them again")
    chosen = [cast for cast in casts if not movements or cast.album in movements]
    if model == "heavy":
        chosen = [cast.heavy for cast in chosen if cast.heavy is not None]
    return sorted(chosen, key=lambda cast: cast.number)


def _casts(table: pa.Table) -> Iterator[Cast]:
    quantised = {each.name: each for each in (*QUANTISED, *HEAVY)}
    columns: dict[str, Any] = {}
    for field in table.schema:
        column = table[field.name]
        if field.name in quantised:
            columns[field.name] = quantised[field.name].as_kept(field).decoded(column)
        elif pa.types.is_dictionary(field.type):
            columns[field.name] = np.array(column.to_pylist())
        elif pa.types.is_fixed_size_list(field.type):
            columns[field.name] = numpy_of(column).reshape(-1, field.type.list_size).astype(float)
        else:
            columns[field.name] = numpy_of(column)
    number = columns["cast"]
    n = len(number)
    for name, value in _WIDE_DEFAULTS.items():
        columns.setdefault(name, np.repeat(value, n))
    columns.setdefault("k1", np.zeros(n))
    columns.setdefault("frame_px", np.full((n, 2), np.nan))
    for first, end in _stretches(number):
        yield _cast({name: rows[first:end] for name, rows in columns.items()})


def _stretches(values: npt.NDArray[np.generic]) -> Iterator[tuple[int, int]]:
    edges = np.flatnonzero(values[1:] != values[:-1]) + 1
    yield from zip([0, *edges], [*edges, len(values)], strict=True)


def _cast(rows: Mapping[str, Any]) -> Cast:
    turns = Rotation.from_rotvec(rows["camera_rotation_vector"]).as_matrix()
    focal, principal = rows["focal_px"].astype(float), rows["principal_px"]
    matrices = np.zeros((len(turns), 3, 3))
    matrices[:, 0, 0] = matrices[:, 1, 1] = focal
    matrices[:, :2, 2], matrices[:, 2, 2] = principal, 1
    heavy = None
    if "heavy_xy_px" in rows:
        read = np.isfinite(rows["heavy_xy_px"]).all(axis=(1, 2))
        if read.any():
            own = {name: values[read] for name, values in rows.items()}
            own |= {each.name.removeprefix("heavy_"): own.pop(each.name) for each in HEAVY}
            heavy = _cast(own)
    return Cast(
        number=int(rows["cast"][0]),
        album=str(rows["album"][0]),
        movement=rows["movement"],
        cameras=[
            Camera(*each) for each in zip(matrices, turns, rows["camera_centre_m"], strict=True)
        ],
        xy_px=rows["xy_px"],
        world_m=rows["world_m"],
        score=rows["score"],
        ground_m=rows["ground_m"],
        foot_lift_m=rows["foot_lift_m"],
        truth={each.name: rows[each.name] for each in TRUTH},
        occluded=rows["occluded"],
        degraded=rows["degraded"],
        sex=str(rows["sex"][0]),
        age_years=float(rows["age_years"][0]),
        stature_m=float(rows["stature_m"][0]),
        skin_rgb=rows["skin_rgb"][0],
        muscle=float(rows["muscle"][0]),
        weight=float(rows["weight"][0]),
        trousers=bool(rows["trousers"][0]),
        poses=int(rows["poses"][0]),
        camera=str(rows["camera"][0]),
        look=str(rows["look"][0]),
        dress=str(rows["dress"][0]),
        k1=rows["k1"].astype(float),
        frame_px=rows["frame_px"][0],
        heavy=heavy,
    )
