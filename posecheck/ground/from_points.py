"""The ground from known points of the field marked in a picture."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.camera.tuning import ABSURD_SDS
from posecheck.errors import SettingsError
from posecheck.ground.ground import Ground
from posecheck.ground.scale import length_sd
from posecheck.ground.tuning import (
    CONE_SD_M,
    LEAST_DEPTH_M,
    MARK_SD_SHARE,
    MAX_LOG_ASPECT,
    MAX_MISS_SDS,
    MIN_LEVERAGE_LEFT,
    MIN_MARKS,
    MIN_SPREAD_M,
    PAINT_SD_M,
    SOFT_MISS_SDS,
)
from posecheck.maths.arrays import FloatArray
from posecheck.practice.layout import Layout
from posecheck.practice.notes import View


@dataclass(frozen=True)
class _Marks:
    names: list[str]
    xyz_m: FloatArray  # (n, 3), z = 0
    place_sd_m: FloatArray  # (n,)
    xy_px: FloatArray  # (n, 2)
    size_px: tuple[int, int]


def ground_from_marks(view: View, layout: Layout, size_px: tuple[int, int]) -> Ground:
    """Calibrate the camera by marked points.

    Focal length and pose are fitted to the marks by robust least squares of the reprojection
    error, with the principal point in the middle of the picture, square pixels, and a prior of a
    phone's focal length that only matters where the marks leave it open.

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
    if miss[worst] > MAX_MISS_SDS:
        off = f"{error_m[worst] * 100:.0f} cm off" if error_m[worst] < 50 else "far off"
        raise SettingsError(
            f"{where}: its marks do not fit together, '{marks.names[worst]}' worst ({off}); "
            "check where it is marked and where the layout puts it."
        )
    if not PHONE.log_height.within(np.log(camera.centre_m[2]), ABSURD_SDS):
        raise SettingsError(
            f"{where}: its marks put the camera {camera.centre_m[2]:.1f} m above the ground; "
            "check the marks and the layout."
        )
    typical_cm = 100 * float(np.median(error_m))
    scale_sd, depth_sd = length_sd(
        lambda p: _camera(p, size_px),
        parameters,
        np.asarray(np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64),
        _line_middles(marks),
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
    """The marks as arrays; raises SettingsError for those that no camera can be fitted to."""
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
    if abs(np.log((width / height) / (size_px[0] / size_px[1]))) > MAX_LOG_ASPECT:
        raise SettingsError(
            f"{where}: its marks were read from a {width} x {height} picture but the clip is "
            f"{size_px[0]} x {size_px[1]}; mark the view again on a picture of the clip's shape."
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
    """The best parameters, the fit's Jacobian, and each mark's reprojection error in its own sd."""
    sd_px = MARK_SD_SHARE * max(marks.size_px)

    def prior(parameters: FloatArray) -> float:
        return float(PHONE.log_focal.misses(parameters[0]))

    def misses(parameters: FloatArray, whiten: FloatArray) -> FloatArray:
        off_px = _project(parameters, marks) - marks.xy_px
        return np.asarray(np.einsum("nij,nj->ni", whiten, off_px))

    best: tuple[float, FloatArray, FloatArray, FloatArray] | None = None
    for start in _starts(marks):
        # Twice, since the weight of a misplaced cone depends on how large a metre looks there.
        parameters = start
        for _ in range(2):
            whiten = _whitening(parameters, marks, sd_px)
            fit = least_squares(
                lambda p, w=whiten: np.append(misses(p, w).ravel(), prior(p)),
                parameters,
                x_scale=[0.1, 0.05, 0.05, 0.05, 0.5, 0.5, 0.5],
                loss="soft_l1",
                f_scale=SOFT_MISS_SDS,
                max_nfev=200,
            )
            parameters = fit.x
        if best is None or fit.cost < best[0]:
            best = (float(fit.cost), parameters, np.asarray(fit.jac), misses(parameters, whiten))
    if best is None:
        raise AssertionError("no start for the camera")
    return best[1], best[2], _studentised(best[3], best[2])


def _studentised(misses: FloatArray, jacobian: FloatArray) -> FloatArray:
    """``(n,)`` studentised reprojection errors: larger for marks that pull the fit to themselves.

    The hat matrix gives, to first order, the error of a mark in a fit made without it (Cook and
    Weisberg, Residuals and Influence in Regression, 1982, chapter 2).
    """
    hat = jacobian @ np.linalg.pinv(jacobian.T @ jacobian) @ jacobian.T
    squared = []
    for i, miss in enumerate(misses):
        block = slice(2 * i, 2 * i + 2)
        left, axes = np.linalg.eigh(np.eye(2) - hat[block, block])
        # Along an axis that a mark alone determines no other mark can contradict it.
        shared = left > MIN_LEVERAGE_LEFT
        squared.append(np.sum((axes.T @ miss)[shared] ** 2 / left[shared]))
    return np.sqrt(np.asarray(squared, dtype=np.float64))


def _project(parameters: FloatArray, marks: _Marks) -> FloatArray:
    """``(n, 2)`` pixels of the marked points."""
    camera = _camera(parameters, marks.size_px)
    seen = (marks.xyz_m - camera.centre_m) @ (camera.matrix @ camera.rotation).T
    return np.asarray(seen[:, :2] / np.maximum(seen[:, 2:], LEAST_DEPTH_M))


def _whitening(parameters: FloatArray, marks: _Marks, sd_px: float) -> FloatArray:
    """``(n, 2, 2)`` per mark, by the errors of marking in the picture and placing on the ground."""
    camera = _camera(parameters, marks.size_px)
    step = 0.01
    base = camera.to_image(marks.xyz_m)
    sides = [camera.to_image(marks.xyz_m + step * np.eye(3)[axis]) for axis in (0, 1)]
    px_per_m = np.stack([(side - base) / step for side in sides], axis=-1)
    place = np.nan_to_num(px_per_m) * marks.place_sd_m[:, None, None]
    covariance = sd_px**2 * np.eye(2) + place @ place.transpose(0, 2, 1)
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))


def _starts(marks: _Marks) -> list[FloatArray]:
    """Parameters to start the fit from, one for each focal length that has a solution."""
    import cv2

    starts = []
    for log_focal in PHONE.start_log_focals:
        matrix = _camera(np.array([log_focal, 0, 0, 0, 0, 0, 0]), marks.size_px).matrix
        found, turn, shift = cv2.solvePnP(
            marks.xyz_m, marks.xy_px[:, None], matrix, np.zeros(4), flags=cv2.SOLVEPNP_SQPNP
        )
        if found:
            rotation = Rotation.from_rotvec(turn.ravel())
            centre = -rotation.inv().apply(shift.ravel())
            starts.append(np.concatenate([[log_focal], rotation.as_rotvec(), centre]))
    return starts


def _line_middles(marks: _Marks) -> FloatArray:
    """``(n, 2)`` middles of the lines from mark to mark, of cones when there are several."""
    cones = marks.place_sd_m == CONE_SD_M
    ends = marks.xyz_m[cones if cones.sum() > 1 else slice(None), :2]
    one, other = np.triu_indices(len(ends), k=1)
    return np.asarray((ends[one] + ends[other]) / 2)
