"""Off-screen rasteriser: triangle meshes in, per-pixel colour, normal and depth out.

VTK draws flat attributes (no lighting of its own); `light.shade` turns them into radiance.
Keeping the two apart gives the same light on bodies, field furniture and ground.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]
NEAR_M, FAR_M = 0.3, 400.0


@dataclass(frozen=True)
class Mesh:
    """A triangle mesh in the ground frame.

    points (V, 3) m; faces (F, 3); rgb (V, 3) sRGB albedo 0..1; gloss (V,) 0 matt .. 1 polished;
    normals (V, 3) unit; uv (V, 2) and texture (h, w, 3) uint8 together or not at all.
    """

    points: Array
    faces: Array
    rgb: Array
    gloss: Array
    normals: Array
    uv: Array | None = None
    texture: Array | None = None

    def __post_init__(self) -> None:
        n = len(self.points)
        if not (len(self.rgb) == len(self.gloss) == len(self.normals) == n):
            raise ValueError(f"mesh attributes must have one row per point ({n})")
        if (self.uv is None) != (self.texture is None):
            raise ValueError("uv and texture go together")


def vertex_normals(points: Array, faces: Array) -> Array:
    """Area-weighted unit normals (V, 3)."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    u, v = b - a, c - a
    corners = faces.ravel()
    out = np.empty(points.shape, np.float32)
    for k, (i, j) in enumerate(((1, 2), (2, 0), (0, 1))):
        face = u[:, i] * v[:, j] - u[:, j] * v[:, i]
        out[:, k] = np.bincount(corners, np.repeat(face, 3), minlength=len(points))
    return out / np.maximum(np.sqrt(dot(out, out)), 1e-12)[:, None]


def mesh(points: Array, faces: Array, rgb: Any, gloss: float | Array = 0.1) -> Mesh:
    """A mesh with computed normals; rgb and gloss may be one value for all points."""
    n = len(points)
    return Mesh(
        points=np.asarray(points, np.float32),
        faces=np.asarray(faces, np.int32),
        rgb=np.broadcast_to(np.asarray(rgb, np.float32), (n, 3)),
        gloss=np.broadcast_to(np.asarray(gloss, np.float32), (n,)),
        normals=vertex_normals(np.asarray(points, np.float32), np.asarray(faces)),
    )


def merge(meshes: list[Mesh]) -> Mesh:
    """One untextured mesh out of several."""
    if any(m.texture is not None for m in meshes):
        raise ValueError("textured meshes cannot be merged")
    starts = np.cumsum([0] + [len(m.points) for m in meshes])
    return Mesh(
        points=np.concatenate([m.points for m in meshes]),
        faces=np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=False)]),
        rgb=np.concatenate([m.rgb for m in meshes]),
        gloss=np.concatenate([m.gloss for m in meshes]),
        normals=np.concatenate([m.normals for m in meshes]),
    )


def moved(m: Mesh, pose: Array) -> Mesh:
    """The mesh carried by a rigid 4x4 pose."""
    r, t = pose[:3, :3], pose[:3, 3]
    return replace(
        m,
        points=(m.points @ r.T + t).astype(np.float32),
        normals=(m.normals @ r.T).astype(np.float32),
    )


@dataclass(frozen=True)
class Buffers:
    """What the rasteriser saw, bytes as drawn: albedo (h, w, 3) sRGB; normal (h, w, 3) as
    0.5 + n / 2; light (h, w, 3) sun and gloss in the first two channels; depth (h, w) m along
    the optical axis (inf where nothing)."""

    albedo: Array
    normal: Array
    light: Array
    depth: Array

    def surface(self, flat: Array) -> tuple[Array, Array, Array, Array]:
        """At flat pixel numbers: albedo (m, 3) sRGB 0..1, unit normal (m, 3), gloss, sun (m,)."""
        albedo, normal, light = (
            np.take(a.reshape(-1, 3), flat, 0).astype(np.float32) / 255
            for a in (self.albedo, self.normal, self.light)
        )
        normal = normal * 2 - 1
        normal /= np.maximum(np.sqrt(dot(normal, normal)), 1e-6)[:, None]
        return albedo, normal, light[:, 1], light[:, 0]


def dot(a: Array, b: Array) -> Array:
    """Row-wise scalar product over a last axis of three."""
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2])


