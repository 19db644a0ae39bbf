"""The net that reads the stance: features, truth, and the hips' height as a clip shows it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from models.data.stills import Cast
from models.fit.folds import Kind, mirrored
from models.recipe import Fit, Hips
from posecheck.body.hip_height import HipHeight, hip_height
from posecheck.body.net import BodyNet
from posecheck.body.stance_net import OUTPUTS
from posecheck.body.tuning import HIP_LANDMARK_SD
from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray

MEASURES = OUTPUTS[2:]
"""What is read of a stance, without the single knees."""


def stance_kind(fit: Fit) -> Kind:
    """What a stance is read from, and how the net is fitted."""
    hips = fit.stance.hips
    if hips is None:
        raise ValueError("recipe.toml: [fit.stance.hips] is missing")
    return Kind("stance", OUTPUTS, BodyView.features, fit.stance, partial(_rows, hips=hips))


def stance_truth(cast: Cast) -> FloatArray:
    """``(n, 8)`` the outputs as they were; the knee bend is the straighter leg's."""
    knees = cast.truth["knee_flexion_deg"]
    return np.column_stack([knees, knees.min(axis=1), *(cast.truth[key] for key in MEASURES[1:])])


def _rows(cast: Cast, hips: Hips) -> tuple[FloatArray, FloatArray]:
    """Features and truth of a body and its mirror image, as every pose model read it."""
    rng = np.random.default_rng(cast.number)
    features, truths = [], []
    for read in (cast, cast.heavy):
        if read is None:
            continue
        lower, truth = hips_lower(read), stance_truth(read)
        truths += [truth, mirrored(truth, OUTPUTS)]
        features += [
            with_hips(view, lower, _drawn_sd(len(read), hips, rng), hips, rng).features()
            for view in (read.view, read.view.mirrored)
        ]
    return np.concatenate(features), np.concatenate(truths)


def hips_lower(cast: Cast) -> FloatArray:
    """``(n,)`` how much lower the hips are carried than standing, by landmarks and true places."""
    n = len(cast)
    heights = [
        hip_height(camera, cast.xy_px[i][None], cast.ground_m[i][None], np.zeros(1)).height_m
        for i, camera in enumerate(cast.cameras)
    ]
    drop = cast.truth["hip_drop"]
    return HipHeight(np.concatenate(heights), np.zeros(n)).drop(drop, np.ones(n))[0]


def with_hips(
    view: BodyView, lower: FloatArray, sd: FloatArray, hips: Hips, rng: np.random.Generator
) -> BodyView:
    """The same players, their places known as well as in a clip, which shows their hips' drop.

    Args:
        view: ``n`` pictures.
        lower: ``(n,)`` as true places give it.
        sd: ``(n,)`` how well places give it; infinite where nothing is known.
        hips: the law of the errors.
        rng: draws them.
    """
    known = np.isfinite(sd)
    seen = np.zeros_like(lower)
    seen[known] = lower[known] + sd[known] * rng.standard_t(hips.freedom, known.sum())
    return replace(view, lower=seen, lower_sd=np.hypot(sd, HIP_LANDMARK_SD))


def _drawn_sd(n: int, hips: Hips, rng: np.random.Generator) -> FloatArray:
    low, high = np.log(hips.sd)
    sd = np.exp(rng.uniform(low, high, n))
    return np.where(rng.uniform(size=n) < hips.unknown_share, np.inf, sd)


def as_in_a_clip(cast: Cast, hips: Hips) -> BodyView:
    """A cast's pictures with places known as well as they are in most clips."""
    sd = np.full(len(cast), hips.usual_sd)
    return with_hips(cast.view, hips_lower(cast), sd, hips, np.random.default_rng(cast.number))


def readings_of(net: BodyNet, view: BodyView) -> FloatArray:
    """What a net reads of a body: values and distances below and above, ``(3, n, n_outputs)``."""
    read = net.read(view).values()
    return np.array(
        [
            np.stack([getattr(each, name) for each in read], axis=1)
            for name in ("value", "below", "above")
        ]
    )
