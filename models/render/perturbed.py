"""Poses put together limb by limb at random: each leg, the trunk, the head and each arm by itself.

Nobody was captured in them and no movement leads to them; they stand on the ground, more or less
over their feet. Knees are bent by exactly what is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from models.render.body import BodySpec, Floats
from models.render.limbs import (
    Arms,
    bent_toward,
    hands_along,
    leg_length,
    leg_turns,
    unit,
    yaw_turn,
)
from models.render.motion import SOLE_M, PlayerMotion, film, rig_of
from models.render.rig import SIDES, Followed, Rig

Ints = NDArray[np.int64]

STANDS = ("standing", "walking", "squat", "lunge", "one leg", "any")
SHARES = (0.16, 0.16, 0.13, 0.17, 0.19, 0.19)
"""How often each way to stand is drawn; a third stands or walks with nearly straight knees."""
ARM_WAYS = ("hang", "aside", "up", "front", "hips", "folded", "run", "any")
ARM_SHARES = (0.27, 0.14, 0.1, 0.12, 0.09, 0.07, 0.09, 0.12)
_ANKLE_BENDS_DEG = 32.0  # Source: guess; beyond it the heel comes off the ground
_STEEPEST_DEG = 52.0  # a leg further out than this is lifted instead
_FURTHEST_AHEAD_DEG, _FURTHEST_BACK_DEG = 80.0, -40.0  # of a lifted leg. Source: guesses
_CLEAR = 0.15  # a lifted ankle is at least this high, leg lengths
_OVER_FEET = 0.27
"""How far ahead of the hips the weight of a level trunk lies, leg lengths. Source: head, arms and
trunk are 0.68 of the mass (Winter, from memory), their middle 0.4 leg lengths above the hips."""
_MOVING_SHARE = 0.5


@dataclass(frozen=True)
class _Drawn:
    """n poses; angles in rad, places in leg lengths; [0] is left and [1] right in pairs."""

    flexion: Floats  # (n, 2)
    wish: Floats  # (n, 2, 2) ankle from under its hip, right and forward
    further: Floats  # (n, 2, 2) where to an ankle goes whose leg is too long for that
    lifted: Floats  # (n, 2) bool
    line: Floats  # (n, 2, 2) of a lifted leg: forward and out
    toe_out: Floats  # (n, 2)
    heel: Floats  # (n, 2) raised by at least this
    droop: Floats  # (n, 2) of a lifted foot
    lean: Floats  # (n,)
    sway: Floats  # (n,)
    twist: Floats  # (n,)
    tilt: Floats  # (n,) of the hips sideways
    pelvis_share: Floats  # (n,) of the lean
    look: Floats  # (n, 2) left, down
    upper: Floats  # (n, 2, 3) the chest's axes
    hint: Floats  # (n, 2, 3) toward which the elbow bends
    elbow: Floats  # (n, 2)
    pronation: Floats  # (n, 2)
    hang: Floats  # (n, 2) 0 to 1: how far the upper arm hangs rather than goes with the chest


def plan_perturbed(
    spec: BodySpec, n: int, rng: np.random.Generator, on_stick: bool
) -> PlayerMotion:
    """So many poses, three film frames for each, the middle one meant; half of them move."""
    drawn = _drawn(rng, n)
    rates = _rates(rng, n)
    rig = rig_of(spec)
    each = [_moved(drawn, rates, step / 30) for step in (-1, 0, 1)]
    threes = _Drawn(
        **{
            name: np.stack([getattr(one, name) for one in each], axis=1).reshape(
                3 * n, *getattr(drawn, name).shape[1:]
            )
            for name in _Drawn.__dataclass_fields__
        }
    )
    stick = None
    if on_stick:
        shaft = unit(rng.normal((0.4, 0.6, 0.4), 0.3, (n, 3)))
        held = rng.uniform(0.12, 0.75, n), rng.uniform(0.1, 1.0, n), shaft
        stick = tuple(np.repeat(part, 3, axis=0) for part in held)
    return _posed(rig, threes, stick)


def _between(rng: np.random.Generator, n: int, low: float, high: float) -> Floats:
    return np.radians(rng.uniform(low, high, n))


def _drawn(rng: np.random.Generator, n: int) -> _Drawn:
    stand = rng.choice(len(STANDS), n, p=SHARES)
    is_ = {name: stand == k for k, name in enumerate(STANDS)}
    first = rng.integers(0, 2, n)  # the leg in front, or the one stood on
    rows = np.arange(n)

    def legs(of_first: Floats, of_other: Floats) -> Floats:
        out = np.empty((n, 2, *of_first.shape[1:]))
        out[rows, first], out[rows, 1 - first] = of_first, of_other
        return out

    def choose(values: dict[str, Floats]) -> Floats:
        return np.select([is_[name] for name in STANDS], [values[name] for name in STANDS])

    # Half of the standing knees are straight to 5 degrees.
    straight = np.where(rng.uniform(size=n) < 0.5, _between(rng, n, 0, 5), _between(rng, n, 0, 12))
    crouch = _between(rng, n, 35, 120)
    flexion = legs(
        choose({
            "standing": straight, "walking": _between(rng, n, 0, 22), "squat": crouch,
            "lunge": _between(rng, n, 35, 110), "one leg": _between(rng, n, 0, 35),
            "any": _between(rng, n, 0, 110),
        }),
        choose({
            "standing": np.where(rng.uniform(size=n) < 0.6, straight, _between(rng, n, 0, 45)),
            "walking": _between(rng, n, 0, 55),
            "squat": np.clip(crouch + _between(rng, n, -35, 30), 0.1, 2.2),
            "lunge": _between(rng, n, 0, 75), "one leg": _between(rng, n, 5, 125),
            "any": _between(rng, n, 0, 110),
        }),
    )  # fmt: skip
    lean = choose({
        "standing": np.where(
            rng.uniform(size=n) < 0.6, _between(rng, n, -6, 12), _between(rng, n, 0, 60)
        ),
        "walking": _between(rng, n, -4, 25), "squat": _between(rng, n, 0, 60),
        "lunge": _between(rng, n, -5, 50), "one leg": _between(rng, n, -8, 60),
        "any": _between(rng, n, -8, 60),
    })  # fmt: skip
    plain = is_["standing"] | is_["walking"]
    calm = plain & (rng.uniform(size=n) < 0.6)
    sway = np.where(
        rng.uniform(size=n) < 0.5, _between(rng, n, -6, 6), _between(rng, n, -30, 30)
    ) * np.where(calm, 0.25, 1.0)
    twist = _between(rng, n, -50, 50) * np.where(calm, 0.3, 1.0)
    apart = choose({
        "standing": rng.uniform(-0.1, 0.1, n), "walking": rng.uniform(-0.12, 0.02, n),
        "squat": rng.uniform(-0.1, 0.25, n), "lunge": rng.uniform(-0.1, 0.1, n),
        "one leg": np.full(n, -0.13), "any": rng.uniform(-0.1, 0.25, n),
    })  # fmt: skip
    ahead = choose({
        "standing": rng.uniform(-0.03, 0.06, n), "walking": rng.uniform(0.0, 0.3, n),
        "squat": rng.uniform(-0.1, 0.1, n), "lunge": rng.uniform(0.15, 0.55, n),
        "one leg": rng.uniform(-0.04, 0.04, n), "any": rng.uniform(-0.25, 0.35, n),
    })  # fmt: skip
    side = 2 * first - 1
    balance = rng.uniform(0.6, 1.0, n) * _OVER_FEET
    forward, aside = balance * np.sin(lean), balance * np.sin(sway)
    behind = np.where(is_["walking"] | is_["lunge"], -0.9 * ahead, ahead)
    wish = legs(
        np.stack([side * apart + aside, ahead + forward], axis=1),
        np.stack([-side * apart + aside, behind + forward], axis=1),
    )
    way = rng.uniform(size=n)
    back, out = np.tile([0.0, -1.0], (n, 1)), np.stack([-side, 0.0 * side], axis=1)
    out[:, 1] = rng.uniform(-0.7, 0.3, n)
    toward = np.where(((way < 0.55) | is_["lunge"] | is_["walking"])[:, None], back, unit(out))
    further = legs(-toward, toward)
    further[rows, first, 0] = np.abs(further[rows, first, 0]) * side
    lifted = legs(
        np.zeros(n), (is_["one leg"] | (is_["any"] & (rng.uniform(size=n) < 0.4))).astype(float)
    )
    line = np.stack([_between(rng, 2 * n, -35, 85), _between(rng, 2 * n, -4, 40)], axis=1)

    ways = rng.choice(len(ARM_WAYS), (n, 2), p=ARM_SHARES)
    alike = rng.uniform(size=n) < 0.5
    ways[alike, 1] = ways[alike, 0]
    folded = (ways == ARM_WAYS.index("folded")).any(axis=1)
    ways[folded] = ARM_WAYS.index("folded")
    deep = np.clip((flexion.max(axis=1) - 0.9) / 0.9, 0, 1)
    upper, hint, elbow, hang = _arms(rng, ways, deep)
    return _Drawn(
        flexion=flexion, wish=wish, further=further, lifted=lifted, line=line.reshape(n, 2, 2),
        toe_out=_between(rng, 2 * n, -8, 35).reshape(n, 2),
        heel=_between(rng, 2 * n, 0, 45).reshape(n, 2) * (rng.uniform(size=(n, 2)) < 0.2),
        droop=_between(rng, 2 * n, -5, 45).reshape(n, 2),
        lean=lean, sway=sway, twist=twist,
        tilt=_between(rng, n, -7, 7) * np.where(calm, 0.4, 1.0),
        pelvis_share=rng.uniform(0.55, 0.95, n),
        look=np.stack([_between(rng, n, -65, 65), _between(rng, n, -20, 35)], axis=1),
        upper=upper, hint=hint, elbow=elbow,
        pronation=_between(rng, 2 * n, -20, 80).reshape(n, 2), hang=hang,
    )  # fmt: skip


def _arms(
    rng: np.random.Generator, ways: Ints, deep: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Upper arms, hints toward which elbows bend, elbow flexion, and how far arms hang."""
    shape = ways.shape
    side = np.array([-1.0, 1.0])

    def deg(low: float, high: float) -> Floats:
        return np.radians(rng.uniform(low, high, shape))

    deep = deep[:, None]
    # Of each way: raised sideways, raised forward, elbow, and toward where it bends.
    out = {
        "hang": deg(4, 22) + np.radians(18) * deep, "aside": deg(55, 105), "up": deg(120, 172),
        "front": deg(0, 30), "hips": deg(35, 60), "folded": deg(8, 25), "run": deg(5, 25),
        "any": deg(0, 150),
    }  # fmt: skip
    forward = {
        "hang": deg(-15, 20) + np.radians(20) * deep, "aside": deg(-25, 25), "up": deg(-20, 30),
        "front": deg(40, 115), "hips": deg(-30, -5), "folded": deg(10, 40), "run": deg(-55, 45),
        "any": deg(-50, 110),
    }  # fmt: skip
    elbow = {
        "hang": deg(0, 35), "aside": deg(0, 70), "up": deg(0, 80), "front": deg(0, 100),
        "hips": deg(85, 115), "folded": deg(95, 120), "run": deg(70, 115), "any": deg(0, 135),
    }  # fmt: skip
    hints = {
        "hang": (-0.2, 1.0, 0.0), "aside": (-0.3, 1.0, 0.5), "up": (-1.0, 0.5, 0.2),
        "front": (-0.4, 0.1, 1.0), "hips": (-1.0, 0.35, -0.1), "folded": (-1.0, 0.6, 0.1),
        "run": (-0.3, 1.0, 0.3), "any": (-0.4, 1.0, 0.3),
    }  # fmt: skip
    masks = [ways == k for k in range(len(ARM_WAYS))]

    def chosen(of: dict[str, Floats]) -> Floats:
        return np.select(masks, [of[name] for name in ARM_WAYS])

    a, f = chosen(out), chosen(forward)
    # Sideways first, then forward about the axis to the right.
    down = np.stack([np.sin(a) * side, np.zeros(shape), -np.cos(a)], axis=-1)
    c, s = np.cos(f), np.sin(f)
    upper = np.stack(
        [down[..., 0], c * down[..., 1] - s * down[..., 2], s * down[..., 1] + c * down[..., 2]],
        axis=-1,
    )
    hint = np.array([hints[name] for name in ARM_WAYS])[ways]
    hint = unit(hint + rng.normal(0, 0.25, hint.shape))
    hint[..., 0] *= side
    hangs = masks[ARM_WAYS.index("hang")] * rng.uniform(0.3, 1.0, shape)
    return upper, hint, chosen(elbow), hangs


