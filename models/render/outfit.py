"""What a player wears and carries: cloth as shells of the body, and rigid gear.

Cloth is the body's own skin moved outward, smoothed so that it bridges hollows, subdivided once and
creased with noise that lives in rest coordinates, so that folds travel with the body.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial.transform import Rotation

from models.render import gear
from models.render.gbuffer import Mesh, merge, mesh, moved, vertex_normals
from models.render.motion import JOINTS, REGIONS, PlayerMotion

Array = NDArray[Any]
RGB = tuple[float, float, float]
TEXTURE_W, TEXTURE_H = 1024, 512
FOOT = ("ankle", "heel", "foot_index")
TUCK_M, HIDDEN_M = 0.012, 0.05  # cloth-covered skin is drawn in; deeper marks mean never seen
MOST_GLYPH_SCALE = 1.13  # a number's picture ends at the texture's upper edge
TEXTURE_SPAN_M = 0.84  # width of the jersey's front (and back) picture


@dataclass(frozen=True)
class Street:
    """How clothes fit that are not a uniform; its colours are the uniform's.

    Attributes:
        top, bottom: how loose they are: 0.3 tight, 1 as a jersey, 2.5 hangs far off the body.
        sleeve: how far down the upper arm it reaches, 0.3 to 1; beyond 1 down the forearm, to 2.
        hem_m: how far below the hips the top ends.
        leg: as ``sleeve``, of the legs.
        sock: how far up the shank socks reach, 0 none.
        hair: its colour.
        hair_m: how thick it is; 0 for who has none.
        long_hair: down to the shoulders.
        tucked: the top is inside the trousers.
    """

    top: float = 1.0
    bottom: float = 1.0
    sleeve: float = 0.72
    hem_m: float = 0.06
    leg: float = 0.86
    sock: float = 0.15
    hair: RGB = (0.12, 0.08, 0.06)
    hair_m: float = 0.015
    long_hair: bool = False
    tucked: bool = False


@dataclass(frozen=True)
class Uniform:
    """Colours are sRGB 0..1."""

    number: int
    jersey: RGB
    trim: RGB
    shorts: RGB
    helmet: RGB
    gloves: RGB
    shoes: RGB = (0.10, 0.10, 0.11)
    socks: RGB = (0.90, 0.90, 0.90)
    shaft: RGB = (0.16, 0.16, 0.17)
    stick_m: float = 1.05
    trousers: bool = False  # long and loose, in the colour of the shorts
    street: Street | None = None  # clothes that are not the sport's: no helmet, gloves or pads


@dataclass(frozen=True)
class Shell:
    """A piece of cloth or padding: which body vertices it covers and how it sits on them."""

    name: str
    offset_m: Array  # (V,) outward, NaN where it does not cover
    rgb: Array  # (V, 3)
    gloss: float
    smooth: int
    crease_m: float
    refine: bool = True  # hands are dense already


class _Sheet:
    """One shell's topology, ready to be posed."""

    def __init__(self, shell: Shell, faces: Array, rest: Array, rng: np.random.Generator) -> None:
        covered = np.isfinite(shell.offset_m)
        kept = faces[covered[faces].all(1)]
        self.index = np.unique(kept)
        renumber = np.full(len(rest), -1)
        renumber[self.index] = np.arange(len(self.index))
        coarse = renumber[kept]
        edges = np.sort(
            np.concatenate([coarse[:, [0, 1]], coarse[:, [1, 2]], coarse[:, [2, 0]]]), 1
        )
        self.edges, which = np.unique(edges, axis=0, return_inverse=True)
        n, f = len(self.index), len(coarse)
        self.mean = _neighbour_mean(self.edges, n)
        self.refine = shell.refine
        a, b, c = (n + which[k * f : (k + 1) * f] for k in range(3))
        p, q, r = coarse.T
        quarters = ((p, a, c), (a, q, b), (c, b, r), (a, b, c)) if shell.refine else ((p, q, r),)
        self.faces = np.concatenate([np.stack(t, 1) for t in quarters]).astype(np.int32)
        self.smooth = shell.smooth
        self.offset = shell.offset_m[self.index].astype(np.float32)[:, None]
        self.rgb = self._refine(shell.rgb[self.index].astype(np.float32))
        self.gloss = shell.gloss
        self.rest = self._refine(rest[self.index])
        self.crease = (shell.crease_m * _folds(self.rest, rng)).astype(np.float32)[:, None]

    def _refine(self, rows: Array) -> Array:
        if not self.refine:
            return rows
        return np.concatenate([rows, (rows[self.edges[:, 0]] + rows[self.edges[:, 1]]) / 2])

    def pose(self, skin: Array, normals: Array) -> tuple[Array, Array]:
        """Fine points and normals for posed skin (V, 3) and its normals."""
        p = skin[self.index] + normals[self.index] * self.offset
        for _ in range(self.smooth):
            p = 0.5 * p + 0.5 * (self.mean @ p)
        fine = self._refine(p)
        if self.crease.any():
            fine = fine + vertex_normals(fine, self.faces) * self.crease
        return fine, vertex_normals(fine, self.faces)


