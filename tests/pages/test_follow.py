"""The window that follows two players: they are in it, and it moves like a calm hand."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.pages.follow import Window, follow
from posecheck.pages.tuning import CLIP_MAX_WIDTH_PX, CUT_ASPECTS

T_S = np.arange(0, 4, 1 / 30)
SIZE_PX = (1920, 1080)


def player(x: np.ndarray | float, foot_y: float = 700.0, tall: float = 200.0) -> np.ndarray:
    """Head and feet of a player through the clip, ``(n, 2, 2)``, with a stride of 0.7 s."""
    x = np.broadcast_to(x, T_S.shape)
    stride = 0.25 * tall * np.abs(np.sin(np.pi * T_S / 0.7))
    head = np.stack([x, foot_y - tall + 0.05 * stride], axis=1)
    return np.stack([head, np.stack([x + stride, np.full(len(T_S), foot_y)], axis=1)], axis=1)


def closeout() -> list[np.ndarray]:
    """The defender runs 1000 px to where the attacker stands."""
    return [player(np.interp(T_S, [0.5, 3.0], [400.0, 1400.0])), player(1500.0)]


def test_both_players_are_in_the_picture_all_through() -> None:
    players = closeout()
    for i, window in enumerate(follow(T_S, players, SIZE_PX)):
        for each in players:
            shown = window.points(each[i])
            assert (shown > 0).all() and (shown < window.size_px).all()
            # Their heads are clear of the caption, their feet of a player's controls.
            assert (shown[:, 1] > 0.12 * window.size_px[1]).all()
            assert (shown[:, 1] < 0.85 * window.size_px[1]).all()


def test_it_neither_trembles_nor_breathes() -> None:
    windows = follow(T_S, closeout(), SIZE_PX)
    wide = np.array([window.wide for window in windows])
    corner = np.array([(window.left, window.top) for window in windows])
    # From frame to frame by at most two hundredths of its width, and by a thousandth more or less
    # than from the frame before: no step of it is seen.
    assert (np.abs(np.diff(wide)) / wide[1:]).max() < 0.02
    assert (np.abs(np.diff(corner, axis=0)) / wide[1:, None]).max() < 0.02
    assert (np.abs(np.diff(corner, n=2, axis=0)) / wide[2:, None]).max() < 0.002
    # He comes nearer, and so the window only closes in.
    assert (np.diff(wide) < 0.1).all() and wide[-1] < 0.6 * wide[0]


def test_a_landmark_that_jumps_for_two_frames_does_not_move_it() -> None:
    players = closeout()
    calm = follow(T_S, players, SIZE_PX)
    players[0][60:62, 1, 1] += 200.0
    jumped = follow(T_S, players, SIZE_PX)
    off = np.array([(a.left - b.left, a.top - b.top) for a, b in zip(calm, jumped, strict=True)])
    assert np.abs(off).max() < 0.02 * SIZE_PX[0]


def test_one_who_is_not_seen_for_a_while_is_still_thought_of() -> None:
    players = closeout()
    calm = follow(T_S, players, SIZE_PX)
    players[1][30:60] = np.nan
    hidden = follow(T_S, players, SIZE_PX)
    assert [w.wide for w in hidden] == pytest.approx([w.wide for w in calm], rel=0.05)


@pytest.mark.parametrize("size_px", [(1920, 1080), (1080, 1920), (640, 360)])
def test_it_stays_in_the_picture_and_keeps_one_even_size(size_px: tuple[int, int]) -> None:
    share = np.array(size_px) / (1920, 1080)
    windows = follow(T_S, [each * share for each in closeout()], size_px)
    (shown,) = {window.size_px for window in windows}
    assert shown[0] % 2 == shown[1] % 2 == 0 and shown[0] <= CLIP_MAX_WIDTH_PX
    assert shown[0] / shown[1] <= CUT_ASPECTS[1] + 0.01
    for window in windows:
        tall = window.wide * shown[1] / shown[0]
        assert window.left >= 0 and window.top >= 0
        assert window.left + window.wide <= size_px[0] + 1e-6
        assert window.top + tall <= size_px[1] + 1


def test_nobody_seen_shows_the_whole_picture() -> None:
    nobody = np.full((len(T_S), 33, 2), np.nan)
    away = np.full((len(T_S), 33, 2), -5000.0)
    for windows in (follow(T_S, [nobody, away], SIZE_PX), follow(T_S, [], SIZE_PX)):
        assert {(w.left, w.top, w.wide) for w in windows} == {(0.0, 0.0, 1920.0)}


def test_steady_is_one_width_and_a_size_can_be_asked_for() -> None:
    windows = follow(T_S, closeout(), SIZE_PX, (800, 450), steady=True)
    assert len({window.wide for window in windows}) == 1
    assert {window.size_px for window in windows} == {(800, 450)}


def test_a_window_takes_points_where_it_takes_pixels() -> None:
    picture = np.zeros((360, 640, 3), np.uint8)
    picture[200, 300] = 255
    window = Window(250.3, 160.6, 100.0, (400, 300))
    shown = window.picture(picture)[..., 0].astype(float)
    rows, columns = np.mgrid[: shown.shape[0], : shown.shape[1]]
    centre = np.array([(columns * shown).sum(), (rows * shown).sum()]) / shown.sum()
    assert window.points(np.array([300.0, 200.0])) == pytest.approx(centre, abs=0.1)