def _rates(rng: np.random.Generator, n: int) -> dict[str, Floats]:
    """How fast angles change, rad/s."""
    moves = (rng.uniform(size=n) < _MOVING_SHARE).astype(float)

    def rate(deg_per_s: float, *shape: int) -> Floats:
        scale = moves.reshape(n, *(1 for _ in shape))
        return np.asarray(np.radians(deg_per_s) * rng.normal(size=(n, *shape)) * scale)

    return {
        "flexion": rate(90, 2), "line": rate(80, 2, 2), "lean": rate(40), "sway": rate(30),
        "twist": rate(60), "elbow": rate(100, 2), "look": rate(40, 2),
    }  # fmt: skip


def _moved(drawn: _Drawn, rates: dict[str, Floats], t_s: float) -> _Drawn:
    values = {name: getattr(drawn, name) for name in _Drawn.__dataclass_fields__}
    for name, rate in rates.items():
        values[name] = values[name] + t_s * rate
    values["flexion"] = np.maximum(values["flexion"], 0.0)
    values["elbow"] = np.maximum(values["elbow"], 0.0)
    return _Drawn(**values)


def _turns(yaw: Floats, back: Floats, sway: Floats) -> Floats:
    angles = np.stack([yaw, back, sway], axis=-1)
    return np.asarray(Rotation.from_euler("ZXY", angles).as_matrix())


