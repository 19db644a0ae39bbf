"""The phone: where it stands, how it moves, what its lens and encoder do to the picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from models.render.appearance import FIRST, Appearance
from models.render.gbuffer import Mesh, Rasteriser
from models.render.light import DAY, Light, SunMap, linear, shade, tone
from models.render.outfit import Outfit
from models.render.scene import Plate, make_plate, rays

Array = NDArray[Any]

TREMBLE_DEG = 0.18  # standard deviation of a calm hand's sway, about each of two axes
# Offsets inside the pixel, one for each sub-frame: edges in any direction come out smooth.
JITTER = ((-0.33, -0.13), (0.0, 0.33), (0.33, -0.20))
# Of slower shutters more moments are drawn, so that a fast hand smears instead of doubling.
JITTERS = {
    3: JITTER,
    5: ((-0.36, -0.08), (-0.12, 0.30), (0.0, -0.02), (0.18, 0.22), (0.30, -0.36)),
}


@dataclass(frozen=True)
class Place:
    """A phone's place and aim: centre and the point looked at, m; picture size; field of view."""

    centre_m: tuple[float, float, float]
    look_m: tuple[float, float, float]
    size: tuple[int, int] = (1920, 1080)
    hfov_deg: float = 65.0

    @property
    def k(self) -> Array:
        """(3, 3) intrinsics: square pixels, principal point in the middle."""
        w, h = self.size
        f = w / 2 / np.tan(np.radians(self.hfov_deg) / 2)
        return np.array([[f, 0, (w - 1) / 2], [0, f, (h - 1) / 2], [0, 0, 1.0]])

    @property
    def rotation(self) -> Array:
        """(3, 3) world to camera."""
        return look_at(np.array(self.centre_m), np.array(self.look_m))


def look_at(centre: Array, target: Array) -> Array:
    """Level camera rotation (3, 3), world to camera (x right, y down, z ahead)."""
    z = (target - centre) / np.linalg.norm(target - centre)
    x = np.cross(z, [0, 0, 1.0])
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z])


def project(k: Array, rotation: Array, centre: Array, points: Array) -> Array:
    """Pixels (..., 2) of ground-frame points (..., 3)."""
    local = (points - centre) @ rotation.T
    return np.asarray(local[..., :2] / local[..., 2:] * (k[0, 0], k[1, 1]) + k[:2, 2])


def hand_tremble(n: int, fps: float, seed: int, degrees: float = TREMBLE_DEG) -> Array:
    """Small camera rotations (n, 3) rad about its own axes: slow sway and an 8 Hz tremor."""
    rng = np.random.default_rng(seed)
    f = np.fft.rfftfreq(4 * n, 1 / fps)
    shape = 1 / (0.25 + (f / 0.7) ** 1.6) + 0.05 * np.exp(-0.5 * ((f - 8) / 1.5) ** 2)
    shape[0] = 0
    spectrum = shape * (rng.normal(size=(3, len(f))) + 1j * rng.normal(size=(3, len(f))))
    sway = np.fft.irfft(spectrum, 4 * n)[:, :n]
    sway /= sway.std(1, keepdims=True)
    return np.asarray((sway * np.radians(degrees) * np.array([[1.0], [1.0], [0.5]])).T)


@dataclass(frozen=True)
class Track:
    """The camera over a clip: k (3, 3), rotation (n, 3, 3), centre (3,), size; still or not.

    zoom (n,) lengthens the focal length of each frame, None leaves it alone. principal_px (n, 2)
    is where each frame's optical axis meets the picture, for frames cut out of larger ones.
    """

    k: Array
    rotation: Array
    centre: Array
    size: tuple[int, int]
    still: bool
    zoom: Array | None = None
    principal_px: Array | None = None

    @property
    def matrices(self) -> Array:
        """(n, 3, 3) intrinsics of every frame."""
        return np.stack([self.matrix(i) for i in range(len(self.rotation))])

    def matrix(self, i: int) -> Array:
        """(3, 3) intrinsics of one frame."""
        k = self.k.copy()
        if self.zoom is not None:
            k[[0, 1], [0, 1]] *= self.zoom[i]
        if self.principal_px is not None:
            k[:2, 2] = self.principal_px[i]
        return k

    def only(self, i: int) -> Track:
        """One frame of it."""
        zoom = None if self.zoom is None else self.zoom[i : i + 1]
        at = None if self.principal_px is None else self.principal_px[i : i + 1]
        return replace(self, rotation=self.rotation[i : i + 1], zoom=zoom, principal_px=at)


