"""Human bodies with exact joints: anny's skinned mesh, in the project's own axes.

Body axes (metres): x to the player's right, y forward, z up. A pose is one
rotation per bone, given as the turn from the rest pose expressed in body axes
(so the identity everywhere is the rest pose), plus the place of the pelvis.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REGIONS = (
    "head", "neck", "torso", "pelvis", "upper_arm", "forearm", "hand", "thigh", "shin", "foot",
)  # fmt: skip

JOINTS = (
    "nose", "left_eye", "right_eye", "left_ear", "right_ear",
    "left_shoulder", "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist",
    "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle",
    "left_heel", "right_heel", "left_foot_index", "right_foot_index",
    "left_thigh", "right_thigh",
)  # fmt: skip
"""Joint centres. A hip is where anny's own keypoint regression puts it and goes with the pelvis; a
thigh is the point the rig turns the thigh about, further back, and goes with the thigh: only from
there to the knee does the line keep its angle to the bone."""

_REGION_OF_BONE = (
    ("upperleg", "thigh"), ("lowerleg", "shin"), ("foot", "foot"), ("toe", "foot"),
    ("neck", "neck"), ("upperarm", "upper_arm"), ("shoulder", "upper_arm"),
    ("lowerarm", "forearm"), ("wrist", "hand"), ("finger", "hand"), ("metacarpal", "hand"),
    ("spine05", "pelvis"), ("spine", "torso"), ("clavicle", "torso"), ("breast", "torso"),
    ("root", "pelvis"), ("pelvis", "pelvis"),
)  # fmt: skip

_BONE_OF_JOINT = {
    "shoulder": "upperarm01", "elbow": "lowerarm01", "wrist": "wrist",
    "thigh": "upperleg01", "knee": "lowerleg01", "ankle": "foot",
}  # fmt: skip


@dataclass(frozen=True)
class BodySpec:
    """Who the player is, in a form anyone can read.

    `muscle` and `weight` run from 0 to 1 with 0.5 the average of that sex and age.
    """

    sex: Literal["male", "female"] = "male"
    age_years: float = 17.0
    height_m: float = 1.78
    muscle: float = 0.65
    weight: float = 0.45
    skin_rgb: tuple[float, float, float] = (0.80, 0.60, 0.48)

    def __post_init__(self) -> None:
        if not 8 <= self.age_years <= 45:
            raise ValueError(f"age_years: want 8 to 45, got {self.age_years}")
        if not 1.15 <= self.height_m <= 2.1:
            raise ValueError(f"height_m: want 1.15 to 2.1, got {self.height_m}")


@dataclass(frozen=True)
class Body:
    """A person at rest, ready to be posed. Arrays in body axes, metres, soles at z = 0."""

    spec: BodySpec
    bones: tuple[str, ...]
    parents: tuple[int, ...]
    heads_m: Floats  # (B, 3) rest bone origins
    vertices_m: NDArray[np.float32]  # (V, 3)
    faces: NDArray[np.int32]  # (F, 3)
    weights: NDArray[np.float32]  # (V, B)
    region: NDArray[np.uint8]  # (V,) index into REGIONS
    side: NDArray[np.int8]  # (V,) -1 left, 0 middle, +1 right
    anchors: dict[str, tuple[int, Floats]] = field(repr=False)  # joint -> bone, rest point

    def bone(self, name: str) -> int:
        """Number of a bone. Raises ValueError for an unknown name."""
        return self.bones.index(name)

    def head(self, name: str) -> Floats:
        """(3,) rest origin of a bone."""
        return np.asarray(self.heads_m[self.bone(name)])

    def place(self, turns: Floats, root_m: Floats) -> Floats:
        """Bone origins for bone turns (n, B, 3, 3) and pelvis places (n, 3): (n, B, 3)."""
        places = np.empty((*turns.shape[:2], 3))
        for b, parent in enumerate(self.parents):
            if parent < 0:
                places[:, b] = root_m
            else:
                arm = self.heads_m[b] - self.heads_m[parent]
                places[:, b] = places[:, parent] + turns[:, parent] @ arm
        return places

    def skin(self, turns: Floats, places: Floats) -> NDArray[np.float32]:
        """Skinned vertices (n, V, 3) by linear blending of the bones' rigid motions."""
        shift = places - np.einsum("nbij,bj->nbi", turns, self.heads_m)
        moves = np.concatenate([turns, shift[..., None]], axis=3).astype(np.float32)
        rest = np.concatenate(
            [self.vertices_m, np.ones((len(self.vertices_m), 1), np.float32)], axis=1
        )
        out = np.empty((len(turns), len(rest), 3), np.float32)
        for i, move in enumerate(moves):
            blended = (self.weights @ move.reshape(len(self.bones), 12)).reshape(-1, 3, 4)
            out[i] = np.einsum("vij,vj->vi", blended, rest)
        return out

    def joints(self, turns: Floats, places: Floats) -> Floats:
        """Anatomical joint centres (n, J, 3), ordered as JOINTS."""
        out = np.empty((len(turns), len(JOINTS), 3))
        for j, name in enumerate(JOINTS):
            bone, point = self.anchors[name]
            out[:, j] = places[:, bone] + turns[:, bone] @ (point - self.heads_m[bone])
        return out