def _posed(rig: Rig, k: _Drawn, stick: tuple[Floats, ...] | None) -> PlayerMotion:
    n = len(k.lean)
    pelvis = _turns(0 * k.lean, -k.pelvis_share * k.lean, k.pelvis_share * k.sway + k.tilt)
    rest_share = 2 - k.pelvis_share
    chest = _turns(k.twist, -rest_share * k.lean, rest_share * k.sway)
    neck_yaw, down = k.twist + k.look[:, 0], k.look[:, 1] + 0.45 * k.lean
    head = _turns(neck_yaw, -down, 0.5 * k.sway)
    thigh, shank, foot, toes = _legs(rig, k, pelvis)
    arms = None if stick else _free_arms(k, chest)
    held = {}
    if stick:
        reach, height, shaft = stick
        held = {"reach": reach, "height": height, "shaft": shaft, "grip_m": np.full(n, 0.42)}
    pose = rig.follow(
        Followed(pelvis, chest, head, thigh, shank, foot, arms=arms, toes=toes, **held)
    )
    low = rig.body.skin(pose.turns, pose.places)[..., 2].min(axis=1)
    rise = np.stack([0 * low, 0 * low, SOLE_M - low], axis=1)
    pose.places[...] += rise[:, None]
    pose.palms[..., :3, 3] += rise[:, None]
    return film((np.arange(n) / 30, rig, pose), free_hands=stick is None)