class Rasteriser:
    """One off-screen window of a fixed size, reused for every frame."""

    def __init__(self, width: int, height: int) -> None:
        import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (registers the OpenGL factory)
        from vtkmodules.vtkCommonCore import vtkOutputWindow
        from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

        vtkOutputWindow.GetInstance().SetDisplayModeToNever()
        self.width, self.height = width, height
        self.window = vtkRenderWindow()
        self.window.SetOffScreenRendering(1)
        self.window.SetMultiSamples(0)
        self.window.SetAlphaBitPlanes(1)
        self.window.SetSize(width, height)
        self.renderer = vtkRenderer()
        self.renderer.SetBackground(0, 0, 0)
        self.renderer.SetBackgroundAlpha(0)
        self.window.AddRenderer(self.renderer)
        self._stage: list[_Actor] = []

    def perspective(self, k: Array, rotation: Array, centre: Array) -> None:
        """OpenCV pinhole camera: x = K R (X - centre), pixel centres at whole numbers."""
        w, h = self.width, self.height
        p = np.zeros((4, 4))
        p[0, 0], p[1, 1] = 2 * k[0, 0] / w, 2 * k[1, 1] / h
        p[0, 2], p[1, 2] = 1 - 2 * (k[0, 2] + 0.5) / w, 2 * (k[1, 2] + 0.5) / h - 1
        p[2, 2] = -(FAR_M + NEAR_M) / (FAR_M - NEAR_M)
        p[2, 3], p[3, 2] = -2 * FAR_M * NEAR_M / (FAR_M - NEAR_M), -1
        self._aim(p, rotation, centre)

    def parallel(self, rotation: Array, centre: Array, half_m: float, depth_m: float) -> None:
        """Parallel projection of a square 2*half_m wide, depth 0..depth_m from `centre`."""
        p = np.diag([1 / half_m, 1 / half_m, -2 / depth_m, 1.0])
        p[2, 3] = -1
        self._aim(p, rotation, centre)

    def _aim(self, projection: Array, rotation: Array, centre: Array) -> None:
        from vtkmodules.vtkCommonMath import vtkMatrix4x4

        camera = self.renderer.GetActiveCamera()
        matrix = vtkMatrix4x4()
        matrix.DeepCopy(projection.ravel())
        camera.SetExplicitProjectionTransformMatrix(matrix)
        camera.UseExplicitProjectionTransformMatrixOn()
        camera.SetPosition(*centre)
        camera.SetFocalPoint(*(np.asarray(centre) + rotation[2]))
        camera.SetViewUp(*(-rotation[1]))

    def load(self, meshes: list[Mesh], sun: list[Array] | None = None) -> None:
        """Put meshes on the stage, replacing what was there. sun: per mesh (V,) 0..1.

        Meshes that share their `faces` array with those on the stage only move.
        """
        lit = sun or [np.ones(len(m.points), np.float32) for m in meshes]
        same = len(meshes) == len(self._stage) and all(
            a.faces is m.faces for a, m in zip(self._stage, meshes, strict=True)
        )
        if not same:
            self.renderer.RemoveAllViewProps()
            self._stage = [_Actor(m) for m in meshes]
            for actor in self._stage:
                self.renderer.AddActor(actor.actor)
        for actor, m, light in zip(self._stage, meshes, lit, strict=True):
            actor.move(m, light)

    def _draw(self, name: str, box: tuple[int, int, int, int]) -> Array:
        from vtkmodules.util.numpy_support import vtk_to_numpy
        from vtkmodules.vtkCommonCore import vtkUnsignedCharArray

        for actor in self._stage:
            actor.show(name)
        self.window.Render()
        left, top, right, bottom = box
        out = vtkUnsignedCharArray()
        h = self.height
        self.window.GetRGBACharPixelData(left, h - bottom, right - 1, h - 1 - top, 0, out)
        rgba = vtk_to_numpy(out).reshape(bottom - top, right - left, 4)
        return np.asarray(rgba[::-1, :, :3])

    def depth01(self, box: tuple[int, int, int, int]) -> Array:
        """Depth buffer 0..1 of what was last drawn."""
        from vtkmodules.util.numpy_support import vtk_to_numpy
        from vtkmodules.vtkCommonCore import vtkFloatArray

        left, top, right, bottom = box
        out = vtkFloatArray()
        h = self.height
        self.window.GetZbufferData(left, h - bottom, right - 1, h - 1 - top, out)
        return np.asarray(vtk_to_numpy(out).reshape(bottom - top, right - left)[::-1].copy())

    def draw_depth(self) -> Array:
        """Draw and return only the depth buffer 0..1, (height, width)."""
        self.window.Render()
        return self.depth01((0, 0, self.width, self.height))

    def draw(
        self, box: tuple[int, int, int, int] | None = None, light: Array | None = None
    ) -> Buffers:
        """Draw what is loaded. box: left, top, right, bottom in pixels, right/bottom outside.

        light: sun and gloss of a nearly equal drawing, to save drawing them again.
        """
        box = box or (0, 0, self.width, self.height)
        if light is None:
            light = self._draw("light", box)
        normal, albedo = self._draw("normal", box), self._draw("albedo", box)
        z = self.depth01(box)
        depth = np.full(z.shape, np.inf, np.float32)
        hit = z < 1
        clip = 2 * z[hit] - 1
        depth[hit] = 2 * FAR_M * NEAR_M / (FAR_M + NEAR_M - clip * (FAR_M - NEAR_M))
        return Buffers(albedo, normal, light, depth)


