"""The ground from known points of the field marked in a picture."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from posecheck.camera.lens import USUAL_LENS, Lens, LensReading
from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.camera.tuning import ABSURD_SDS, BEND_SD
from posecheck.errors import SettingsError
from posecheck.ground.ground import Ground
from posecheck.ground.scale import Fitted, length_sd, parameter_sd
from posecheck.ground.tuning import (
    CONE_SD_M,
    LEAST_DEPTH_M,
    LOOSELY,
    MARK_SD_SHARE,
    MAX_LOG_ASPECT,
    MAX_MISS_SDS,
    MIN_LEVERAGE_LEFT,
    MIN_MARKS,
    MIN_SPREAD_M,
    PAINT_SD_M,
    SAME_LOG_FOCAL,
    SOFT_MISS_SDS,
    STARTS_KEPT,
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


def ground_from_marks(
    view: View, layout: Layout, size_px: tuple[int, int], lens: Lens = USUAL_LENS
) -> Ground:
    """Calibrate the camera by marked points.

    Focal length, distortion and pose are fitted to the marks by robust least squares of the
    reprojection error, with the principal point in the middle of the picture and square pixels.
    Priors of the lens, and of how crooked a phone is held, only matter where the marks leave them
    open.

    Args:
        view: marks, and the size of the picture they were read from.
        layout: where the marked points are.
        size_px: width and height of the clip; marks are scaled to it.
        lens: what is believed of it before.

    Returns:
        The ground for the frame that the marks belong to.

    Raises:
        SettingsError: unknown names, too few marks, marks on one line, another shape of picture,
            sides swapped, or marks that do not fit together.
    """
    marks = _checked(view, layout, size_px)
    fits = _fitted(marks, lens)
    parameters, miss = fits[0].parameters, fits[0].miss
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
    fitted = [each.fitted for each in fits]
    scale_sd, depth_sd = length_sd(lambda p: _camera(p, size_px), fitted, _line_middles(marks))
    reading = LensReading(float(np.exp(parameters[0])), parameter_sd(fitted, 0), "marks")
    return Ground(
        camera=camera,
        source="marks",
        described=(
            f"{len(marks.names)} marked points, fit to {max(typical_cm, 1):.0f} cm, "
            f"{reading.described}"
        ),
        scale_sd=scale_sd,
        depth_sd=depth_sd,
        on_field=layout.goal,
        lens=reading,
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
    """Parameters: log focal length over the longer side, rotation vector, centre, distortion.

    Distortion is given at the edge of the longer side, where it means the same for every lens.
    """
    focal = np.exp(parameters[0])
    matrix = np.array(
        [
            [focal * max(size_px), 0, (size_px[0] - 1) / 2],
            [0, focal * max(size_px), (size_px[1] - 1) / 2],
            [0, 0, 1],
        ]
    )
    turn = Rotation.from_rotvec(parameters[1:4]).as_matrix()
    return Camera(matrix, turn, parameters[4:7], float(parameters[7] * (2 * focal) ** 2))


@dataclass(frozen=True)
class _Fit:
    """A camera fitted to the marks.

    Attributes:
        cost: half the sum of the squared misses, soft.
        fitted: its parameters.
        miss: ``(n,)`` each mark's studentised reprojection error.
    """

    cost: float
    fitted: Fitted
    miss: FloatArray

    @property
    def parameters(self) -> FloatArray:
        return self.fitted.parameters


def _fitted(marks: _Marks, lens: Lens) -> list[_Fit]:
    """Cameras that fit the marks, the best one first; few marks may leave two."""
    sd_px = MARK_SD_SHARE * max(marks.size_px)

    def prior(parameters: FloatArray) -> FloatArray:
        up = Rotation.from_rotvec(parameters[1:4]).as_matrix()[:, 2]
        height_m = max(abs(parameters[6]), LEAST_DEPTH_M)  # below the ground when sides are swapped
        return np.array(
            [
                lens.misses(parameters[0]),
                PHONE.roll.misses(np.arctan2(up[0], -up[1])),
                PHONE.tilt.misses(np.arcsin(np.clip(-up[2], -1, 1))) / LOOSELY,
                PHONE.log_height.misses(np.log(height_m)) / LOOSELY,
                parameters[7] / BEND_SD,
            ]
        )

    def misses(parameters: FloatArray, whiten: FloatArray) -> FloatArray:
        off_px = _project(parameters, marks) - marks.xy_px
        return np.asarray(np.einsum("nij,nj->ni", whiten, off_px))

    def fit(start: FloatArray) -> _Fit:
        # Twice, since the weight of a misplaced cone depends on how large a metre looks there.
        parameters = start
        for _ in range(2):
            whiten = _whitening(parameters, marks, sd_px)
            found = least_squares(
                lambda p, w=whiten: np.concatenate([misses(p, w).ravel(), prior(p)]),
                parameters,
                x_scale=[0.1, 0.05, 0.05, 0.05, 0.5, 0.5, 0.5, BEND_SD],
                loss="soft_l1",
                f_scale=SOFT_MISS_SDS,
                max_nfev=200,
            )
            parameters = found.x
        jacobian, cost = np.asarray(found.jac), float(found.cost)
        covariance = np.asarray(np.linalg.pinv(jacobian.T @ jacobian), dtype=np.float64)
        miss = _studentised(misses(parameters, whiten), jacobian)
        return _Fit(cost, Fitted(parameters, covariance, -cost), miss)

    def first_cost(start: FloatArray) -> float:
        off = misses(start, _whitening(start, marks, sd_px))
        return float(np.sum(off**2) + np.sum(prior(start) ** 2))

    fits: list[_Fit] = []
    for start in sorted(_starts(marks), key=first_cost)[:STARTS_KEPT]:
        new = fit(start)
        old = [
            each for each in fits if abs(each.parameters[0] - new.parameters[0]) < SAME_LOG_FOCAL
        ]
        if not old or new.cost < min(each.cost for each in old):
            fits = [each for each in fits if each not in old] + [new]
    if not fits:
        raise AssertionError("no start for the camera")
    return sorted(fits, key=lambda each: each.cost)


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
    return camera.bent(np.asarray(seen[:, :2] / np.maximum(seen[:, 2:], LEAST_DEPTH_M)))


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
        matrix = _camera(np.array([log_focal, 0, 0, 0, 0, 0, 0, 0]), marks.size_px).matrix
        found, turn, shift = cv2.solvePnP(
            marks.xyz_m, marks.xy_px[:, None], matrix, np.zeros(4), flags=cv2.SOLVEPNP_SQPNP
        )
        if found:
            rotation = Rotation.from_rotvec(turn.ravel())
            centre = -rotation.inv().apply(shift.ravel())
            starts.append(np.concatenate([[log_focal], rotation.as_rotvec(), centre, [0.0]]))
    return starts


def _line_middles(marks: _Marks) -> FloatArray:
    """``(n, 2)`` middles of the lines from mark to mark, of cones when there are several."""
    cones = marks.place_sd_m == CONE_SD_M
    ends = marks.xyz_m[cones if cones.sum() > 1 else slice(None), :2]
    one, other = np.triu_indices(len(ends), k=1)
    return np.asarray((ends[one] + ends[other]) / 2)
