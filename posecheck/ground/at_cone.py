"""Where an attacker stands, from his feet and from the cone he waits at.

His feet are off along the line of sight by as much all through a clip, since he keeps his posture:
no averaging takes that out. The named cone is known on the field, and he waits near it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from posecheck.camera.pinhole import Camera
from posecheck.ground.tracks import GroundTrack
from posecheck.ground.tuning import BEGINNING_S, FEET_LASTING_SD_M, TAIL_SDS
from posecheck.maths.arrays import FloatArray
from posecheck.maths.vectors import unit


def at_cone(track: GroundTrack, camera: Camera, xy_m: FloatArray, sd_m: float) -> GroundTrack:
    """The track shifted along the line of sight, by what its beginning and the cone both say.

    Each is weighed by its variance. The farther the two are apart, the less the cone counts: he may
    wait elsewhere, or be somebody else.

    Args:
        track: of the attacker, on the field's axes.
        camera: of the ground.
        xy_m: ``(2,)`` where somebody waits at the named cone.
        sd_m: standard deviation of that.

    Returns:
        The same track when he is nowhere seen.
    """
    seen = np.isfinite(track.xy_m).all(axis=1)
    if not seen.any():
        return track
    waits = seen & (track.t_s <= track.t_s[seen][0] + BEGINNING_S)
    here = np.median(track.xy_m[waits], axis=0)
    reach_m = np.linalg.norm(here - camera.centre_m[:2])
    sd_by_feet_m = np.hypot(track.sd_m, FEET_LASTING_SD_M * reach_m / camera.centre_m[2])
    own_sd_m = float(np.median(sd_by_feet_m[waits]))
    off = xy_m - here
    misses = np.linalg.norm(off) / np.hypot(own_sd_m, sd_m)
    cone_var = sd_m**2 * (1 + (misses / TAIL_SDS) ** 2)
    share = own_sd_m**2 / (own_sd_m**2 + cone_var)
    out = unit(here - camera.centre_m[:2])
    return replace(
        track,
        xy_m=track.xy_m + share * (off @ out) * out,
        sd_m=sd_by_feet_m * np.sqrt(1 - share),
    )
