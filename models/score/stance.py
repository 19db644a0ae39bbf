"""How far off the stance is read in single pictures of bodies that were left out of the fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from models.data.stills import Cast
from models.fit.stance import MEASURES, readings_of, stance_truth
from models.score.summary import (
    TALL_PX,
    Chosen,
    by_condition,
    error,
    heights,
    ranges,
    views,
    within,
)
from posecheck.body import stance as formulas
from posecheck.body.net import BodyNet
from posecheck.body.stance_net import OUTPUTS
from posecheck.body.view import BodyView
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

LEAST = 60
"""Pictures, below which a condition is left out."""
CLOSEOUT = "closeout"
BENDS_DEG: tuple[tuple[float, float], ...] = ((0, 20), (20, 35), (35, 50), (50, 65), (65, np.inf))
GROUPS: Mapping[str, tuple[str, tuple[tuple[str, float, float], ...]]] = {
    "age": (
        "age_years",
        (
            ("under 13", 0, 13),
            ("13 to 16", 13, 16),
            ("16 to 20", 16, 20),
            ("20 and over", 20, np.inf),
        ),
    ),
    "skin tone": (
        "skin",
        (("dark skin", 0, 0.35), ("medium skin", 0.35, 0.52), ("light skin", 0.52, np.inf)),
    ),
    "build": (
        "weight",
        (("slight", 0, 0.42), ("medium build", 0.42, 0.62), ("heavy", 0.62, np.inf)),
    ),
}
"""By what bodies differ in: the column it stands in, and groups from one value to below another."""

METHODS = {
    "model": "(a) the pose model's body",
    "picture": "(b) angles in the picture",
    "joined": "(c) picture across, model's depth",
    "alone": "(d) learned, a picture by itself",
    "read": "(e) learned, beside the player's own standing height, as used",
}


def stance_frame(casts: Sequence[Cast], left_out: Mapping[str, FloatArray]) -> pd.DataFrame:
    """One row a picture.

    Args:
        casts: whose pictures they are.
        left_out: by column what was read of each picture by a net that never saw the body: each
            output followed by ``.value``, ``.below``, ``.above`` or ``.alone``.
    """
    frame = _of_casts(casts)
    for name in OUTPUTS:
        frame[f"{name}.read"] = left_out[f"{name}.value"]
        for part in ("below", "above", "alone"):
            frame[f"{name}.{part}"] = left_out[f"{name}.{part}"]
    return frame


def captured_frame(casts: Sequence[Cast], net: BodyNet) -> pd.DataFrame:
    """The same of bodies in no fit, each picture read by itself by a net."""
    frame = _of_casts(casts)
    read = np.concatenate([readings_of(net, cast.view) for cast in casts], axis=1)
    for part, rows in zip(("read", "below", "above"), read, strict=True):
        for i, name in enumerate(OUTPUTS):
            frame[f"{name}.{part}"] = rows[:, i]
    return frame


def _of_casts(casts: Sequence[Cast]) -> pd.DataFrame:
    frame = pd.concat([_of_cast(cast) for cast in casts], ignore_index=True)
    frame["good"] = (frame.height_px >= TALL_PX) & ~frame.occluded & ~frame.degraded
    return frame


def _of_cast(cast: Cast) -> pd.DataFrame:
    view = cast.view
    columns = {
        "cast": cast.number,
        "album": cast.album,
        "movement": cast.movement,
        "occluded": cast.occluded,
        "degraded": cast.degraded,
        "view_deg": view.view_deg,
        "height_px": view.height_px,
        "sex": cast.sex,
        "age_years": cast.age_years,
        "skin": cast.skin,
        "weight": cast.weight,
    }
    truth = stance_truth(cast)
    columns |= {f"{name}.truth": truth[:, i] for i, name in enumerate(OUTPUTS)}
    bodies = {"model": view.body_m, "picture": _in_picture(view), "joined": _joined(view)}
    for method, body_m in bodies.items():
        columns[f"knee_bend_deg.{method}"], columns[f"trunk_lean_deg.{method}"] = by_formulas(
            body_m
        )
    for side, knee in zip(("left", "right"), knees(view.body_m).T, strict=True):
        columns[f"{side}_knee_deg.model"] = knee
    return pd.DataFrame(columns)


def off(frame: pd.DataFrame, name: str, method: str = "read") -> pd.Series:
    """Error of one output by one method, positive when too much is read."""
    return frame[f"{name}.{method}"] - frame[f"{name}.truth"]


def inside(frame: pd.DataFrame, name: str) -> pd.Series:
    """Whether the truth lies between the quantiles that the net leaves around its reading."""
    below, above = frame[f"{name}.below"], frame[f"{name}.above"]
    error_of = off(frame, name)
    return (error_of <= below) & (-error_of <= above)


# -- tables --------------------------------------------------------------------------------------


def by_method(frame: pd.DataFrame) -> pd.DataFrame:
    """Knee bend and trunk lean by every method, over all pictures and over good film."""
    rows = {}
    for method, called in METHODS.items():
        row: dict[str, float] = {}
        for key in ("knee_bend_deg", "trunk_lean_deg"):
            errors = off(frame, key, method)
            row |= error(errors, f"{key}_all") | error(errors[frame.good], f"{key}_good")
        rows[called] = row
    return pd.DataFrame.from_dict(rows, orient="index")


def beside_published(frame: pd.DataFrame) -> pd.DataFrame:
    """Each knee by itself on good film, from the side and from further off it."""
    off_side = (frame.view_deg - 90).abs()
    rows = {}
    for name, low, high in (("within 15° of the side", 0, 15), ("45° to 90° off the side", 45, 91)):
        chosen = frame[frame.good & within(off_side, low, high)]
        row: dict[str, float] = {"n": len(chosen)}
        for method in ("model", "read"):
            both = np.concatenate([off(chosen, f"{side}_knee_deg", method) for side in _SIDES])
            row |= error(both, method) | {f"{method}_sd": float(pd.Series(both).std(ddof=0))}
        rows[name] = row
    return pd.DataFrame.from_dict(rows, orient="index")


_SIDES = ("left", "right")


def conditions(frame: pd.DataFrame) -> Chosen:
    """What film and bodies may be like."""
    return {
        "all": frame.cast >= 0,
        "good film": frame.good,
        "another player in front": frame.occluded,
        "badly filmed": frame.degraded,
        **dict(views(frame)),
        **dict(heights(frame)),
        **dict(ranges(frame["knee_bend_deg.truth"], BENDS_DEG, "knee bend ", "°")),
        **groups(frame)["sex"],
        **{name: chosen for each in GROUPS for name, chosen in groups(frame)[each].items()},
    }


def groups(frame: pd.DataFrame) -> dict[str, Chosen]:
    """Groups of bodies, by what they differ in."""
    found: dict[str, Chosen] = {"sex": {sex: frame.sex == sex for sex in ("male", "female")}}
    for called, (column, limits) in GROUPS.items():
        found[called] = {name: within(frame[column], low, high) for name, low, high in limits}
    return found


def errors_by_condition(frame: pd.DataFrame) -> pd.DataFrame:
    """Errors of every measure; and of the knee bend how wide the quantiles are, and how often the
    truth lies between them."""
    chosen = conditions(frame)
    found = by_condition(frame, chosen, {key: off(frame, key) for key in MEASURES}, LEAST)
    knee = "knee_bend_deg"
    half = (frame[f"{knee}.below"] + frame[f"{knee}.above"]) / 2
    held = inside(frame, knee)
    found["half"] = [half[chosen[name]].mean() for name in found.index]
    found["covered"] = [held[chosen[name]].mean() for name in found.index]
    return found


def between_groups(frame: pd.DataFrame) -> dict[str, float]:
    """By what bodies differ in: the greatest difference in knee error between two groups.

    Over pictures of players in the open and well filmed, of which some groups have more.
    """
    size, clean = off(frame, "knee_bend_deg").abs(), ~frame.occluded & ~frame.degraded
    found = {}
    for called, chosen in groups(frame).items():
        means = [
            float(size[clean & each].mean())
            for each in chosen.values()
            if (clean & each).sum() >= LEAST
        ]
        if means:
            found[called] = max(means) - min(means)
    return found


def by_movement(frame: pd.DataFrame) -> pd.DataFrame:
    """Captured movement: knee bend and trunk lean by the pose model's body and as learned."""
    chosen: Chosen = {name: frame.movement == name for name in frame.movement.unique()}
    chosen = {
        **chosen,
        "all": frame.cast >= 0,
        f"all, {TALL_PX} px and more": frame.height_px >= TALL_PX,
    }
    keys = ("knee_bend_deg", "trunk_lean_deg")
    offs = {f"{key}_{m}": off(frame, key, m) for key in keys for m in ("model", "read")}
    found = by_condition(frame, chosen, offs)
    for key in keys:
        held = inside(frame, key)
        found[f"{key}_covered"] = [held[chosen[name]].mean() for name in found.index]
    return found


