"""How sharp and how lit a player is, on drawn edges whose blur is known and on real film."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from places import SAMPLES

from posecheck.filming.look import NO_LOOKS, NOT_LOOKED, Look, Looks, edge_width_px, look_at
from posecheck.filming.tuning import GOOD_BLUR, MAX_BLUR
from posecheck.pose.reader import PlayerReader
from posecheck.scoring.truth import read_truth
from posecheck.video.clip import open_clip

EDGE_OF_GAUSSIAN = np.sqrt(2 * np.pi)
"""Rise over steepest slope of a step blurred with standard deviation 1: the normal density at its
middle is 1 / sqrt(2 pi)."""


def square(low: float = 60.0, high: float = 200.0) -> np.ndarray:
    picture = np.full((240, 240), low)
    cv2.rectangle(picture, (60, 50), (180, 190), high, -1)
    return picture


def smear(length_px: int) -> np.ndarray:
    return np.full((1, length_px), 1 / length_px)


EVERYWHERE = np.ones((240, 240), dtype=bool)


@pytest.mark.parametrize("sigma", [2.0, 3.0, 5.0, 8.0])
@pytest.mark.parametrize("grain", [0.0, 3.0])
def test_edges_out_of_focus_are_as_wide_as_a_blurred_step(sigma: float, grain: float) -> None:
    blurred = cv2.GaussianBlur(square(), (0, 0), sigma)
    blurred += np.random.default_rng(0).normal(0, grain, blurred.shape)
    assert edge_width_px(blurred, EVERYWHERE) == pytest.approx(EDGE_OF_GAUSSIAN * sigma, rel=0.06)


@pytest.mark.parametrize("length", [9, 15, 25])
def test_smeared_edges_are_as_wide_as_the_smear(length: int) -> None:
    """Only the edges across the smear are widened, and they count."""
    smeared = cv2.filter2D(square(), -1, smear(length))
    assert edge_width_px(smeared, EVERYWHERE) == pytest.approx(length, rel=0.06)
    assert edge_width_px(smeared.T, EVERYWHERE) == pytest.approx(length, rel=0.06)


def test_a_sharp_edge_has_no_width_and_no_edge_has_none() -> None:
    assert edge_width_px(square(), EVERYWHERE) < 1
    assert np.isnan(edge_width_px(np.full((240, 240), 90.0), EVERYWHERE))


@given(st.floats(0, 100), st.floats(1, 100), st.booleans(), st.sampled_from([1.0, 2.0, 4.0]))
def test_width_does_not_depend_on_contrast(
    low: float, step: float, dark: bool, sigma: float
) -> None:
    known = edge_width_px(cv2.GaussianBlur(square(), (0, 0), sigma), EVERYWHERE)
    picture = square(low, low + step) if dark else square(low + step, low)
    width = edge_width_px(cv2.GaussianBlur(picture, (0, 0), sigma), EVERYWHERE)
    assert width == pytest.approx(known, rel=1e-6)


STANDING = np.column_stack([np.full(33, 120.0), np.linspace(40, 200, 33)])


def test_light_is_the_player_s_own() -> None:
    picture = np.full((240, 240, 3), 250, np.uint8)
    picture[30:215, 95:150] = 51
    look = look_at(picture, STANDING)
    assert look.light == pytest.approx(0.2)
    assert look.burnt == 0
    assert look_at(np.full((240, 240, 3), 255, np.uint8), STANDING).burnt == 1


def test_who_is_not_seen_or_not_in_the_picture_is_not_looked_at() -> None:
    picture = np.zeros((240, 240, 3), np.uint8)
    hidden = STANDING.copy()
    hidden[3] = np.nan
    assert look_at(picture, hidden) is NOT_LOOKED
    assert look_at(picture, STANDING + np.array([500, 0])) is NOT_LOOKED


def test_the_middle_of_what_is_known_counts() -> None:
    looks = Looks(
        np.array([0.0, 0.1, 0.2, 0.3]),
        (Look(0.9, 0.5, 0), Look(0.01, 0.2, 0), NOT_LOOKED, Look(0.03, 0.4, 0.2)),
    )
    assert looks.between(0.1, 0.3) == Look(pytest.approx(0.02), pytest.approx(0.3), 0.1)
    assert np.isnan(looks.between(0.15, 0.25).blur)
    assert np.isnan(NO_LOOKS.between(0, 9).light)
    with pytest.raises(ValueError, match=r"t_s: want \(1,\), got \(2,\)"):
        Looks(np.zeros(2), (NOT_LOOKED,))


@pytest.mark.film
@pytest.mark.parametrize("name", ["rep-03", "rep-07"])
def test_real_film_is_sharp_and_as_blurred_as_it_is_made(name: str, pose_model: Path) -> None:
    """The picture at arrival, as filmed and blurred by kernels of known width."""
    clip = open_clip(SAMPLES / "clips" / f"{name}.mp4")
    truth = read_truth(SAMPLES, name)
    at = int(np.argmin(np.abs(clip.t_s - truth.facts["arrival_s"])))
    rgb = next(clip.frames(which=np.arange(clip.n_frames) == at)).rgb
    x, y = truth.hip_px[at]
    tall = truth.height_px[at]
    with PlayerReader(pose_model) as reader:
        pose = reader.read(rgb, (x - tall / 2, y - 0.6 * tall, x + tall / 2, y + 0.6 * tall))
    assert pose is not None
    tall = float(np.ptp(pose.xy_px[:, 1]))
    sharp = look_at(rgb, pose.xy_px)
    assert sharp.blur < GOOD_BLUR
    assert 0.05 < sharp.light < 0.6 and sharp.burnt < 0.02
    for width in (0.04, 0.08):
        blurred = cv2.GaussianBlur(rgb, (0, 0), width * tall / EDGE_OF_GAUSSIAN)
        look = look_at(blurred, pose.xy_px)
        assert look.blur == pytest.approx(np.hypot(width, sharp.blur), rel=0.15)
        assert (look.blur > MAX_BLUR) == (width == 0.08)