def _neighbour_mean(edges: Array, n: int) -> Any:
    i, j = np.concatenate([edges, edges[:, ::-1]]).T
    m = sparse.csr_matrix((np.ones(len(i), np.float32), (i, j)), (n, n))
    return sparse.diags((1 / np.asarray(m.sum(1)).ravel()).astype(np.float32)) @ m


def _folds(rest: Array, rng: np.random.Generator) -> Array:
    """Crease height about -1..1 at rest points: ridged waves of 5 to 14 cm, mostly hanging ones."""
    out = np.zeros(len(rest))
    for wavelength, weight in ((0.14, 0.5), (0.10, 0.45), (0.075, 0.4), (0.055, 0.3)):
        for _ in range(2):
            k = rng.normal(size=3) * (1.0, 1.0, 0.55)
            k *= 2 * np.pi / wavelength / np.linalg.norm(k)
            bend = 1.6 * np.sin(rest @ (rng.normal(size=3) * 9) + rng.uniform(0, 6))
            wave = np.sin(rest @ k + bend + rng.uniform(0, 6.28))
            out += weight * (1 - 2 * np.abs(wave) ** 0.8)
    return out / 1.6


def _along(rest: Array, start: Array, end: Array) -> Array:
    axis = end - start
    return np.asarray((rest - start) @ axis / (axis @ axis))