# -- the plain methods, for comparison -----------------------------------------------------------


def knees(body_m: FloatArray) -> FloatArray:
    """Flexion of left and right knee ``(n, 2)`` of bodies ``(n, 33, 3)``, degrees."""
    at = {name: body_m[:, SKELETON.index(name)] for name in SKELETON.names}
    both = [
        formulas.knee_flexion(*(at[f"{side}_{part}"] for part in ("hip", "knee", "ankle")))
        for side in _SIDES
    ]
    return np.asarray(np.degrees(np.stack(both, axis=1)))


def by_formulas(body_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Straighter leg's flexion and trunk lean of bodies ``(n, 33, 3)``, degrees."""
    at = {name: body_m[:, SKELETON.index(name)] for name in SKELETON.names}
    hips, shoulders = (
        (at[f"left_{part}"] + at[f"right_{part}"]) / 2 for part in ("hip", "shoulder")
    )
    lean = formulas.trunk_lean(hips, shoulders, np.broadcast_to([0.0, 0.0, 1.0], hips.shape))
    return formulas.straighter_leg(*knees(body_m).T), np.asarray(np.degrees(lean))


def _in_picture(view: BodyView) -> FloatArray:
    """The landmarks as a flat body that stands across the view."""
    flat = np.zeros_like(view.body_m)
    flat[..., 0], flat[..., 2] = view.sight_xy[..., 0], -view.sight_xy[..., 1]
    return flat


def _joined(view: BodyView) -> FloatArray:
    """Across the view as in the picture, along it as the model's body, sized to fit that."""
    c, s = np.cos(view.elevation)[:, None], np.sin(view.elevation)[:, None]
    x, y, z = np.moveaxis(view.body_m, -1, 0)
    along, up = y * c - z * s, y * s + z * c
    across = np.stack([x, -up], axis=-1)
    body, sight = across[:, 11:], view.sight_xy[:, 11:]
    distance = np.sqrt(
        (body - sight * along[:, 11:, None]).var(axis=1).sum(axis=1) / sight.var(axis=1).sum(axis=1)
    )
    wide = view.sight_xy * (distance[:, None] + along)[..., None]
    up = -wide[..., 1]
    return np.stack([wide[..., 0], along * c + up * s, up * c - along * s], axis=-1)
