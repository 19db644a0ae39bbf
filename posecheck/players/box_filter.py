"""A player's box over time: a Kalman filter while the film runs, smoothed when it has run.

Centre, width and height each move with a velocity that wanders (white-noise acceleration). The
filter and the Rauch-Tung-Striebel smoother are filterpy's.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray

_PLACES = [0, 2, 4, 6]
"""Where centre x, centre y, width and height stand in the state; each one's speed follows it."""
_SPEEDS = [1, 3, 5, 7]

_WANDER = np.array([2.5, 2.5, 0.3, 1.0])
"""Spectral density of acceleration in heights^2/s^3. 2.5 lets a player's speed change by
0.9 heights/s (1.5 m/s) within 0.3 s, one sigma; hard braking, about 7 m/s^2, is less than 1.5."""

_BOX_NOISE = np.array([1.0, 1.0, 3.0, 1.0])
"""Width is the noisiest side of a found box: arms and stride change it three times a second."""
_GROWTH_NOISE = np.array([0.0, 0.0, 0.3, 0.0])
"""Heights/s that the width may change by while the trunk's size does not."""

_START_SPEED = np.array([2.5, 2.5, 0.5, 0.5])
"""One sigma of speed when first seen, heights/s: 2.5 is a run of 4.5 m/s."""

_GATE = 9.0
"""Motion farther off than three sigma is somebody else's."""


_KEPT, _TAIL = 1200, 480
"""Frames kept in full, and how many of them stay when the older ones are smoothed for good: two
seconds at 240 a second, beyond which later frames change nothing."""


class BoxFilter:
    """Filters one player's box, in pixels of the steadied picture.

    Args:
        box_xyxy: ``(4,)`` where the player was first found.
        sd: one sigma of that box's sides, as a share of its height.
    """

    def __init__(self, box_xyxy: FloatArray, sd: float) -> None:
        from filterpy.kalman import KalmanFilter

        self._kf = KalmanFilter(dim_x=8, dim_z=4)
        place = _centred(box_xyxy)
        height = place[3]
        self._kf.x = np.zeros(8)
        self._kf.x[_PLACES] = place
        self._kf.P = np.diag(np.stack([np.full(4, sd), _START_SPEED], axis=1).ravel() ** 2)
        self._kf.P *= height**2
        self._see_place = np.zeros((4, 8))
        self._see_place[range(4), _PLACES] = 1.0
        self._see_speed = np.zeros((4, 8))
        self._see_speed[range(4), _SPEEDS] = 1.0
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
        """One sigma of the centre, pixels."""
        return float(np.sqrt(max(self._kf.P[0, 0], self._kf.P[2, 2])))

    def predict(self, step_s: float) -> None:
        """Go on to the next frame, ``step_s`` seconds later."""
        if len(self._states) == _KEPT:
            self._settle()
        self._kf.predict(F=_transition(step_s), Q=_wander(step_s, self.height))
        self._states.append(self._kf.x.copy())
        self._spreads.append(self._kf.P.copy())
        self._steps_s.append(step_s)

    def see_box(self, box_xyxy: FloatArray, sd: float) -> None:
        """Take in a box found in this frame; ``sd`` is a share of its height."""
        seen = _centred(box_xyxy)
        noise = np.diag((sd * _BOX_NOISE * seen[3]) ** 2)
        self._kf.update(seen, R=noise, H=self._see_place)
        self._amend()

    def see_motion(self, speed: FloatArray, growth: float, sd: float) -> bool:
        """Take in how the player's own pixels moved since the last frame.

        Args:
            speed: ``(2,)`` pixels/s.
            growth: relative growth of size, 1/s.
            sd: one sigma, heights/s.

        Returns:
            False when the motion is too far from what this player can have done; it is not used.
        """
        seen = np.array([*speed, growth * self._kf.x[4], growth * self.height])
        noise = np.diag(((sd + _GROWTH_NOISE) * self.height) ** 2)
        off = seen - self._see_speed @ self._kf.x
        spread = self._see_speed @ self._kf.P @ self._see_speed.T + noise
        if off[:2] @ np.linalg.solve(spread[:2, :2], off[:2]) > _GATE:
            return False
        self._kf.update(seen, R=noise, H=self._see_speed)
        self._amend()
        return True

    def coast_since(self, n_frames: int, keep_speed: bool) -> None:
        """Take back what the last ``n_frames`` frames told.

        In their place he goes on as fast as before them, or stays where he was. His size stays
        in either case.
        """
        if n_frames == 0:
            return
        steps = self._steps_s[-n_frames:]
        for kept in (self._states, self._spreads, self._steps_s):
            del kept[-n_frames:]
        self._kf.x, self._kf.P = self._states[-1].copy(), self._spreads[-1].copy()
        self._kf.x[_SPEEDS[2:] if keep_speed else _SPEEDS] = 0.0
        self._amend()
        for step in steps:
            self.predict(step)

    def smoothed(self) -> FloatArray:
        """``(n, 4)`` boxes of every frame since the first, each told by the frames around it.

        NaN where a size carried on for long has shrunk to nothing.
        """
        boxes = np.concatenate([*self._settled, self._smoothed_tail()])
        boxes[(boxes[:, 2:] <= boxes[:, :2]).any(axis=1)] = np.nan
        return boxes

    def _settle(self) -> None:
        """Smooth what lies far enough back for good, so that memory does not grow with states."""
        self._settled.append(self._smoothed_tail()[:-_TAIL])
        for kept in (self._states, self._spreads, self._steps_s):
            del kept[:-_TAIL]

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

    def _amend(self) -> None:
        self._states[-1] = self._kf.x.copy()
        self._spreads[-1] = self._kf.P.copy()


def _transition(step_s: float) -> FloatArray:
    return np.kron(np.eye(4), np.array([[1.0, step_s], [0.0, 1.0]]))


def _wander(step_s: float, height: float) -> FloatArray:
    """Process noise of integrated white-noise acceleration (Bar-Shalom, Li and Kirubarajan,
    Estimation with Applications to Tracking and Navigation, 2001, section 6.2.2)."""
    one = np.array([[step_s**3 / 3, step_s**2 / 2], [step_s**2 / 2, step_s]])
    return np.kron(np.diag(_WANDER * height**2), one)


def _centred(box: FloatArray) -> FloatArray:
    return np.array(
        [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2, box[2] - box[0], box[3] - box[1]]
    )


def _cornered(place: FloatArray) -> FloatArray:
    x, y, width, height = place
    return np.array([x - width / 2, y - height / 2, x + width / 2, y + height / 2])