class Outfit:
    """A dressed player; `meshes` gives everything to draw at one moment."""

    def __init__(self, motion: PlayerMotion, uniform: Uniform, seed: int) -> None:
        self.motion, self.uniform = motion, uniform
        rng = np.random.default_rng(seed)
        body = motion.body
        rest = body.vertices_m.astype(np.float32)
        faces = motion.faces
        joint = {n: body.anchors[n][1] for n in JOINTS}
        tailor = _tailor if uniform.street is None else _tailor_street
        shells, skin_rgb, tuck = tailor(rest, motion, joint, uniform, rng)
        self.sheets = {s.name: _Sheet(s, faces, rest, rng) for s in shells}
        self._cut_jersey()
        # Skin well inside cloth is never seen; what shows or nearly shows is drawn.
        drawn = faces[(tuck[faces] < HIDDEN_M).any(1)]
        self.bare = np.unique(drawn)
        renumber = np.full(len(rest), -1)
        renumber[self.bare] = np.arange(len(self.bare))
        self.tuck = np.minimum(tuck[self.bare], TUCK_M).astype(np.float32)[:, None]
        bare = mesh(rest[self.bare], renumber[drawn], skin_rgb[self.bare], 0.16)
        pose = motion.head_pose[0]
        posed = motion.vertices_m[0][motion.region == REGIONS.index("head")]
        local = (posed - pose[:3, 3]) @ pose[:3, :3]
        low, high = local.min(0), local.max(0)
        self.helmet = gear.helmet(low, high, uniform.helmet, uniform.trim)
        self.stick = gear.stick(uniform.stick_m, uniform.shaft, uniform.trim)
        feet = motion.region == REGIONS.index("foot")
        self.shoes = [
            gear.shoe(rest[feet & (motion.side == k)], joint[f"{name}_ankle"][2], uniform.shoes)
            for name, k in (("left", -1), ("right", 1))
        ]
        self.soles = [np.array([joint[f"{n}_{p}"] for p in FOOT]) for n in ("left", "right")]
        cloth = [
            mesh(s.rest, s.faces, s.rgb, s.gloss) for n, s in self.sheets.items() if n != "jersey"
        ]
        rigid = [] if uniform.street else [self.helmet]
        if not motion.free_hands:
            rigid.append(self.stick)
        self.plain = merge([bare, *cloth, *rigid, *self.shoes])
        pick = self.jersey_index
        self.jersey = Mesh(
            self.sheets["jersey"].rest[pick],
            self.jersey_faces,
            np.ones((len(pick), 3), np.float32),
            np.full(len(pick), self.sheets["jersey"].gloss, np.float32),
            vertex_normals(self.sheets["jersey"].rest[pick], self.jersey_faces),
            self.jersey_uv,
            self.jersey_texture,
        )

    def _cut_jersey(self) -> None:
        """Split the jersey front from back so that each has its own half of the texture."""
        sheet = self.sheets["jersey"]
        rest, faces = sheet.rest, sheet.faces
        n = vertex_normals(rest, faces)
        back = n[faces].mean(1)[:, 1] < 0
        used = [np.unique(faces[~back]), np.unique(faces[back])]
        self.jersey_index = np.concatenate(used)
        cut = np.empty_like(faces)
        start = 0
        uv = []
        for mine, part in zip(used, (~back, back), strict=True):
            renumber = np.full(len(rest), -1)
            renumber[mine] = start + np.arange(len(mine))
            cut[part] = renumber[faces[part]]
            sign = -1 if part is not back else 1
            u = np.clip(0.5 + sign * rest[mine, 0] / TEXTURE_SPAN_M, 0.005, 0.995)
            uv.append(np.column_stack([(u + (part is back)) / 2, rest[mine, 2]]))
            start += len(mine)
        self.jersey_faces = cut
        self.jersey_uv = np.concatenate(uv)
        low, high = rest[:, 2].min(), rest[:, 2].max()
        self.jersey_uv[:, 1] = 0.01 + 0.98 * (self.jersey_uv[:, 1] - low) / (high - low)
        self.jersey_texture = jersey_picture(self.uniform, high - low, np.abs(rest[:, 0]).max())

    def meshes(self, frame: float) -> list[Mesh]:
        """What to draw at a frame number (may lie between frames): first plain, then the jersey."""
        m = self.motion
        skin = _between(m.vertices_m, frame)
        normals = vertex_normals(skin, m.faces)
        bare = skin[self.bare] - normals[self.bare] * self.tuck
        places, turned = [bare], [normals[self.bare]]
        for name, sheet in self.sheets.items():
            points, bent = sheet.pose(skin, normals)
            if name == "jersey":
                pick = self.jersey_index
                jersey = replace(self.jersey, points=points[pick], normals=bent[pick])
            else:
                places.append(points)
                turned.append(bent)
        rigid = []
        if self.uniform.street is None:
            rigid.append((self.helmet, _rigid(_between(m.head_pose, frame))))
        if not m.free_hands:
            left, right = (
                _rigid(_between(pose, frame)) for pose in (m.left_hand_pose, m.right_hand_pose)
            )
            rigid.append((self.stick, gear.grip(left, right, self.uniform.stick_m)))
        for item, pose in (*rigid, *zip(self.shoes, self._foot_poses(frame), strict=True)):
            placed = moved(item, pose)
            places.append(placed.points)
            turned.append(placed.normals)
        plain = replace(self.plain, points=np.concatenate(places), normals=np.concatenate(turned))
        return [plain, jersey]

    def _foot_poses(self, frame: float) -> list[Array]:
        """Rigid motion of each foot from rest, from its three joints."""
        j = _between(self.motion.joints_m, frame)
        out = []
        for name, rest in zip(("left", "right"), self.soles, strict=True):
            now = np.array([j[JOINTS.index(f"{name}_{p}")] for p in FOOT])
            turn, _ = Rotation.align_vectors(now - now.mean(0), rest - rest.mean(0))
            pose = np.eye(4)
            pose[:3, :3] = turn.as_matrix()
            pose[:3, 3] = now.mean(0) - pose[:3, :3] @ rest.mean(0)
            out.append(pose)
        return out

    def feet(self, frame: int) -> Array:
        """(2, 3) middles of the feet, m."""
        j = self.motion.joints_m[frame]
        at = [[JOINTS.index(f"{s}_{p}") for p in ("heel", "foot_index")] for s in ("left", "right")]
        return np.array([j[pair].mean(0) for pair in at])