def tripod(place: Place, n: int) -> Track:
    """A camera that does not move."""
    return Track(
        place.k, np.tile(place.rotation, (n, 1, 1)), np.array(place.centre_m), place.size, True
    )


def handheld(
    place: Place, targets: Array, fps: float, seed: int, degrees: float = TREMBLE_DEG
) -> Track:
    """A camera held in the hand, turned after targets (n, 3) m with a trembling wrist."""
    centre = np.array(place.centre_m)
    tremble = hand_tremble(len(targets), fps, seed, degrees)
    turns = [
        cv2.Rodrigues(r)[0] @ look_at(centre, t) for r, t in zip(tremble, targets, strict=True)
    ]
    return Track(place.k, np.array(turns), centre, place.size, False)


class Studio:
    """Everything needed to film one clip: the empty field and the machines."""

    def __init__(
        self, track: Track, plate: Plate | None = None, appearance: Appearance = FIRST
    ) -> None:
        self.track = track
        self.appearance = appearance
        self.light = appearance.light
        self.width, self.height = track.size
        self.raster = Rasteriser(self.width, self.height)
        self.plate = plate or plate_for(track, appearance)
        self.maps: list[SunMap] = []
        self._rays: tuple[Array, Array, Array] | None = None
        if track.still:
            p = self.plate
            self.empty = _bytes(develop(p.sunlit + p.rest, self.vignette(), self.light))
        rng = np.random.default_rng(8)
        self.grain = []
        for _ in range(6):
            fine = rng.normal(0, 1, (self.height + 64, self.width + 64, 3)).astype(np.float32)
            fine = 0.7 * cv2.GaussianBlur(fine, (0, 0), 0.55) / 0.55 + 0.35 * cv2.resize(
                fine[::2, ::2], (fine.shape[1], fine.shape[0])
            )
            fine = fine.mean(2, keepdims=True) * 1.4 + fine * 0.45
            self.grain.append(np.rint(fine * 1.7).astype(np.int16))

    def vignette(self) -> Array:
        """The lens's falloff toward the corners (h, w, 1)."""
        v, u = np.mgrid[0 : self.height, 0 : self.width].astype(np.float32)
        r2 = ((u - self.width / 2) ** 2 + (v - self.height / 2) ** 2) / (self.width / 2) ** 2
        return np.asarray((1 - 0.10 * r2)[..., None].astype(np.float32))

    def frames(
        self, outfits: list[Outfit], fps: float, which: Iterable[int] | None = None
    ) -> Iterator[Array]:
        """RGB pictures (h, w, 3) uint8 of the frames of the motions, by default all."""
        rng = np.random.default_rng(17)
        vignette = self.vignette()
        while len(self.maps) < len(outfits):
            self.maps.append(SunMap(512, light=self.light))
        for i in range(len(self.track.rotation)) if which is None else which:
            plate, empty = self._background(i, vignette)
            picture = self._with_players(i, outfits, fps, plate, empty, vignette)
            grain = self.grain[rng.integers(len(self.grain))]
            dy, dx = rng.integers(0, 64, 2)
            piece = grain[dy : dy + self.height, dx : dx + self.width]
            shown = cv2.add(picture, piece, dtype=cv2.CV_8U)
            if self.appearance.processing is not None:
                shown = self.appearance.processing.of(shown, rng)
            yield shown

    def _background(self, i: int, vignette: Array) -> tuple[Plate, Array]:
        if self.track.still:
            return self.plate, self.empty
        p, k, r = self.plate, self.track.matrix(i), self.track.rotation[i]
        # The centre stays put, so turn and zoom are an exact homography of the plate.
        h = p.k @ p.rotation @ r.T @ np.linalg.inv(k)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        warped = [
            cv2.warpPerspective(a, h, (self.width, self.height), flags=flags)
            for a in (p.sunlit, p.rest, p.front, p.front_cover)
        ]
        sunlit, rest, front, cover = warped
        reach = cv2.warpPerspective(
            p.front_range,
            h,
            (self.width, self.height),
            flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
            borderValue=1e3,
        )
        now = Plate(sunlit, rest, front, cover, reach, k, r, p.centre)
        return now, _bytes(develop(now.sunlit + now.rest, vignette, self.light))

    def _with_players(
        self, i: int, outfits: list[Outfit], fps: float, plate: Plate, empty: Array, vignette: Array
    ) -> Array:
        k, r, c = plate.k, plate.rotation, plate.centre
        moments, jitter = self.appearance.moments, JITTERS[self.appearance.moments]
        half = moments // 2
        before, after = (
            [o.meshes(i + s * self.appearance.shutter_s * fps) for o in outfits]
            for s in (-half / moments, half / moments)
        )
        staged = [
            before,
            *(_blend(before, after, step / (moments - 1)) for step in range(1, moments - 1)),
            after,
        ]
        middle = staged[half]
        sun = []
        for sun_map, parts in zip(self.maps, middle, strict=False):
            points = np.concatenate([m.points for m in parts])
            centre = (points.max(0) + points.min(0)) / 2
            sun_map.look(parts, centre, 1.75)
            sun.append([sun_map.on_surface(m.points) for m in parts])
        box = self._box(k, r, c, [m for parts in middle for m in parts])
        if box is None:
            return empty
        left, top, right, bottom = box
        cut = (slice(top, bottom), slice(left, right))
        d, axis, ground = self._sight(k, r, c, cut)
        shape = axis.shape
        toward = -d.reshape(-1, 3)
        colour: Array = np.zeros((axis.size, 3), np.float32)
        cover: Array = np.zeros(axis.size, np.float32)
        near = np.full(shape, np.inf, np.float32)
        drawn_light: Array | None = None
        # The middle first: sun and gloss are drawn once.
        for step in (half, *(each for each in range(moments) if each != half)):
            shifted = k.copy()
            shifted[:2, 2] += jitter[step]
            self.raster.perspective(shifted, r, c)
            meshes = [m for own in staged[step] for m in own]
            self.raster.load(meshes, [s for own in sun for s in own])
            buffers = self.raster.draw(box, drawn_light)
            if drawn_light is None:
                # Pixels just outside take their neighbours' light: the others' edges fall there.
                wider = cv2.dilate(buffers.light, np.ones((7, 7), np.uint8))
                drawn_light = np.where(buffers.light.any(-1, keepdims=True), buffers.light, wider)
            flat = np.flatnonzero(np.isfinite(buffers.depth))
            albedo, normal, gloss, lit = buffers.surface(flat)
            colour[flat] += shade(linear(albedo), normal, gloss, lit, toward[flat], self.light)
            cover[flat] += 1
            near = np.minimum(near, buffers.depth / axis)
        colour, cover = (
            colour.reshape(*shape, 3) / moments,
            cover.reshape(*shape, 1) / moments,
        )
        light, pressed = np.ones(shape, np.float32), np.zeros(shape, np.float32)
        for sun_map, outfit in zip(self.maps, outfits, strict=False):
            light *= sun_map.on_ground(ground)
            for foot in outfit.feet(i):
                gap = (ground[..., 0] - foot[0]) ** 2 + (ground[..., 1] - foot[1]) ** 2
                pressed += 0.55 * np.exp(-gap / 0.035) * np.exp(-max(0.0, foot[2] - 0.08) / 0.12)
        dark = 1 - np.clip(pressed, 0, 0.75)[..., None]
        is_ground = plate.sunlit[cut][..., :1] > 0
        scene = plate.sunlit[cut] * light[..., None] * (0.5 + 0.5 * dark)
        scene += plate.rest[cut] * np.where(is_ground, dark, 1)
        scene = scene * (1 - cover) + colour
        behind = (plate.front_range[cut] < near)[..., None] & (cover > 0)
        veil = np.where(behind, plate.front_cover[cut][..., None], 0)
        scene = np.where(behind, scene * (1 - veil) + plate.front[cut], scene)
        shot = develop(scene, vignette[cut], self.light)
        picture = empty.copy()
        inner = 4  # the sharpening filter's reach: keep its border effects out
        picture[top + inner : bottom - inner, left + inner : right - inner] = _bytes(
            shot[inner:-inner, inner:-inner]
        )
        return picture

    def _sight(
        self, k: Array, r: Array, c: Array, cut: tuple[slice, slice]
    ) -> tuple[Array, Array, Array]:
        """View rays, their share along the optical axis, and where they meet the ground."""
        if self.track.still and self._rays is not None:
            return self._rays[0][cut], self._rays[1][cut], self._rays[2][cut]
        whole = (slice(0, self.height), slice(0, self.width)) if self.track.still else cut
        v, u = np.mgrid[whole].astype(np.float32)
        d = rays(k, r, u, v)
        axis = d @ r[2].astype(np.float32)
        ground = c.astype(np.float32) + d * (np.float32(-c[2]) / np.minimum(d[..., 2:], -1e-3))
        if not self.track.still:
            return d, axis, ground
        self._rays = (d, axis, ground)
        return d[cut], axis[cut], ground[cut]

    def _box(
        self, k: Array, r: Array, c: Array, meshes: list[Mesh]
    ) -> tuple[int, int, int, int] | None:
        """Crop around players and their shadows."""
        points = np.concatenate([m.points[::7] for m in meshes])
        shadow = points - points[:, 2:] / self.light.to_sun[2] * self.light.to_sun
        every = np.concatenate([points, shadow])
        every = every[((every - c) @ r[2]) > 0.3]
        if not len(every):
            return None
        uv = project(k, r, c, every)
        low, high = np.floor(uv.min(0)) - 24, np.ceil(uv.max(0)) + 60
        left, top = (int(max(0, a)) for a in low)
        right, bottom = int(min(self.width, high[0])), int(min(self.height, high[1]))
        return (left, top, right, bottom) if right - left > 20 and bottom - top > 20 else None


