"""Fit nets and intervals from the rows in the tree, and write them into posecheck."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from models.data.left_out import write_left_out
from models.data.read_clips import read_outcomes, read_windows
from models.data.stills import Cast, read_casts
from models.files import (
    BASE_NET,
    FEET_NET,
    INTERVALS,
    STANCE_NET,
    check_rows,
    digest,
    nets_digest,
    stills_rows,
)
from models.fit.feet import feet_kind
from models.fit.folds import Kind, Part, fit_folds
from models.fit.ground_intervals import fit_spreads
from models.fit.intervals_file import with_ground, with_stance
from models.fit.net_file import made_from, write_net
from models.fit.stance import as_in_a_clip, readings_of, stance_kind
from models.fit.stance_intervals import stance_factors
from models.recipe import Hips, NetRecipe, Recipe
from posecheck.body.foot_sight import read_feet
from posecheck.body.net import BodyNet
from posecheck.maths.arrays import FloatArray
from posecheck.measures.intervals import default_intervals

READINGS = ("value", "below", "above")


def fit_stance(recipe: Recipe, workers: int, part: Part = Part.ALL) -> str:
    """Fit the stance net, write it, and give its digest."""
    kind, hips = stance_kind(recipe.fit), recipe.fit.stance.hips
    assert hips is not None
    columns = [
        *(f"{name}.{reading}" for reading in READINGS for name in kind.outputs),
        *(f"{name}.alone" for name in kind.outputs),
    ]

    def read(cast: Cast, net: BodyNet) -> FloatArray:
        return stance_read(cast, net, hips)

    return _fit(kind, recipe, recipe.fit.stance, workers, STANCE_NET, columns, read, part)


def fit_base(recipe: Recipe, workers: int) -> str:
    """Fit the net that reads the base, write it, and give its digest.

    Errors of bodies left out are not kept: nothing but the base is read by it.
    """
    own = replace(recipe.fit, stance=recipe.fit.base)
    kind = stance_kind(own)
    rows = stills_rows()
    check_rows(recipe.rows)
    casts = casts_of(recipe.fit.base, rows)
    whole, _ = fit_folds(casts, kind, own, workers, Part.NET)
    assert whole is not None
    write_net(BASE_NET, made_from(whole, casts, rows, recipe))
    return digest(BASE_NET)


def stance_read(cast: Cast, net: BodyNet, hips: Hips) -> FloatArray:
    """``(n, 4 * n_outputs)`` as in most clips, then values of each picture by itself."""
    in_clip, alone = (readings_of(net, view) for view in (as_in_a_clip(cast, hips), cast.view))
    return np.concatenate([*in_clip, alone[0]], axis=1)


def fit_feet(recipe: Recipe, workers: int, part: Part = Part.ALL) -> str:
    """Fit the feet net, write it, and give its digest."""
    kind = feet_kind(recipe.fit)
    columns = [f"{name}.{what}" for what in ("value", "sd") for name in kind.outputs]
    return _fit(kind, recipe, recipe.fit.feet, workers, FEET_NET, columns, feet_read, part)


def feet_read(cast: Cast, net: BodyNet) -> FloatArray:
    """``(n, 2 * 2)`` heights of the two feet, then their standard deviations."""
    feet = read_feet(cast.view, net)
    return np.concatenate([feet.height_m, feet.sd_m], axis=1)


def casts_of(net: NetRecipe, rows: list[Path]) -> list[Cast]:
    """The casts that a net is fitted on."""
    return [each for each in read_casts(rows, net.movements) if net.wide or each.camera != "wide"]


def _fit(
    kind: Kind,
    recipe: Recipe,
    net: NetRecipe,
    workers: int,
    path: Path,
    columns: list[str],
    read: Callable[[Cast, BodyNet], FloatArray],
    part: Part,
) -> str:
    start = time.monotonic()
    check_rows(recipe.rows)
    rows = stills_rows()
    casts = casts_of(net, rows)
    pictures = sum(len(cast) for cast in casts)
    print(f"{kind.name}: {pictures} pictures of {len(casts)} bodies", flush=True)
    whole, others = fit_folds(casts, kind, recipe.fit, workers, part)
    if whole is not None:
        write_net(path, made_from(whole, casts, rows, recipe))
    if others:
        write_left_out(
            kind.name, {cast.number: read(cast, other) for cast, other in others}, columns, path
        )
    print(f"{kind.name}: done in {(time.monotonic() - start) / 60:.1f} min", flush=True)
    return digest(path)


def fit_intervals(recipe: Recipe, *, ground: bool = True) -> str:
    """Fit the intervals from the rows, write ``intervals.toml``, and give its digest.

    Without ``ground`` those of the stance alone.

    Raises:
        StaleRows: the rows were read with other nets than those in the tree.
    """
    key, cover = nets_digest(), recipe.intervals.cover
    factors = stance_factors(read_windows(key), cover)
    text = with_stance(INTERVALS.read_text("utf-8"), factors)
    if ground:
        spreads = fit_spreads(read_outcomes(key), recipe.intervals.ground, cover)
        text = with_ground(text, spreads)
    INTERVALS.write_text(text, "utf-8")
    default_intervals.cache_clear()
    return f"{INTERVALS.name} {digest(INTERVALS)}"
