"""A player's box over time: a Kalman filter while the film runs, smoothed when it has run.

Centre, width and height each move at a speed that wanders (white-noise acceleration). The
filter and the Rauch-Tung-Striebel smoother are filterpy's.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray
from posecheck.players.tuning import (
    BOX_NOISE,
    GROWTH_NOISE,
    KEPT_FRAMES,
    MOTION_GATE,
    START_SPEED_SD,
    TAIL_FRAMES,
    WANDER,
)

_PLACES = [0, 2, 4, 6]
"""Index in the state of centre x, centre y, width and height; each one's speed follows it.

Source: definition
"""

_SPEEDS = [1, 3, 5, 7]
"""Index in the state of their speeds.

Source: definition
"""


class BoxFilter:
    """Filters one player's box, in pixels of the clip's first frame.

    Args:
        box_xyxy: ``(4,)`` where the player was first found.
        sd: standard deviation of that box's sides, as a share of its height.
    """

    def __init__(self, box_xyxy: FloatArray, sd: float) -> None:
        from filterpy.kalman import KalmanFilter

        self._kf = KalmanFilter(dim_x=8, dim_z=4)
        place = _centred(box_xyxy)
        height = place[3]
        self._kf.x = np.zeros(8)
        self._kf.x[_PLACES] = place
        self._kf.P = np.diag(np.stack([np.full(4, sd), START_SPEED_SD], axis=1).ravel() ** 2)
        self._kf.P *= height**2
        self._place_rows = np.zeros((4, 8))
        self._place_rows[range(4), _PLACES] = 1.0
        self._speed_rows = np.zeros((4, 8))
        self._speed_rows[range(4), _SPEEDS] = 1.0
        self._states = [self._kf.x.copy()]
        self._spreads = [self._kf.P.copy()]
        self._steps_s: list[float] = [0.0]
        self._settled: list[FloatArray] = []

    @property
    def box_xyxy(self) -> FloatArray:
        """``(4,)`` the box now."""
        return _cornered(self._kf.x[_PLACES])

    @property
    def height(self) -> float:
        """The box's height now."""
        return float(self._kf.x[6])

    @property
    def speed(self) -> FloatArray:
        """``(2,)`` the centre's speed, pixels/s."""
        return np.asarray(self._kf.x[[1, 3]])

    @property
    def place_sd(self) -> float:
        """Standard deviation of the centre, pixels."""
        return float(np.sqrt(max(self._kf.P[0, 0], self._kf.P[2, 2])))

    def predict(self, step_s: float) -> None:
        """Predict the next frame, ``step_s`` seconds later."""
        if len(self._states) == KEPT_FRAMES:
            self._settle()
        self._kf.predict(F=_transition(step_s), Q=_wander(step_s, self.height))
        self._states.append(self._kf.x.copy())
        self._spreads.append(self._kf.P.copy())
        self._steps_s.append(step_s)

    def update_box(self, box_xyxy: FloatArray, sd: float) -> None:
        """Update with a box found in this frame; ``sd`` is a share of its height."""
        seen = _centred(box_xyxy)
        noise = np.diag((sd * BOX_NOISE * seen[3]) ** 2)
        self._kf.update(seen, R=noise, H=self._place_rows)
        self._replace_last()

    def update_motion(self, speed: FloatArray, growth: float, sd: float, growth_sd: float) -> bool:
        """Update with how the player's own pixels moved since the last frame.

        Args:
            speed: ``(2,)`` pixels/s.
            growth: relative growth of size, 1/s.
            sd: standard deviation of the speed, heights/s.
            growth_sd: standard deviation of the growth, 1/s.

        Returns:
            False when the motion lies outside the gate of what this player can have done; it is
            then not used. A growth outside it is left out by itself.
        """
        seen = np.array([*speed, growth * self._kf.x[4], growth * self.height])
        noise = np.diag(
            ((np.array([sd, sd, growth_sd, growth_sd]) + GROWTH_NOISE) * self.height) ** 2
        )
        off = seen - self._speed_rows @ self._kf.x
        spread = self._speed_rows @ self._kf.P @ self._speed_rows.T + noise
        if off[:2] @ np.linalg.solve(spread[:2, :2], off[:2]) > MOTION_GATE:
            return False
        grown = np.isfinite(growth_sd) and off[3] ** 2 <= MOTION_GATE * spread[3, 3]
        used = slice(4 if grown else 2)
        self._kf.update(seen[used], R=noise[used, used], H=self._speed_rows[used])
        self._replace_last()
        return True

    def coast_since(self, n_frames: int, keep_speed: bool) -> None:
        """Undo the updates of the last ``n_frames`` frames.

        In their place he keeps the speed he had before them, or stays where he was. His size stays
        the same in either case.
        """
        if n_frames == 0:
            return
        steps = self._steps_s[-n_frames:]
        for history in (self._states, self._spreads, self._steps_s):
            del history[-n_frames:]
        self._kf.x, self._kf.P = self._states[-1].copy(), self._spreads[-1].copy()
        self._kf.x[_SPEEDS[2:] if keep_speed else _SPEEDS] = 0.0
        self._replace_last()
        for step in steps:
            self.predict(step)

    def smoothed(self) -> FloatArray:
        """``(n, 4)`` boxes of every frame since the first, smoothed over the frames around each.

        NaN where a size that was predicted for long has shrunk to nothing.
        """
        boxes = np.concatenate([*self._settled, self._smoothed_tail()])
        boxes[(boxes[:, 2:] <= boxes[:, :2]).any(axis=1)] = np.nan
        return boxes

    def _settle(self) -> None:
        """Smooth frames that lie far enough back for good, so that memory does not grow."""
        self._settled.append(self._smoothed_tail()[:-TAIL_FRAMES])
        for history in (self._states, self._spreads, self._steps_s):
            del history[:-TAIL_FRAMES]

    def _smoothed_tail(self) -> FloatArray:
        states = np.array(self._states)
        if len(states) > 1:
            states, *_ = self._kf.rts_smoother(
                states,
                np.array(self._spreads),
                Fs=[_transition(step) for step in self._steps_s],
                Qs=[
                    _wander(step, max(state[6], 1.0))
                    for step, state in zip(self._steps_s, states, strict=True)
                ],
            )
        return np.array([_cornered(state[_PLACES]) for state in states])

    def _replace_last(self) -> None:
        self._states[-1] = self._kf.x.copy()
        self._spreads[-1] = self._kf.P.copy()


def _transition(step_s: float) -> FloatArray:
    """``(8, 8)`` constant speed over a step."""
    transition = np.eye(8)
    transition[_PLACES, _SPEEDS] = step_s
    return transition


def _wander(step_s: float, height: float) -> FloatArray:
    """``(8, 8)`` process noise of integrated white-noise acceleration.

    Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001,
    section 6.2.2.
    """
    density, noise = WANDER * height**2, np.zeros((8, 8))
    noise[_PLACES, _PLACES] = density * (step_s**3 / 3)
    noise[_PLACES, _SPEEDS] = noise[_SPEEDS, _PLACES] = density * (step_s**2 / 2)
    noise[_SPEEDS, _SPEEDS] = density * step_s
    return noise


def _centred(box: FloatArray) -> FloatArray:
    """Centre x, centre y, width, height of a box."""
    return np.array(
        [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2, box[2] - box[0], box[3] - box[1]]
    )


def _cornered(place: FloatArray) -> FloatArray:
    """The inverse: left, top, right, bottom."""
    x, y, width, height = place
    return np.array([x - width / 2, y - height / 2, x + width / 2, y + height / 2])
