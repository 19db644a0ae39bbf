"""The ground from known points of the field marked in a picture."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.camera.pinhole import Camera
from posecheck.errors import SettingsError
from posecheck.ground.ground import Ground
from posecheck.ground.scale import length_sd
from posecheck.maths.arrays import FloatArray
from posecheck.practice.layout import Layout
from posecheck.practice.notes import View

MIN_MARKS = 4

MARK_SD = 2.0 / 1920
"""How well a point is marked, as a share of the picture's longer side (2 px in 1080p film)."""

CONE_SD_M, PAINT_SD_M = 0.06, 0.02
"""How well a cone, and a painted line or goal post, stands where the layout says. Common practice
with a tape, no source."""

FOCAL_PRIOR = 0.78
"""Focal length over the picture's longer side: 65 degrees across, a phone's main camera."""

FOCAL_PRIOR_SD = 0.2
"""Of its logarithm: 50 to 75 degrees lie within one and a half."""

START_FOCALS = (0.5, 0.65, 0.8, 1.0, 1.4, 2.0)
"""Focal lengths to start from, over the longer side; the best end is kept."""

MAX_MISS = 4.0
"""A mark further off than this many of its own standard deviations spoils the fit: by chance
alone one practice in five hundred would be refused (six marks, two directions)."""

MIN_TOLD = 1e-4
"""Of a mark's miss; less is rounding, as when it alone fixes what the others leave open."""

MIN_SPREAD_M = 0.4
"""Marks must spread at least this much (standard deviation) across their main direction."""

HEIGHT_RANGE_M = (0.3, 40.0)
"""From a phone leaning on a bag to the top of a stand."""


@dataclass(frozen=True)
class _Marks:
    names: list[str]
    xyz_m: FloatArray  # (n, 3), z = 0
    place_sd_m: FloatArray  # (n,)
    xy_px: FloatArray  # (n, 2)
    size_px: tuple[int, int]


def ground_from_marks(view: View, layout: Layout, size_px: tuple[int, int]) -> Ground:
    """Find the camera from marked points.

    Focal length and pose are fitted to the marks by robust least squares, with the principal
    point in the middle of the picture, square pixels, and a mild preference for a phone's focal
    length that only matters where the marks leave it open.

    Args:
        view: marks, and the size of the picture they were read from.
        layout: where the marked points are.
        size_px: width and height of the clip; marks are scaled to it.

    Returns:
        The ground for the frame that the marks belong to.

    Raises:
        SettingsError: unknown names, too few marks, marks on one line, another shape of picture,
            sides swapped, or marks that do not fit together.
    """
    marks = _checked(view, layout, size_px)
    parameters, jacobian, miss = _fitted(marks)
    camera = _camera(parameters, size_px)
    where = f"view '{view.name}'"

    if camera.centre_m[2] < 0:
        raise SettingsError(
            f"{where}: left and right are swapped in its marks; "
            "name them as the defender sees them, looking out from the goal."
        )
    error_m = np.linalg.norm(camera.to_ground(marks.xy_px) - marks.xyz_m[:, :2], axis=1)
    error_m = np.where(np.isnan(error_m), np.inf, error_m)
    worst = int(np.argmax(miss))
    if miss[worst] > MAX_MISS:
        off = f"{error_m[worst] * 100:.0f} cm off" if error_m[worst] < 50 else "far off"
        raise SettingsError(
            f"{where}: its marks do not fit together, '{marks.names[worst]}' worst ({off}); "
            "check where it is marked and where the layout puts it."
        )
    if not HEIGHT_RANGE_M[0] <= camera.centre_m[2] <= HEIGHT_RANGE_M[1]:
        raise SettingsError(
            f"{where}: its marks put the camera {camera.centre_m[2]:.1f} m above the ground; "
            "check the marks and the layout."
        )
    typical_cm = 100 * float(np.median(error_m))
    scale_sd, depth_sd = length_sd(
        lambda p: _camera(p, size_px),
        parameters,
        np.asarray(np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64),
        _runs(marks),
    )
    return Ground(
        camera=camera,
        source="marks",
        described=f"{len(marks.names)} marked points, fit to {max(typical_cm, 1):.0f} cm",
        scale_sd=scale_sd,
        depth_sd=depth_sd,
        on_field=layout.goal,
    )


def _checked(view: View, layout: Layout, size_px: tuple[int, int]) -> _Marks:
    where = f"view '{view.name}'"
    for name in view.marks:
        if name not in layout.points:
            near = get_close_matches(name, layout.points, n=1)
            hint = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(layout.points)}."
            raise SettingsError(f"{where}: unknown point '{name}'; {hint}")
    if len(view.marks) < MIN_MARKS or view.size is None:
        raise SettingsError(
            f"{where}: {len(view.marks)} marked points are too few; mark at least {MIN_MARKS}."
        )
    width, height = view.size
    if abs(np.log((width / height) / (size_px[0] / size_px[1]))) > 0.01:
        raise SettingsError(
            f"{where}: its marks were read from a {width} x {height} picture but the clip is "
            f"{size_px[0]} x {size_px[1]}; mark the view anew on a picture of the clip's shape."
        )
    names = list(view.marks)
    xy_m = np.array([layout.points[name] for name in names], dtype=np.float64)
    across = np.linalg.svd(xy_m - xy_m.mean(axis=0), compute_uv=False)[1] / np.sqrt(len(names))
    if across < MIN_SPREAD_M:
        raise SettingsError(
            f"{where}: its marked points lie on one line; add one well away from that line."
        )
    # Pixel centres are whole numbers, so the picture's edge is at -0.5.
    scale = np.array(size_px) / np.array(view.size)
    xy_px = (np.array([view.marks[name] for name in names], dtype=np.float64) + 0.5) * scale - 0.5
    xyz_m = np.column_stack([xy_m, np.zeros(len(xy_m))])
    place_sd = np.array([CONE_SD_M if name in layout.cones else PAINT_SD_M for name in names])
    return _Marks(names, xyz_m, place_sd, xy_px, size_px)