@lru_cache(maxsize=1)
def _model() -> Any:
    import anny
    import torch

    torch.set_num_threads(2)
    return anny.Anny(skinning_method="lbs")


@lru_cache(maxsize=16)
def build_body(spec: BodySpec) -> Body:
    """Build the player: shape from anny's blend shapes, scaled to the exact height asked for."""
    import torch
    from anny.keypoints import KeypointsRegressor

    model = _model()
    # anny's age runs 0 at one year, 1/3 in childhood, 2/3 at twenty-five, 1 in old age
    age = float(np.interp(spec.age_years, [1, 10, 25, 45], [0, 1 / 3, 2 / 3, 0.75]))
    shape = {
        "gender": 0.0 if spec.sex == "male" else 1.0,
        "age": age,
        "muscle": spec.muscle,
        "weight": spec.weight,
        "height": 0.5,
        "proportions": 0.7,
    }
    with torch.no_grad():
        rest = model(
            phenotype_kwargs={k: torch.tensor([v], dtype=model.dtype) for k, v in shape.items()}
        )
        regressor = KeypointsRegressor.coco(model)
        points = regressor({"vertices": rest["rest_vertices"]})[0].numpy()
    to_body = np.diag([-1.0, -1.0, 1.0])  # anny faces -y with its left at +x
    vertices = rest["rest_vertices"][0].numpy() @ to_body
    heads = rest["rest_bone_heads"][0].numpy() @ to_body
    points = points @ to_body
    floor, top = vertices[:, 2].min(), vertices[:, 2].max()
    scale = spec.height_m / (top - floor)
    lift = np.array([0.0, 0.0, floor])
    vertices, heads, points = ((a - lift) * scale for a in (vertices, heads, points))

    bones = tuple(model.bone_labels)
    weights = np.zeros((len(vertices), len(bones)), np.float32)
    rows = np.arange(len(vertices))[:, None]
    np.add.at(weights, (rows, model.vertex_bone_indices.numpy()), model.vertex_bone_weights.numpy())
    main = weights.argmax(axis=1)
    region_of = np.array([_region(name) for name in bones], np.uint8)
    side_of = np.array([{".L": -1, ".R": 1}.get(name[-2:], 0) for name in bones], np.int8)
    return Body(
        spec=spec,
        bones=bones,
        parents=tuple(-1 if p is None else int(p) for p in model.bone_parents),
        heads_m=heads,
        vertices_m=vertices.astype(np.float32),
        faces=model.get_triangular_faces().numpy().astype(np.int32),
        weights=weights,
        region=region_of[main],
        side=side_of[main],
        anchors=_anchors(bones, heads, dict(zip(regressor.labels, points, strict=True))),
    )


def _region(bone: str) -> int:
    for start, region in _REGION_OF_BONE:
        if bone.startswith(start):
            return REGIONS.index(region)
    return REGIONS.index("head")  # skull, jaw, eyes and the face's own bones


def _anchors(
    bones: tuple[str, ...], heads: Floats, points: dict[str, Floats]
) -> dict[str, tuple[int, Floats]]:
    """Bone and rest point that carry each joint."""
    anchors: dict[str, tuple[int, Floats]] = {}
    for name in JOINTS:
        side, _, part = name.partition("_")
        end = {"left": ".L", "right": ".R"}.get(side, "")
        if part in _BONE_OF_JOINT:
            bone = bones.index(_BONE_OF_JOINT[part] + end)
            anchors[name] = (bone, heads[bone])
        elif part == "hip":
            anchors[name] = (bones.index("pelvis" + end), points[name])
        elif part == "heel":
            anchors[name] = (bones.index("foot" + end), points[name])
        elif part == "foot_index":
            anchors[name] = (bones.index("toe1-2" + end), points[f"{side}_big_toe"])
        else:
            anchors[name] = (bones.index("head"), points[name])
    return anchors
