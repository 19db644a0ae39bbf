"""Rendered pictures of bodies that no fit has seen, as the pose model read them, and their truth.

No figure of posecheck's own goes into that truth. That these bodies took part in no fit is kept by
their numbers, which are above all that are fitted on.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from posecheck.body.view import BodyView, along_sight
from posecheck.camera.pinhole import Camera

SLICE = Path(__file__).parents[2] / "models" / "stills_held_out.parquet"


@cache
def pictures():
    table = pq.read_table(SLICE)
    return {name: np.array(table[name].to_pylist(), dtype=float) for name in table.column_names}


def camera(i):
    rows = pictures()
    return Camera(
        rows["camera_matrix"][i].reshape(3, 3),
        rows["camera_rotation"][i].reshape(3, 3),
        rows["camera_centre_m"][i],
    )


def landmarks_px():
    """``(n, 33, 2)``."""
    return pictures()["xy_px"].reshape(-1, 33, 2)


@cache
def view():
    xy_px, world_m = landmarks_px(), pictures()["world_m"].reshape(-1, 33, 3)
    n = len(xy_px)
    seen = [along_sight(camera(i), xy_px[i], world_m[i]) for i in range(n)]
    return BodyView(
        *(np.array(part) for part in zip(*seen, strict=True)),
        score=pictures()["score"],
        height_px=np.ptp(xy_px[..., 1], axis=1),
        lower=np.zeros(n),
        lower_sd=np.full(n, np.inf),
    )