class _Actor:
    """One mesh on VTK's side; its arrays are ours, so that moving it copies no topology."""

    def __init__(self, m: Mesh) -> None:
        from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
        from vtkmodules.vtkCommonCore import vtkPoints
        from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
        from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

        self.faces = m.faces
        n = len(m.points)
        self.places = np.zeros((n, 3), np.float32)
        self.colours = {k: np.zeros((n, 3), np.uint8) for k in ("albedo", "normal", "light")}
        self.colours["albedo"][:] = _byte(m.rgb)
        self.colours["light"][:, 1] = _byte(m.gloss)
        self.data, self.points, cells = vtkPolyData(), vtkPoints(), vtkCellArray()
        self.points.SetData(numpy_to_vtk(self.places))
        flat = np.ascontiguousarray(m.faces, np.int64).ravel()
        offsets = np.arange(0, len(flat) + 1, 3, dtype=np.int64)
        cells.SetData(
            numpy_to_vtkIdTypeArray(offsets, deep=1), numpy_to_vtkIdTypeArray(flat, deep=1)
        )
        self.data.SetPoints(self.points)
        self.data.SetPolys(cells)
        self.arrays = {k: numpy_to_vtk(rows) for k, rows in self.colours.items()}
        for name, array in self.arrays.items():
            array.SetName(name)
            self.data.GetPointData().AddArray(array)
        if m.uv is not None:
            uv = numpy_to_vtk(np.ascontiguousarray(m.uv, np.float32), deep=1)
            uv.SetName("uv")
            self.data.GetPointData().SetTCoords(uv)
        self.mapper, self.actor = vtkPolyDataMapper(), vtkActor()
        self.mapper.SetInputData(self.data)
        self.mapper.SetScalarModeToUsePointFieldData()
        self.actor.SetMapper(self.mapper)
        self.actor.GetProperty().LightingOff()
        self.texture = _texture(m.texture)

    def move(self, m: Mesh, light: Array) -> None:
        """Take over places, normals and sunlight of a mesh with the same faces."""
        self.places[:] = m.points
        self.colours["normal"][:] = _byte(m.normals * 0.5 + 0.5)
        self.colours["light"][:, 0] = _byte(light)
        for array in (self.points.GetData(), self.arrays["normal"], self.arrays["light"]):
            array.Modified()
        self.points.Modified()
        self.data.Modified()

    def show(self, name: str) -> None:
        """Choose which attribute is drawn."""
        self.mapper.SelectColorArray(name)
        self.actor.SetTexture(self.texture if name == "albedo" else None)


def _byte(values: Array) -> Array:
    return (np.clip(values, 0, 1) * 255 + 0.5).astype(np.uint8)


def _texture(image: Array | None) -> Any:
    if image is None:
        return None
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonDataModel import vtkImageData
    from vtkmodules.vtkRenderingCore import vtkTexture

    data = vtkImageData()
    data.SetDimensions(image.shape[1], image.shape[0], 1)
    flat = np.ascontiguousarray(image[::-1]).reshape(-1, 3)
    data.GetPointData().SetScalars(numpy_to_vtk(flat, deep=1))
    texture = vtkTexture()
    texture.SetInputData(data)
    texture.InterpolateOn()
    texture.MipmapOn()
    texture.SetColorModeToDirectScalars()
    return texture