def _between(rows: Array, frame: float) -> Array:
    frame = min(max(frame, 0.0), len(rows) - 1.0)
    i = min(int(frame), len(rows) - 2)
    w = frame - i
    return np.asarray((rows[i] * (1 - w) + rows[i + 1] * w).astype(rows.dtype))


def _rigid(pose: Array) -> Array:
    """Nearest rigid pose to a blend of two close ones."""
    out = pose.copy()
    u, _, vt = np.linalg.svd(pose[:3, :3])
    out[:3, :3] = u @ vt
    return out


def _tailor(
    rest: Array,
    motion: PlayerMotion,
    joint: dict[str, Array],
    uniform: Uniform,
    rng: np.random.Generator,
) -> tuple[list[Shell], Array, Array]:
    """Shells, skin colours (V, 3) and how far covered skin is drawn in (V,) m."""
    region = {name: motion.region == k for k, name in enumerate(REGIONS)}
    right = rest[:, 0] > 0
    z, n = rest[:, 2], len(rest)

    def along(a: str, b: str) -> Array:
        return np.where(
            right,
            _along(rest, joint[f"right_{a}"], joint[f"right_{b}"]),
            _along(rest, joint[f"left_{a}"], joint[f"left_{b}"]),
        )

    arm, fore = along("shoulder", "elbow"), along("elbow", "wrist")
    leg, shin = along("hip", "knee"), along("knee", "ankle")
    hip_z = joint["left_hip"][2]
    shoulder_z = joint["left_shoulder"][2]
    tone = 1 + 0.03 * _folds(rest, rng)
    skin = np.clip(np.array(motion.body.spec.skin_rgb) * tone[:, None], 0, 1)
    sock = region["shin"] & (shin > 0.52) | region["foot"]
    skin[sock] = uniform.socks

    def paint(rgb: RGB) -> Array:
        return np.tile(np.array(rgb, np.float32), (n, 1))

    def shell(
        name: str,
        cover: Array,
        offset: Array,
        rgb: Array,
        gloss: float,
        smooth: int,
        crease: float,
        refine: bool = True,
    ) -> Shell:
        return Shell(name, np.where(cover, offset, np.nan), rgb, gloss, smooth, crease, refine)

    body = region["torso"] | region["pelvis"]
    near_shoulder = np.exp(-(((z - shoulder_z) / 0.10) ** 2)) * (np.abs(rest[:, 0]) > 0.07)
    jersey_offset = (
        0.018 + 0.020 * near_shoulder + 0.026 * np.clip((shoulder_z - 0.25 - z) / 0.3, 0, 1)
    )
    sleeve = region["upper_arm"] & (arm < 0.72)
    jersey_offset = np.where(sleeve, 0.020 + 0.018 * np.clip(arm, 0, 1), jersey_offset)
    trunk = body | region["thigh"]
    jersey_cover = (
        (trunk & (z > hip_z - 0.045)) | sleeve | (region["neck"] & (z < shoulder_z + 0.035))
    )
    shorts_cover = (region["pelvis"] & (z < hip_z + 0.13)) | (region["thigh"] & (leg < 0.86))
    shorts_offset = 0.016 + 0.034 * np.clip(leg, 0, 1)
    if uniform.trousers:
        shorts_cover = (region["pelvis"] & (z < hip_z + 0.13)) | region["thigh"]
        shorts_cover |= region["shin"] & (shin < 0.93)
        shorts_offset = np.where(region["shin"], 0.030, 0.016 + 0.014 * np.clip(leg, 0, 1))
    pad_cover = (region["upper_arm"] & (arm > 0.66)) | (region["forearm"] & (fore < 0.42))
    glove_cover = region["hand"] | (region["forearm"] & (fore > 0.74))
    glove_offset = np.where(
        region["hand"], 0.011, 0.014 + 0.03 * np.clip((0.95 - fore) / 0.2, 0, 1)
    )
    shoe_cover = region["foot"] | (region["shin"] & (shin > 0.955))
    glove_rgb = paint(uniform.gloves)
    glove_rgb[region["forearm"]] = uniform.trim
    shells = [
        shell("jersey", jersey_cover, jersey_offset, paint(uniform.jersey), 0.10, 5, 0.0050),
        shell("shorts", shorts_cover, shorts_offset, paint(uniform.shorts), 0.12, 6, 0.0060),
        shell("pads", pad_cover, np.full(n, 0.015), paint((0.12, 0.12, 0.13)), 0.2, 3, 0.001),
        shell("gloves", glove_cover, glove_offset, glove_rgb, 0.2, 4, 0.0012, False),
    ]
    covered = jersey_cover | shorts_cover | pad_cover | glove_cover | shoe_cover
    deep = (region["torso"] & (z < shoulder_z - 0.02)) | region["hand"]
    deep |= (
        region["pelvis"] | (region["thigh"] & (leg < 0.55)) | (region["upper_arm"] & (arm < 0.45))
    )
    deep |= region["forearm"] & (fore > 0.8)
    deep &= covered
    return shells, skin.astype(np.float32), np.where(deep, 1.0, np.where(covered, TUCK_M, 0.0))


