"""A linear Kalman filter, and the smoother that runs back over what it has filtered.

Kalman, A new approach to linear filtering and prediction problems, Trans. ASME 82, 1960; Rauch,
Tung and Striebel, Maximum likelihood estimates of linear dynamic systems, AIAA Journal 3(8), 1965.
Our own because the library that has them imports a second of statistics into every worker, and
copies what it was given at every step.
"""

from __future__ import annotations

import numpy as np

from posecheck.maths.arrays import FloatArray


class KalmanFilter:
    """Estimates a state step by step.

    Attributes:
        state: ``(k,)`` the estimate.
        covariance: ``(k, k)`` of its error.
    """

    def __init__(self, state: FloatArray, covariance: FloatArray) -> None:
        self.state = state
        self.covariance = covariance
        self._one = np.eye(len(state))

    def predict(self, transition: FloatArray, noise: FloatArray) -> None:
        """One step on.

        Args:
            transition: ``(k, k)`` from the state to the next.
            noise: ``(k, k)`` covariance of what changes besides.
        """
        self.state = transition @ self.state
        self.covariance = transition @ self.covariance @ transition.T + noise

    def update(self, seen: FloatArray, noise: FloatArray, rows: FloatArray) -> None:
        """Take in what was seen of the present state.

        Args:
            seen: ``(m,)`` readings.
            noise: ``(m, m)`` covariance of their errors.
            rows: ``(m, k)`` what the readings are of the state.
        """
        across = self.covariance @ rows.T
        gain = across @ np.linalg.inv(rows @ across + noise)
        self.state = self.state + gain @ (seen - rows @ self.state)
        # Joseph's form: positive definite however the gain was rounded.
        rest = self._one - gain @ rows
        self.covariance = rest @ self.covariance @ rest.T + gain @ noise @ gain.T


def smoothed(
    states: FloatArray, covariances: FloatArray, transitions: FloatArray, noises: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Each state by what was seen before and after it.

    Args:
        states, covariances: ``(n, k)`` and ``(n, k, k)`` as filtered.
        transitions, noises: ``(n, k, k)`` into each step; the first is not used.

    Returns:
        States and covariances, smoothed.
    """
    states, covariances = states.copy(), covariances.copy()
    turned = transitions.transpose(0, 2, 1)
    predicted = transitions[1:] @ covariances[:-1] @ turned[1:] + noises[1:]
    gains = covariances[:-1] @ turned[1:] @ np.linalg.inv(predicted)
    for k in range(len(states) - 2, -1, -1):
        states[k] += gains[k] @ (states[k + 1] - transitions[k + 1] @ states[k])
        covariances[k] += gains[k] @ (covariances[k + 1] - predicted[k]) @ gains[k].T
    return states, covariances


def discretised(
    rate: FloatArray, drive: FloatArray, step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Transition and noise over a step of what changes all the time, ``x' = rate x + drive w``.

    Van Loan, Computing integrals involving the matrix exponential, IEEE Trans. Automatic Control
    23(3), 1978.

    Args:
        rate: ``(k, k)``.
        drive: ``(k, k)`` of white noise ``w`` of unit density.
        step_s: seconds.
    """
    from scipy.linalg import expm

    k = len(rate)
    both = np.block([[-rate, drive @ drive.T], [np.zeros((k, k)), rate.T]])
    grown = expm(both * step_s)
    transition = grown[k:, k:].T
    return transition, transition @ grown[:k, k:]
