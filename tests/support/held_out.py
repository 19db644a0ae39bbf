"""Rendered pictures of bodies that no fit has seen, as the pose model read them, and their truth.

No figure of posecheck's own goes into that truth. That these bodies took part in no fit is kept by
their numbers, which are above all that are fitted on.
"""

from dataclasses import fields
from functools import cache

import numpy as np

from models.data.stills import read_casts
from models.files import HELD_OUT
from posecheck.body.view import BodyView


@cache
def casts():
    return read_casts([HELD_OUT])


@cache
def pictures():
    """By name, a row each: number of the cast, ``ground_m`` ``(n, 2)`` where the hips are, and the
    truth: ``knee_flexion_deg`` ``(n, 2)`` and every measure of a stance ``(n,)``."""
    columns = {
        "cast": np.repeat([cast.number for cast in casts()], [len(cast) for cast in casts()]),
        "ground_m": np.concatenate([cast.ground_m for cast in casts()]),
    }
    return columns | {
        name: np.concatenate([cast.truth[name] for cast in casts()]) for name in casts()[0].truth
    }


def landmarks_px():
    """``(n, 33, 2)``."""
    return np.concatenate([cast.xy_px for cast in casts()])


@cache
def cameras():
    return [camera for cast in casts() for camera in cast.cameras]


def camera(i):
    return cameras()[i]


@cache
def view():
    return BodyView(
        *(
            np.concatenate([getattr(cast.view, each.name) for cast in casts()])
            for each in fields(BodyView)
        )
    )
