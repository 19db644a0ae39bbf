"""Film of families that differ in kind from what is fitted on: closeouts of other bodies, seen
through any lens from anywhere, in any light.

Nothing of it is in a fit: bodies, seeds and cameras are its own. Of twelve clips in a row five show
an upright run-out, five a clean breakdown and two something between, so that any part of a run from
its beginning holds them in proportion.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.recipe import Foreign, Range, Recipe
from models.render import practice, truth
from models.render.appearance import FIRST, Appearance, random_appearance
from models.render.course import smoothstep
from models.render.lens import distorted, drawn_focal, filmed, maps, strongest
from models.render.motion import (
    AttackerSpec,
    BodySpec,
    PlayerMotion,
    RepSpec,
    Stance,
    WaitingSpec,
    plan_attacker,
    plan_defender,
    plan_waiting,
)
from models.render.outfit import Outfit
from models.render.phone import Studio, Track, encode, project
from models.render.practice import FPS, Shot
from models.render.props import CONES
from models.render.script import Rep
from models.render.spread import SPOTS
from models.render.who import random_body_wide, random_dress
from models.render.wide import aimed

Array = NDArray[Any]

KINDS = (
    "upright", "clean", "upright", "clean", "between", "upright",
    "clean", "upright", "clean", "between", "upright", "clean",
)  # fmt: skip
"""What twelve clips in a row show."""
BETWEEN = ("half bent", "late", "slow", "hands down", "feet close")
"""Faults of the clips between, in turn."""
SIZES = ((1280, 720),) * 6 + ((1920, 1080), (720, 1280))
FOCAL = (0.6, 2.5)
MAX_TRIES = 400
RETAKES = 10


@dataclass(frozen=True)
class Staged:
    """A rep acted out."""

    rep: Rep
    bodies: tuple[BodySpec, BodySpec, BodySpec]
    defender: PlayerMotion
    attacker: PlayerMotion


@dataclass(frozen=True)
class Lens:
    """The camera of a clip: what is drawn, and what film comes of it.

    Attributes:
        drawn, film: the same but for the focal length, which a distorting lens changes.
        k1: radial distortion of the film.
        tall_px: the defender at arrival, were he to stand upright.
        seen_px: the defender at arrival as he is.
    """

    drawn: Track
    film: Track
    k1: float
    tall_px: float
    seen_px: float


def kind_of(number: int) -> str:
    """What the clip of this number shows."""
    return KINDS[number % len(KINDS)]


def look_of(number: int) -> str:
    """How it looks: "first" and "second" in turn, of every kind as often."""
    return ("first", "second")[(number + number // len(KINDS)) % 2]


def stage(number: int, recipe: Foreign) -> Staged:
    """Draw the clip's rep and act it out; drawn again for a body that cannot do what is asked.

    Raises:
        ValueError: none that was drawn could.
    """
    for attempt in range(RETAKES):
        try:
            return _staged(number, attempt, recipe)
        except ValueError as error:
            fault = error
    raise fault


def _staged(number: int, attempt: int, recipe: Foreign) -> Staged:
    rng = np.random.default_rng([recipe.seed + number, attempt])
    bodies = random_body_wide(rng), random_body_wide(rng), random_body_wide(rng)
    spot = SPOTS[int(rng.integers(len(SPOTS)))]
    cone, inside = np.array(CONES[spot]), np.array(CONES["inside"])
    outward = (cone - inside) / np.linalg.norm(cone - inside)
    place = cone + outward * 0.45
    run = _run(number, rng, recipe)
    slow = run.peak_speed_mps < 4.1
    away = recipe.run_m[0] if slow else rng.uniform(*recipe.run_m)
    start = place - outward * away
    run = replace(
        run,
        attacker_m=(float(place[0]), float(place[1])),
        start_m=(float(start[0]), float(start[1])),
        start_s=0.25,
        duration_s=recipe.duration_s,
        seed=recipe.seed + number,
    )
    # Long legs run faster: children's peak speed is in proportion to their height.
    if not slow:
        by_height = min(bodies[0].height_m / 1.7, 1.1)
        run = replace(run, peak_speed_mps=run.peak_speed_mps * by_height)
    acts = AttackerSpec(
        run.attacker_m, run.start_m, recipe.duration_s, seed=recipe.seed + 500 + number
    )
    attacker = plan_attacker(bodies[1], acts)
    run, defender = _acted(number, bodies[0], run, attacker, recipe)
    fault = BETWEEN[number // len(KINDS) % len(BETWEEN)] if kind_of(number) == "between" else None
    rep = Rep(
        f"foreign-{number:03d}", kind_of(number), spot, "foreign", number, 7,
        fault or kind_of(number), run, number,
    )  # fmt: skip
    return Staged(rep, bodies, defender, attacker)


def _run(number: int, rng: np.random.Generator, recipe: Foreign) -> RepSpec:
    """How the clip's rep is run, wherever that is."""
    side = float(rng.choice([-1, 1]) * rng.uniform(0.4, 1.1))
    bow = float(rng.choice([0.0, 0.0, 0.7, -0.7]))
    peak = float(rng.uniform(4.4, 6.3))
    base = RepSpec((0.0, 0.0), peak_speed_mps=peak, side_offset_m=side, bow_m=bow)
    kind = kind_of(number)
    if kind == "upright":
        return replace(
            base, stance=None, past_m=float(rng.uniform(*recipe.past_m)),
            braking_distance_m=float(rng.uniform(0.9, 1.5)), slide_mps=0.0,
        )  # fmt: skip
    stance = Stance(
        float(rng.uniform(*recipe.knee_bend_deg)), float(rng.uniform(*recipe.trunk_lean_deg)),
        float(rng.uniform(1.75, 2.4)), float(rng.uniform(0.5, 0.65)), float(rng.uniform(0.35, 0.6)),
    )  # fmt: skip
    clean = replace(
        base, stance=stance, past_m=float(rng.uniform(-1.5, -1.15)),
        braking_distance_m=float(rng.uniform(2.2, 3.6)),
        settled_before_arrival_s=float(rng.uniform(0.2, 0.35)),
        slide_mps=float(rng.uniform(-0.6, 0.6)), weighed=float(rng.uniform(0.0, 0.8)),
    )  # fmt: skip
    if kind == "clean":
        return clean
    half = float(rng.uniform(30, 50))
    fault = BETWEEN[number // len(KINDS) % len(BETWEEN)]
    if fault == "late":
        return replace(clean, settled_before_arrival_s=float(rng.uniform(-0.8, -0.5)))
    if fault == "slow":
        return replace(clean, peak_speed_mps=float(rng.uniform(3.4, 4.0)))
    changed = {
        "half bent": replace(stance, knee_bend_deg=half),
        "hands down": replace(stance, hand_reach=float(rng.uniform(0.12, 0.3)), hand_height=0.15),
        "feet close": replace(stance, base_width=float(rng.uniform(0.9, 1.3))),
    }[fault]
    return replace(clean, stance=changed)


def _acted(
    number: int, body: BodySpec, run: RepSpec, attacker: PlayerMotion, recipe: Foreign
) -> tuple[RepSpec, PlayerMotion]:
    """The rep as it is acted; a clean one so that knees and trunk truly come out as asked."""
    defender = plan_defender(body, run)
    if kind_of(number) != "clean" or run.stance is None:
        return run, defender
    wanted = run.stance
    for _ in range(4):
        came = truth.rep_truth(defender, attacker)
        if came.knee_bend_deg is None or came.trunk_lean_deg is None or came.base_width is None:
            break
        if _is_clean(came, recipe):
            return run, defender
        aimed_at = run.stance or wanted
        stance = replace(
            aimed_at,
            knee_bend_deg=aimed_at.knee_bend_deg + wanted.knee_bend_deg - came.knee_bend_deg,
            trunk_lean_deg=aimed_at.trunk_lean_deg + wanted.trunk_lean_deg - came.trunk_lean_deg,
            base_width=min(aimed_at.base_width + max(wanted.base_width - came.base_width, 0), 3.2),
        )
        run = replace(run, stance=stance)
        defender = plan_defender(body, run)
    if not _is_clean(truth.rep_truth(defender, attacker), recipe):
        raise ValueError("the breakdown does not come out as asked for")
    return run, defender


def _is_clean(came: truth.RepTruth, recipe: Foreign) -> bool:
    """Whether nothing is wrong with how he arrived, and nothing nearly so."""
    values = (
        (came.knee_bend_deg, recipe.knee_bend_deg),
        (came.trunk_lean_deg, recipe.trunk_lean_deg),
        (came.base_width, (1.7, 4.0)),
        (came.hand_reach, (0.49, 1.0)),
        (came.hip_drop, (0.14, 0.6)),
        (came.arrival_speed_mps, (0.0, 2.3)),
        (came.braking_distance_m, (1.6, 9.0)),
        (came.overrun_m, (0.0, 0.3)),
    )
    return all(value is not None and _within(value, limits) for value, limits in values)


def _within(value: float, limits: Range) -> bool:
    return limits[0] <= value <= limits[1]


# -- the camera ----------------------------------------------------------------------------------


def lens(number: int, staged: Staged, recipe: Foreign) -> Lens:
    """Draw a camera that has the run in its picture.

    Raises:
        ValueError: none was found.
    """
    rng = np.random.default_rng(recipe.seed + 10_000 + number)
    motion = staged.defender
    n = len(motion.t_s)
    arrival_s = truth.rep_truth(motion, staged.attacker).arrival_s
    if arrival_s is None:
        raise ValueError("the defender never arrives")
    arrival = int(np.clip(round(arrival_s * FPS), 0, n - 1))
    track = truth.ground_track(motion.joints_m)
    to_go = np.linalg.norm(track - staged.rep.run.attacker_m, axis=1)
    first = int((to_go <= recipe.in_view_m).argmax())
    needed = [_around(motion.joints_m[first:]), _around(staged.attacker.joints_m[first:])]
    zooms = rng.uniform() < recipe.zoom_share
    bends = not zooms and rng.uniform() < 0.55  # about half of all
    azimuth = 2 * np.pi * (number * 5 % 16 + rng.uniform()) / 16
    limits = recipe.small_px if number % 3 == 2 else recipe.tall_px
    middle = motion.joints_m[arrival].mean(axis=0)
    forward = (track[-1] - track[first]) / np.linalg.norm(track[-1] - track[first])
    usual_focal = np.log(FOCAL[0]) + np.ptp(np.log(FOCAL)) * (number * 7 % 12 + rng.uniform()) / 12
    for attempt in range(MAX_TRIES):
        # The harder it is to have all of the run in the picture, the smaller the player and the
        # more the camera turns toward the run's own line.
        ease = min(attempt / (0.6 * MAX_TRIES), 1.0)
        turned = azimuth + rng.normal(0, 0.1 + 0.5 * ease)
        ahead = np.array([np.cos(turned), np.sin(turned)])
        along = abs(float(ahead @ forward)) > 0.85
        size = SIZES[int(rng.integers(len(SIZES)))]
        if size[0] < size[1] and not along:
            size = SIZES[0]
        share = np.exp(usual_focal + rng.normal(0, 0.05 + 0.4 * ease))
        focal = max(size) * float(np.clip(share, *FOCAL))
        highest = limits[0] + (limits[1] - limits[0]) * (1 - 0.8 * ease)
        tall = float(rng.uniform(limits[0], highest))
        height = float(np.exp(rng.uniform(np.log(0.5), np.log(8.0))))
        tall_m = staged.bodies[0].height_m
        slant = focal * tall_m / tall
        above = height - 0.9
        if slant < 2.5 or slant > 45 or abs(above) > slant * np.sin(np.radians(40)):
            continue
        centre = np.array([*(middle[:2] + np.sqrt(slant**2 - above**2) * ahead), height])
        roll = float(rng.normal(0, np.radians(3)))
        k1 = 0.0
        if bends:
            k1 = strongest(float(rng.uniform(-0.25, 0.1)), float(np.hypot(*size)) / 2 / focal)
        zoom = np.ones(n)
        if zooms:
            factor = float(np.exp(rng.choice([-1, 1]) * rng.uniform(np.log(1.2), np.log(1.7))))
            begin = arrival_s - rng.uniform(0.8, 1.4)
            zoom = factor ** (smoothstep(motion.t_s, begin, begin + rng.uniform(0.8, 1.4)))
            zoom = zoom / zoom[arrival]
        k = np.array([[focal, 0, (size[0] - 1) / 2], [0, focal, (size[1] - 1) / 2], [0, 0, 1.0]])
        placed = _framed(rng, k, k1, centre, needed, size, roll, zoom[first:], 0.035 * tall)
        if placed is None:
            continue
        film = Track(
            k, np.tile(placed, (n, 1, 1)), centre, size, still=not zooms,
            zoom=zoom if zooms else None,
        )  # fmt: skip
        drawn = film
        if k1:
            shorter = k.copy()
            shorter[0, 0] = shorter[1, 1] = drawn_focal(focal, k1, size)
            drawn = replace(film, k=shorter)
        seen = distorted(k, k1, project(k, placed, centre, motion.vertices_m[arrival]))
        return Lens(drawn, film, k1, tall, float(np.ptp(seen[:, 1])))
    raise ValueError("no camera has the whole run in its picture")


def _around(joints_m: Array) -> Array:
    """(n, m, 3) joints, and how far head and hands reach beyond them."""
    head = joints_m[:, :1] + [0, 0, 0.22]
    soles = joints_m[:, -8:-2].copy()
    soles[..., 2] = 0.0
    return np.concatenate([joints_m, head, soles], axis=1)


def _framed(
    rng: np.random.Generator,
    k: Array,
    k1: float,
    centre: Array,
    needed: list[Array],
    size: tuple[int, int],
    roll: float,
    zoom: Array,
    margin_px: float,
) -> Array | None:
    """A rotation (3, 3) that has all of it in the picture, the free room shared at random."""
    points = np.concatenate([each.reshape(len(each), -1, 3) for each in needed], axis=1)
    target = points.reshape(-1, 3).mean(axis=0)
    principal = k[:2, 2]
    at = principal.copy()
    share = rng.uniform(-0.8, 0.8, 2)
    for last in (False, False, True):
        rotation = aimed(k, centre, target, at, roll)
        depth = (points - centre) @ rotation[2]
        if depth.min() < 0.5:
            return None
        seen = distorted(k, k1, project(k, rotation, centre, points))
        seen = principal + (seen - principal) * zoom[:, None, None]
        low, high = seen.min(axis=(0, 1)) - margin_px, seen.max(axis=(0, 1)) + margin_px
        room = (np.array(size) - 1 - (high - low)) / 2
        if (room < 0).any():
            return None
        if last:
            inside = (low >= 0).all() and (high <= np.array(size) - 1).all()
            return rotation if inside else None
        at = at + (principal + share * room) - (low + high) / 2
        share = share * 0.9
    return None


# -- others --------------------------------------------------------------------------------------


def idle(number: int, staged: Staged, camera: Lens, recipe: Foreign) -> PlayerMotion | None:
    """Somebody who stands about near the cone, or looks as if he did; in about a third."""
    rng = np.random.default_rng(recipe.seed + 20_000 + number)
    if rng.uniform() >= recipe.waiting_share:
        return None
    attacker = np.array(staged.rep.run.attacker_m)
    start = np.array(staged.rep.run.start_m)
    if rng.uniform() < 0.5:  # behind the attacker as the camera sees it
        ahead = attacker - camera.film.centre[:2]
        ahead /= np.linalg.norm(ahead)
        across = np.array([-ahead[1], ahead[0]])
        place = attacker + rng.uniform(2.5, 5.5) * ahead
        place = place + rng.choice([-1, 1]) * rng.uniform(0.5, 1.5) * across
    else:  # waiting in line, five yards outside the cone
        ahead = (attacker - start) / np.linalg.norm(attacker - start)
        across = np.array([-ahead[1], ahead[0]])
        place = attacker + rng.uniform(3.8, 5.2) * ahead + rng.uniform(-1.5, 1.5) * across
    if np.linalg.norm(place - camera.film.centre[:2]) < 2.0:
        return None
    spec = WaitingSpec(
        (float(place[0]), float(place[1])), staged.rep.run.start_m, recipe.duration_s,
        seed=recipe.seed + 700 + number,
    )  # fmt: skip
    return plan_waiting(staged.bodies[2], spec)


# -- the film ------------------------------------------------------------------------------------


def render(folder: Path, number: int, recipe: Recipe) -> None:
    """One clip with its truth; skipped when it is there."""
    ours = recipe.clips.foreign
    name = f"foreign-{number:03d}"
    truth_folder = folder / "truth"
    if (truth_folder / f"{name}.json").exists():
        return
    staged = stage(number, ours)
    camera = lens(number, staged, ours)
    waiting = idle(number, staged, camera, ours)
    rep = staged.rep if waiting is None else replace(staged.rep, waiting=9)
    rng = np.random.default_rng(ours.seed + 30_000 + number)
    appearance = random_appearance(rng) if look_of(number) == "second" else FIRST
    street = rng.uniform(size=3) < ours.street_share
    motions = [m for m in (staged.defender, staged.attacker, waiting) if m is not None]
    outfits = [
        Outfit(motion, random_dress(rng, street=bool(each)), number)
        for motion, each in zip(motions, street, strict=False)
    ]
    (folder / "clips").mkdir(parents=True, exist_ok=True)
    truth_folder.mkdir(exist_ok=True)
    path = folder / "clips" / f"{name}.mp4"
    rate = round(ours.bit_rate * (camera.film.size[0] * camera.film.size[1] / (1280 * 720)) ** 0.75)
    rate = rate if appearance.name == "first" else round(rate * rng.uniform(0.4, 1.0))
    encode(path, pictures(camera, outfits, appearance), FPS, camera.film.size, rate)
    scene = {
        "body": number,
        "heights_m": [each.height_m for each in staged.bodies[: len(motions)]],
        "ages_years": [round(each.age_years, 1) for each in staged.bodies[: len(motions)]],
        "kind": kind_of(number),
        "fault": rep.note if kind_of(number) == "between" else None,
        "look": appearance.name,
        "around": appearance.around,
        "ground": appearance.ground.kind,
        "dress": ["street" if each else "uniform" for each in street[: len(motions)]],
        "focal": camera.film.k[0, 0] / max(camera.film.size),
        "k1": camera.k1,
        "zooms": camera.film.zoom is not None,
        "camera_height_m": float(camera.film.centre[2]),
        "tall_px": round(camera.tall_px, 1),
        "seen_px": round(camera.seen_px, 1),
        "size_px": list(camera.film.size),
    }
    (truth_folder / f"{name}.scene.json").write_text(json.dumps(scene))
    stance: dict[str, Any] = {"t_s": staged.defender.t_s, **truth.stance(staged.defender)}
    np.savez_compressed(truth_folder / f"{name}.stance.npz", **stance)
    shot = Shot(staged.defender, staged.attacker, waiting, camera.film)
    practice.write_truth(truth_folder, rep, shot, "foreign")
    _add_lens(truth_folder / f"{name}.npz", camera, staged, waiting)
    print(name, rep.kind, rep.note, rep.spot, appearance.name, flush=True)


def pictures(camera: Lens, outfits: list[Outfit], appearance: Appearance) -> Iterator[Array]:
    """The clip's frames (h, w, 3)."""
    frames = Studio(camera.drawn, appearance=appearance).frames(outfits, FPS)
    if not camera.k1:
        return frames
    through = maps(camera.drawn.k, camera.film.k, camera.k1, camera.film.size)
    return map(partial(filmed, through=through), frames)


def _add_lens(path: Path, camera: Lens, staged: Staged, waiting: PlayerMotion | None) -> None:
    """Distortion (k1, k2, p1, p2, k3), and the third player; visibility as drawn."""
    with np.load(path, allow_pickle=False) as file:
        arrays: dict[str, Any] = dict(file)
    arrays["distortion"] = np.array([camera.k1, 0, 0, 0, 0])
    others = [staged.attacker.joints_m]
    if waiting is not None:
        others.append(waiting.joints_m)
        arrays["waiting_joints_m"] = waiting.joints_m.astype(np.float32)
        arrays["waiting_ground_m"] = truth.ground_track(waiting.joints_m).astype(np.float32)
    if camera.k1:
        arrays["defender_visible"] = practice.visible(
            staged.defender.joints_m, others, camera.drawn
        )
    np.savez_compressed(path, **arrays)