def _tailor_street(
    rest: Array,
    motion: PlayerMotion,
    joint: dict[str, Array],
    uniform: Uniform,
    rng: np.random.Generator,
) -> tuple[list[Shell], Array, Array]:
    """As ``_tailor``, for a top, trousers or shorts and hair; head, hands and arms are bare."""
    wear = uniform.street or Street()
    region = {name: motion.region == k for k, name in enumerate(REGIONS)}
    right = rest[:, 0] > 0
    z, n, size = rest[:, 2], len(rest), motion.body.spec.height_m / 1.75

    def along(a: str, b: str) -> Array:
        return np.where(
            right,
            _along(rest, joint[f"right_{a}"], joint[f"right_{b}"]),
            _along(rest, joint[f"left_{a}"], joint[f"left_{b}"]),
        )

    arm, fore = along("shoulder", "elbow"), along("elbow", "wrist")
    leg, shin = along("hip", "knee"), along("knee", "ankle")
    hip_z, shoulder_z = joint["left_hip"][2], joint["left_shoulder"][2]
    tone = 1 + 0.03 * _folds(rest, rng)
    skin = np.clip(np.array(motion.body.spec.skin_rgb) * tone[:, None], 0, 1)
    _paint_face(skin, rest, motion, wear)
    skin[(region["shin"] & (shin > 1 - wear.sock)) | region["foot"]] = uniform.socks

    # A top hangs from shoulders and chest: the lower, the further off.
    hang = np.clip((shoulder_z - 0.2 * size - z) / (0.35 * size), 0, 1)
    top = wear.top * (0.012 + 0.030 * hang) + 0.004
    on_arm = region["upper_arm"] & (arm < wear.sleeve)
    on_arm |= region["forearm"] & (fore < wear.sleeve - 1)
    top = np.where(
        region["upper_arm"], wear.top * (0.010 + 0.016 * np.clip(arm, 0, 1)) + 0.004, top
    )
    top = np.where(region["forearm"], wear.top * 0.014 + 0.004, top)
    trunk = region["torso"] | region["pelvis"] | region["thigh"]
    on_top = (trunk & (z > hip_z - wear.hem_m * size)) | on_arm
    on_top |= region["neck"] & (z < shoulder_z + 0.03 * size)
    bottom = wear.bottom * (0.010 + 0.022 * np.clip(leg, 0, 1)) + 0.003
    bottom = np.where(region["shin"], wear.bottom * (0.026 + 0.010 * np.clip(shin, 0, 1)), bottom)
    on_leg = (region["thigh"] & (leg < wear.leg)) | (region["shin"] & (shin < wear.leg - 1))
    on_bottom = (region["pelvis"] & (z < hip_z + 0.13 * size)) | on_leg
    # Where both lie, one is over the other.
    both = on_top & on_bottom & ~region["upper_arm"] & ~region["forearm"]
    if wear.tucked:
        bottom = np.where(both, np.maximum(bottom, top + 0.012), bottom)
    else:
        top = np.where(both, np.maximum(top, bottom + 0.012), top)
    scalp = _scalp(rest, motion, wear) if wear.hair_m else np.zeros(n, bool)

    def shell(
        name: str, cover: Array, offset: Array, rgb: RGB, gloss: float, smooth: int, crease: float
    ) -> Shell:
        colour = np.tile(np.array(rgb, np.float32), (n, 1))
        return Shell(name, np.where(cover, offset, np.nan), colour, gloss, smooth, crease)

    loose = [min(1.4, 0.4 + 0.6 * each) for each in (wear.top, wear.bottom)]
    shells = [
        shell("jersey", on_top, top, uniform.jersey, 0.08, 5, 0.0055 * loose[0]),
        shell("shorts", on_bottom, bottom, uniform.shorts, 0.10, 6, 0.0060 * loose[1]),
    ]
    if scalp.any():
        thick = np.full(n, wear.hair_m * size)
        shells.append(shell("hair", scalp, thick, wear.hair, 0.25, 3, 0.3 * wear.hair_m))
    covered = on_top | on_bottom | region["foot"]
    deep = region["torso"] & (z < shoulder_z - 0.03 * size)
    deep |= region["pelvis"] | (region["thigh"] & (leg < min(0.55, wear.leg - 0.35)))
    deep |= region["upper_arm"] & (arm < min(0.45, wear.sleeve - 0.35))
    deep &= covered
    return shells, skin.astype(np.float32), np.where(deep, 1.0, np.where(covered, TUCK_M, 0.0))