def _free_arms(k: _Drawn, chest: Floats) -> Arms:
    upper = np.einsum("nij,nsj->nsi", chest, k.upper)
    yaw = yaw_turn(k.twist)
    hanging = np.einsum("nij,nsj->nsi", yaw, k.upper)
    upper = unit(k.hang[..., None] * hanging + (1 - k.hang[..., None]) * upper)
    hint = np.einsum("nij,nsj->nsi", chest, k.hint)
    fore, hinge = bent_toward(upper, hint, k.elbow)
    return hands_along(upper, fore, hinge, k.pronation, np.full(k.elbow.shape, 0.2))


def _legs(rig: Rig, k: _Drawn, pelvis: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Turns of thighs, shanks, feet and toes (n, 2, 3, 3).

    Hips are as low as it takes for the shorter leg's ankle to be where it is wished; the other,
    too long for its own place, goes on in its direction until its foot is on the ground too.
    """
    n, h = len(k.lean), rig.body.head
    side = np.array([-1.0, 1.0])
    yaw = -side * k.toe_out
    offset = np.stack([(pelvis @ (h("upperleg01" + s) - rig.hips)) for s in SIDES], axis=1)
    heel, lifted = k.heel.copy(), k.lifted > 0.5
    flexion = k.flexion.copy()
    wish = k.wish * rig.leg
    line = np.zeros((n, 2, 3))
    thigh, shank = np.zeros((n, 2, 3, 3)), np.zeros((n, 2, 3, 3))
    for _ in range(3):  # a heel that rises lifts the ankle, and that turns the shank
        from_ball = [rig.ankle_from_ball(yaw[:, i], -heel[:, i], s) for i, s in enumerate(SIDES)]
        ankle_z = np.stack([each[:, 2] for each in from_ball], axis=1)
        long = np.stack([leg_length(rig, s, flexion[:, i]) for i, s in enumerate(SIDES)], axis=1)
        wished = np.minimum(np.linalg.norm(wish, axis=-1), 0.8 * long)
        height = ankle_z + np.sqrt(long**2 - wished**2) - offset[..., 2]
        hips_z = np.where(lifted, np.inf, height).min(axis=1)
        drop = hips_z[:, None] + offset[..., 2] - ankle_z
        # A leg so long that it would have to go far out is lifted.
        lifted |= drop < np.cos(np.radians(_STEEPEST_DEG)) * long
        away = np.sqrt(np.maximum(long**2 - drop**2, 0.0))
        along = (wish * k.further).sum(axis=-1)
        more = -along + np.sqrt(np.maximum(along**2 + away**2 - (wish**2).sum(axis=-1), 0.0))
        place = wish + more[..., None] * k.further
        line = np.concatenate([place, -drop[..., None]], axis=-1)
        # A lifted leg that would reach into the ground is lifted higher, or bent further.
        room = hips_z[:, None] + offset[..., 2] - _CLEAR * rig.leg
        out = np.cos(k.line[..., 1])
        need = np.arccos(np.clip(room / (long * out), -1.0, 1.0))
        raised = np.where(k.line[..., 0] < 0, -1, 1) * np.maximum(np.abs(k.line[..., 0]), need)
        raised = np.where(raised < np.radians(_FURTHEST_BACK_DEG), need, raised)
        raised = np.minimum(raised, np.radians(_FURTHEST_AHEAD_DEG))
        free = np.stack(
            [side * np.sin(k.line[..., 1]), out * np.sin(raised), -out * np.cos(raised)], axis=-1
        )
        line = np.where(lifted[..., None], free, line)
        most = np.clip(room / np.maximum(-free[..., 2], 0.05) / long, 0.4, 1.0)
        shorter = 2 * np.arccos(most * np.cos(flexion / 2))
        flexion = np.where(lifted & (most < 1), np.maximum(flexion, shorter), flexion)
        for i, s in enumerate(SIDES):
            hinge = yaw_turn(yaw[:, i]) @ np.array([1.0, 0.0, 0.0])
            thigh[:, i], shank[:, i] = leg_turns(rig, s, line[:, i], hinge, flexion[:, i])
        up = shank @ np.array([0.0, 0.0, 1.0])
        ahead = np.stack([-np.sin(yaw), np.cos(yaw)], axis=-1)
        tipped = np.arctan2((up[..., :2] * ahead).sum(axis=-1), up[..., 2])
        heel = np.maximum(heel, tipped - np.radians(_ANKLE_BENDS_DEG))
        heel = np.clip(heel, 0.0, np.radians(70))
    foot = np.stack([_turns(yaw[:, i], -heel[:, i], 0 * k.lean) for i in range(2)], axis=1)
    toes = np.stack([yaw_turn(yaw[:, i]) for i in range(2)], axis=1)
    droop = Rotation.from_euler("x", -k.droop.reshape(-1, 1)).as_matrix().reshape(n, 2, 3, 3)
    hanging = shank @ droop
    foot = np.where(lifted[..., None, None], hanging, foot)
    toes = np.where(lifted[..., None, None], hanging, toes)
    return thigh, shank, foot, toes
