"""How far off the range that the feet show is, on bodies that were left out of the fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from models.data.stills import Cast
from models.fit.feet import feet_truth, sight
from models.score.summary import TALL_PX, Chosen, by_condition, heights, ranges, views
from posecheck.body.foot_sight import OUTPUTS, FootSight
from posecheck.maths.arrays import FloatArray
from posecheck.maths.shares import SDS_ACROSS_LEVEL

LEAST = 60
SOLE_M = 0.045
"""Height of heel and toe landmarks over the ground while a foot stands, for comparison."""
LIFTED_M = 0.05
"""Both feet are off the ground when the lower one is higher than the cast's lowest by this."""
DIPS_DEG: tuple[tuple[float, float], ...] = ((0, 8), (8, 14), (14, 20), (20, 30), (30, 90))
ALBUMS = {
    "closeout": "reps, feet below the hips",
    "weighed": "reps, feet where the weight demands them",
    "running": "long runs",
    "attacker": "attackers",
    "varied": "poses of motion capture, and such put together at random",
}


def feet_frame(casts: Sequence[Cast], left_out: Mapping[str, FloatArray]) -> pd.DataFrame:
    """One row a picture.

    Args:
        casts: whose pictures they are.
        left_out: by column what was read of each by a net that never saw the body: each output
            followed by ``.value`` or ``.sd``.
    """
    height_m, sd_m = (
        np.stack([left_out[f"{name}.{part}"] for name in OUTPUTS], axis=1)
        for part in ("value", "sd")
    )
    ends = np.cumsum([len(cast) for cast in casts])
    return pd.concat(
        [
            _of_cast(cast, FootSight(height_m[end - len(cast) : end], sd_m[end - len(cast) : end]))
            for cast, end in zip(casts, ends, strict=True)
        ],
        ignore_index=True,
    )


def _of_cast(cast: Cast, read: FootSight) -> pd.DataFrame:
    truth_m, range_m = feet_truth(cast)
    by_feet, plain = np.empty(len(cast)), np.empty(len(cast))
    for i, camera in enumerate(cast.cameras):
        seen = sight(cast, i, FootSight(read.height_m[i : i + 1], read.sd_m[i : i + 1]))
        by_feet[i] = seen.by_feet()[0][0]
        plain[i] = (camera.centre_m[2] - SOLE_M) / seen.dip.max()
    within_sds = np.abs(truth_m - read.height_m) <= SDS_ACROSS_LEVEL / 2 * read.sd_m
    return pd.DataFrame(
        {
            "cast": cast.number,
            "album": cast.album,
            "occluded": cast.occluded,
            "degraded": cast.degraded,
            "view_deg": cast.view.view_deg,
            "height_px": cast.view.height_px,
            "range_m": range_m,
            "dip_deg": np.degrees(np.arctan(cast.cameras[0].centre_m[2] / range_m)),
            "off_m": by_feet - range_m,
            "plain_off_m": plain - range_m,
            "covered": within_sds.mean(axis=1),
            "lifted": cast.foot_lift_m.min(axis=1) > cast.foot_lift_m.min() + LIFTED_M,
        }
    )


def conditions(frame: pd.DataFrame) -> Chosen:
    """What film and movement may be like."""
    good = ~frame.occluded & ~frame.degraded & (frame.height_px >= TALL_PX)
    return {
        "all": frame.cast >= 0,
        f"in the open, well filmed, {TALL_PX} px and more": good,
        "another player in front": frame.occluded,
        "badly filmed": frame.degraded,
        "both feet off the ground": frame.lifted,
        **dict(ranges(frame.dip_deg, DIPS_DEG, "camera looks down ", "°")),
        **dict(views(frame)),
        **dict(heights(frame)),
        **{called: frame.album == album for album, called in ALBUMS.items()},
    }


def errors_by_condition(frame: pd.DataFrame) -> pd.DataFrame:
    """Errors of the range, beside the plain method's, and how often quantiles hold."""
    chosen = conditions(frame)
    offs = {"range": frame.off_m, "plain": frame.plain_off_m}
    found = by_condition(frame, chosen, offs, LEAST)
    share = frame.off_m.abs() / frame.range_m
    found["share"] = [share[chosen[name]].mean() for name in found.index]
    found["covered"] = [frame.covered[chosen[name]].mean() for name in found.index]
    return found