def _about_the_head(rest: Array, motion: PlayerMotion) -> tuple[Array, Array, Array]:
    """Azimuth (0 ahead) and elevation (V,) rad about the head's middle, and head lengths off it."""
    body = motion.body
    head = motion.region == REGIONS.index("head")
    eyes = (body.head("eye.L") + body.head("eye.R")) / 2
    low, high = rest[head].min(axis=0), rest[head].max(axis=0)
    middle = np.array([0.0, (low[1] + high[1]) / 2, eyes[2]])
    off = rest - middle
    flat = np.hypot(off[:, 0], off[:, 1])
    return np.arctan2(off[:, 0], off[:, 1]), np.arctan2(off[:, 2], flat), off / (high - low)


def _scalp(rest: Array, motion: PlayerMotion, wear: Street) -> Array:
    """(V,) where hair grows: above a line from the brow over the ears to the neck."""
    azimuth, elevation, off = _about_the_head(rest, motion)
    back = -70 if wear.long_hair else -28
    line = np.interp(
        np.degrees(np.abs(azimuth)), [0, 45, 75, 100, 120, 180], [38, 34, 12, 8, back, back]
    )
    head = (motion.region == REGIONS.index("head")) | (motion.region == REGIONS.index("neck"))
    outside = np.linalg.norm(off, axis=1) > 0.3  # the mouth's inside is no scalp
    return np.asarray(head & outside & (np.degrees(elevation) > line))