def _blend(a: list[list[Mesh]], b: list[list[Mesh]], w: float) -> list[list[Mesh]]:
    """Each player's meshes part of the way from one moment to the next."""
    return [
        [
            replace(
                p,
                points=p.points * (1 - w) + q.points * w,
                normals=p.normals * (1 - w) + q.normals * w,
            )
            for p, q in zip(x, y, strict=True)
        ]
        for x, y in zip(a, b, strict=True)
    ]


def _bytes(shown: Array) -> Array:
    return np.clip(shown + 0.5, 0, 255).astype(np.uint8)


def develop(radiance: Array, vignette: Array, light: Light = DAY) -> Array:
    """Linear light to display values (float32 0..255): glow, falloff, tone curve, sharpening."""
    small = cv2.resize(
        np.maximum(radiance - 1.1, 0), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA
    )
    glow = cv2.resize(cv2.GaussianBlur(small, (0, 0), 4), radiance.shape[1::-1])
    shown = tone((radiance + 0.07 * glow) * vignette, light.exposure)
    soft = cv2.GaussianBlur(shown, (0, 0), 0.55)
    return soft + 0.45 * (soft - cv2.GaussianBlur(soft, (0, 0), 1.6))


def plate_for(track: Track, appearance: Appearance = FIRST) -> Plate:
    """The empty field wide enough for every aim of the camera."""
    w, h = track.size
    if track.still:
        return make_plate(track.k, track.rotation[0], track.centre, track.size, appearance)
    ahead = _sights(track).mean(0)
    base = look_at(track.centre, track.centre + ahead)
    corners = np.array([[x, y, 1.0] for x in (-8, w + 8) for y in (-8, h + 8)])
    to_world = np.linalg.inv(track.matrices @ track.rotation)
    world = np.einsum("nij,cj->nci", to_world, corners).reshape(-1, 3)
    k = track.k.copy()
    if track.zoom is not None:  # neither the widest nor the longest is drawn far from its scale
        k[[0, 1], [0, 1]] *= np.sqrt(track.zoom.min() * track.zoom.max())
    uv = project(k, base, np.zeros(3), world)
    low, high = np.floor(uv.min(0)), np.ceil(uv.max(0))
    k[:2, 2] -= low
    wide, tall = (int(2 * np.ceil((b - a + 1) / 2)) for a, b in zip(low, high, strict=True))
    return make_plate(k, base, track.centre, (wide, tall), appearance)