def _camera(parameters: FloatArray, size_px: tuple[int, int]) -> Camera:
    """Parameters: log focal length over the longer side, rotation vector, centre."""
    focal = np.exp(parameters[0]) * max(size_px)
    matrix = np.array(
        [[focal, 0, (size_px[0] - 1) / 2], [0, focal, (size_px[1] - 1) / 2], [0, 0, 1]]
    )
    return Camera(matrix, Rotation.from_rotvec(parameters[1:4]).as_matrix(), parameters[4:7])


def _fitted(marks: _Marks) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The best parameters, the fit's Jacobian, and how far off each mark is in its own sd."""
    sd_px = MARK_SD * max(marks.size_px)

    def prior(parameters: FloatArray) -> float:
        return float((parameters[0] - np.log(FOCAL_PRIOR)) / FOCAL_PRIOR_SD)

    def misses(parameters: FloatArray, whiten: FloatArray) -> FloatArray:
        off_px = _project(parameters, marks) - marks.xy_px
        return np.asarray(np.einsum("nij,nj->ni", whiten, off_px))

    best: tuple[float, FloatArray, FloatArray, FloatArray] | None = None
    for start in _starts(marks):
        # Twice, since a misplaced cone counts by how large its place looks from the camera.
        parameters = start
        for _ in range(2):
            whiten = _whitening(parameters, marks, sd_px)
            fit = least_squares(
                lambda p, w=whiten: np.append(misses(p, w).ravel(), prior(p)),
                parameters,
                x_scale=[0.1, 0.05, 0.05, 0.05, 0.5, 0.5, 0.5],
                loss="soft_l1",
                f_scale=2.0,
                max_nfev=200,
            )
            parameters = fit.x
        if best is None or fit.cost < best[0]:
            best = (float(fit.cost), parameters, np.asarray(fit.jac), misses(parameters, whiten))
    if best is None:
        raise AssertionError("no start for the camera")
    return best[1], best[2], _studentised(best[3], best[2])


def _studentised(misses: FloatArray, jacobian: FloatArray) -> FloatArray:
    """``(n,)`` distances off, enlarged for marks that pull the fit towards themselves.

    The hat matrix says, to first order, how far off a mark would be from a fit made without it
    (Cook and Weisberg, Residuals and Influence in Regression, 1982, chapter 2).
    """
    hat = jacobian @ np.linalg.pinv(jacobian.T @ jacobian) @ jacobian.T
    squared = []
    for i, miss in enumerate(misses):
        block = slice(2 * i, 2 * i + 2)
        unpulled, ways = np.linalg.eigh(np.eye(2) - hat[block, block])
        # What a mark alone fixes, no other mark can gainsay.
        told = unpulled > MIN_TOLD
        squared.append(np.sum((ways.T @ miss)[told] ** 2 / unpulled[told]))
    return np.sqrt(np.asarray(squared, dtype=np.float64))


def _project(parameters: FloatArray, marks: _Marks) -> FloatArray:
    camera = _camera(parameters, marks.size_px)
    seen = (marks.xyz_m - camera.centre_m) @ (camera.matrix @ camera.rotation).T
    # Points that swing behind the camera during the search must cost much, not fail.
    return np.asarray(seen[:, :2] / np.maximum(seen[:, 2:], 0.05))


def _whitening(parameters: FloatArray, marks: _Marks, sd_px: float) -> FloatArray:
    """``(n, 2, 2)`` per mark, from marking error in the picture and placing error on the ground."""
    camera = _camera(parameters, marks.size_px)
    step = 0.01
    base = camera.to_image(marks.xyz_m)
    sides = [camera.to_image(marks.xyz_m + step * np.eye(3)[axis]) for axis in (0, 1)]
    px_per_m = np.stack([(side - base) / step for side in sides], axis=-1)
    place = np.nan_to_num(px_per_m) * marks.place_sd_m[:, None, None]
    covariance = sd_px**2 * np.eye(2) + place @ place.transpose(0, 2, 1)
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))


def _starts(marks: _Marks) -> list[FloatArray]:
    import cv2

    starts = []
    for focal in START_FOCALS:
        matrix = _camera(np.array([np.log(focal), 0, 0, 0, 0, 0, 0]), marks.size_px).matrix
        found, turn, shift = cv2.solvePnP(
            marks.xyz_m, marks.xy_px[:, None], matrix, np.zeros(4), flags=cv2.SOLVEPNP_SQPNP
        )
        if found:
            rotation = Rotation.from_rotvec(turn.ravel())
            centre = -rotation.inv().apply(shift.ravel())
            starts.append(np.concatenate([[np.log(focal)], rotation.as_rotvec(), centre]))
    return starts


def _runs(marks: _Marks) -> FloatArray:
    """``(n, 2)`` middles of the ways from mark to mark, of cones when there are several."""
    cones = marks.place_sd_m == CONE_SD_M
    ends = marks.xyz_m[cones if cones.sum() > 1 else slice(None), :2]
    one, other = np.triu_indices(len(ends), k=1)
    return np.asarray((ends[one] + ends[other]) / 2)