def _paint_face(skin: Array, rest: Array, motion: PlayerMotion, wear: Street) -> None:
    """Eyes, brows and lips, and darker roots under the hair."""
    body = motion.body
    size = np.ptp(rest[motion.region == REGIONS.index("head")][:, 2]) / 0.24
    ahead = rest[:, 1] > body.head("head")[1]
    head = (motion.region == REGIONS.index("head")) & ahead
    for side in (".L", ".R"):
        eye = body.bone("eye" + side)
        ball = body.weights[:, eye] > 0.5
        if not ball.any():
            continue
        skin[ball] = (0.85, 0.84, 0.82)
        front = rest[ball][:, 1].max()
        iris = ball & (rest[:, 1] > front - 0.004 * size)
        skin[iris] = (0.12, 0.08, 0.06)
        off = rest - body.head("eye" + side)
        brow = head & (np.abs(off[:, 2] - 0.024 * size) < 0.006 * size)
        brow &= np.abs(off[:, 0]) < 0.024 * size
        skin[brow] = 0.35 * skin[brow] + 0.65 * np.array(wear.hair)
    nose = body.anchors["nose"][1]
    mouth = head & (np.abs(rest[:, 2] - (nose[2] - 0.036 * size)) < 0.008 * size)
    mouth &= np.abs(rest[:, 0]) < 0.024 * size
    skin[mouth] = skin[mouth] * (0.85, 0.62, 0.60)


def jersey_picture(uniform: Uniform, tall_m: float, half_wide_m: float) -> Array:
    """Texture (512, 1024, 3) sRGB: front on the left half, back on the right, numbers and trim."""
    image = np.empty((TEXTURE_H, TEXTURE_W, 3), np.float32)
    image[:] = np.array(uniform.jersey)
    half, trim = TEXTURE_W // 2, np.array(uniform.trim)
    x = (np.arange(half) / half - 0.5) * TEXTURE_SPAN_M
    cuff = np.abs(x) > min(half_wide_m, TEXTURE_SPAN_M / 2) - 0.035
    image[:, :half][:, cuff] = trim
    image[:, half:][:, cuff] = trim
    per_x, per_z = half / TEXTURE_SPAN_M, TEXTURE_H / tall_m
    places = ((half // 2, 0.20, 0.44), (half + half // 2, 0.26, 0.44))
    for middle, tall, at in places if uniform.number else ():
        glyph = np.zeros((400, 700), np.uint8)
        text = str(uniform.number)
        (w, h), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_DUPLEX, 9, 34)
        cv2.putText(
            glyph,
            text,
            ((700 - w) // 2, (400 + h) // 2),
            cv2.FONT_HERSHEY_DUPLEX,
            9,
            255,
            34,
            cv2.LINE_AA,
        )
        scale_z = tall * per_z / h
        scale_x = tall * per_x / h * 0.85
        if scale_z > MOST_GLYPH_SCALE:  # a child's jersey has room for less
            scale_x, scale_z = scale_x * MOST_GLYPH_SCALE / scale_z, MOST_GLYPH_SCALE
        small = cv2.resize(glyph, None, fx=scale_x, fy=scale_z, interpolation=cv2.INTER_AREA)
        top, left = int(at * TEXTURE_H - small.shape[0] / 2), middle - small.shape[1] // 2
        a = small[..., None].astype(np.float32) / 255
        patch = image[top : top + small.shape[0], left : left + small.shape[1]]
        patch[:] = patch * (1 - a) + trim * a
    weave = np.random.default_rng(uniform.number).normal(0, 0.012, image.shape[:2])[..., None]
    return (np.clip(image + weave, 0, 1) * 255).astype(np.uint8)
