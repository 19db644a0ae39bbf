"""The Kalman filter against least squares, a mean, and a published step of an oscillator."""

from __future__ import annotations

import numpy as np

from posecheck.maths.kalman import KalmanFilter, discretised, smoothed


def test_the_smoothed_track_is_the_least_squares_solution_of_all_that_is_known() -> None:
    """Rauch, Tung and Striebel: the smoother minimises the sum of all squared, weighed misses."""
    rng = np.random.default_rng(3)
    n, step, transition = 12, 0.1, np.array([[1.0, 0.1], [0.0, 1.0]])
    noise = np.array([[step**3 / 3, step**2 / 2], [step**2 / 2, step]])
    first, sure = np.array([1.0, -2.0]), np.diag([0.5, 2.0])
    rows, sd = np.array([[1.0, 0.3]]), 0.2
    seen = rng.normal(size=(n, 1))
    kalman = KalmanFilter(first, sure)
    states, spreads = [], []
    for i in range(n):
        if i:
            kalman.predict(transition, noise)
        kalman.update(seen[i], np.array([[sd**2]]), rows)
        states.append(kalman.state)
        spreads.append(kalman.covariance)
    got, spread = smoothed(
        np.array(states), np.array(spreads), np.array([transition] * n), np.array([noise] * n)
    )

    misses, wanted = [], []

    def add(block: np.ndarray, value: np.ndarray, covariance: np.ndarray) -> None:
        whiten = np.linalg.inv(np.linalg.cholesky(covariance))
        misses.append(whiten @ block)
        wanted.append(whiten @ value)

    def at(i: int) -> np.ndarray:
        return np.eye(2 * n)[2 * i : 2 * i + 2]

    add(at(0), first, sure)
    for i in range(n):
        add(rows @ at(i), seen[i], np.array([[sd**2]]))
        if i:
            add(at(i) - transition @ at(i - 1), np.zeros(2), noise)
    jacobian = np.concatenate(misses)
    inverse = np.linalg.inv(jacobian.T @ jacobian)
    best = inverse @ jacobian.T @ np.concatenate(wanted)
    assert np.allclose(got.ravel(), best, atol=1e-9)
    for i in range(n):
        block = slice(2 * i, 2 * i + 2)
        assert np.allclose(spread[i], inverse[block, block], atol=1e-9)


def test_of_a_constant_the_filter_keeps_the_mean() -> None:
    seen = np.random.default_rng(1).normal(5.0, 1.0, 50)
    kalman = KalmanFilter(np.zeros(1), np.eye(1) * 1e12)
    for value in seen:
        kalman.predict(np.eye(1), np.zeros((1, 1)))
        kalman.update(np.array([value]), np.eye(1), np.eye(1))
    assert np.isclose(kalman.state[0], seen.mean())
    assert np.isclose(kalman.covariance[0, 0], 1 / 50)


def test_a_step_of_the_oscillator_is_as_published() -> None:
    """y'' + y = 2 u over 0.1 s: Brown and Hwang, Introduction to Random Signals and Applied Kalman
    Filtering, 3rd ed., 1997, example 5.3 (from memory)."""
    transition, noise = discretised(
        np.array([[0.0, 1.0], [-1.0, 0.0]]), np.array([[0.0, 0.0], [0.0, 2.0]]), 0.1
    )
    assert np.allclose(transition, [[0.99500417, 0.09983342], [-0.09983342, 0.99500417]])
    assert np.allclose(noise, [[0.00133067, 0.01993342], [0.01993342, 0.39866933]], atol=1e-8)