def _sights(track: Track) -> Array:
    """(n, 3) unit vectors through the middle of each picture, which need not be the lens's axis."""
    if track.principal_px is None:
        return track.rotation[:, 2]
    middle = np.array([(track.size[0] - 1) / 2, (track.size[1] - 1) / 2, 1.0])
    sights = np.linalg.inv(track.matrices @ track.rotation) @ middle
    return np.asarray(sights / np.linalg.norm(sights, axis=1, keepdims=True))


def encode(
    path: Path, frames: Iterator[Array], fps: int, size: tuple[int, int], bit_rate: int
) -> int:
    """Write H.264 in MP4 (yuv420p, index first); gives the number of frames."""
    import av

    scratch = path.with_suffix(".part.mp4")
    count = 0
    with av.open(str(scratch), "w", options={"movflags": "+faststart"}) as box:
        stream = box.add_stream("libx264", rate=fps)
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        stream.bit_rate = bit_rate
        stream.thread_count = 1
        stream.options = {
            "preset": "medium",
            "maxrate": str(2 * bit_rate),
            "bufsize": str(2 * bit_rate),
        }
        for picture in frames:
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")):
                box.mux(packet)
            count += 1
        for packet in stream.encode():
            box.mux(packet)
    scratch.replace(path)
    return count
