"""Poses a body from a few handles: pelvis, trunk, feet, hands on a shaft, and where it looks.

Limbs are solved as two bones between their ends (hip and ankle, shoulder and wrist). All
arrays hold n frames; ground axes; turns are (n, 3, 3) from the rest pose.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from models.render.body import Body, Floats
from models.render.gait import knee_flexion
from models.render.limbs import (
    ARM_RADIUS_M,
    CLOTH_M,
    THIGH_RADIUS_M,
    Arms,
    Trunk,
    cleared_of_capsule,
    frame_of,
    unit,
    yaw_turn,
)

SIDES = (".L", ".R")
_SPINE = ("spine05", "spine04", "spine03", "spine02", "spine01")
_COLLAR_SHARE = 0.33  # Source: scapulohumeral rhythm of about 2 to 1, from memory
_MAX_STRETCH = 0.998  # a limb never straightens to the last hair: the knee would snap


@dataclass(frozen=True)
class Handles:
    """What a pose is steered by, n frames each; [0] is left and [1] right in pairs."""

    hips_m: Floats  # (n, 3) middle of the hip joints
    pelvis_yaw: Floats  # (n,) rad about z, 0 facing +y, left positive
    chest_yaw: Floats  # (n,) rad
    lean: Floats  # (n,) rad, mid-hip to mid-shoulder against the vertical, toward the chest
    sway: Floats  # (n,) rad, the same sideways, to the right positive
    ball_m: Floats  # (n, 2, 3) middle of the ball of the foot, on the sole
    foot_yaw: Floats  # (n, 2) rad
    foot_pitch: Floats  # (n, 2) rad, toes up positive
    toe_pitch: Floats  # (n, 2) rad
    wrists_m: Floats  # (n, 3) wanted middle of the two wrists
    shaft: Floats  # (n, 3) unit vector along the shaft to the stick's head
    grip_m: Floats  # (n,) distance between the hands along the shaft
    look_yaw: Floats  # (n,) rad
    look_pitch: Floats  # (n,) rad, down positive
    right_hand_top: bool = True


@dataclass(frozen=True)
class Followed:
    """Turns to be followed, n frames each; [0] is left and [1] right in pairs.

    All are turns from a body that stands straight, arms and legs down, facing ahead. Hands hold a
    stick, or arms are free.
    """

    pelvis: Floats  # (n, 3, 3)
    chest: Floats  # (n, 3, 3)
    head: Floats  # (n, 3, 3)
    thigh: Floats  # (n, 2, 3, 3)
    shank: Floats  # (n, 2, 3, 3)
    foot: Floats  # (n, 2, 3, 3)
    reach: Floats | None = None  # (n,) wrists ahead of the shoulders, arm lengths
    height: Floats | None = None  # (n,) of the wrists, hips 0, shoulders 1
    shaft: Floats | None = None  # (n, 3) unit vector along the shaft, the chest's axes
    grip_m: Floats | None = None  # (n,)
    arms: Arms | None = None  # free ones, instead of those four
    toes: Floats | None = None  # (n, 2, 3, 3), None: as the foot


@dataclass(frozen=True)
class _Held:
    """The part of the handles that the arms need."""

    wrists_m: Floats
    shaft: Floats
    grip_m: Floats
    right_hand_top: bool = True


@dataclass(frozen=True)
class Pose:
    """Bone turns (n, B, 3, 3) and origins (n, B, 3), and the palms' frames (n, 2, 4, 4)."""

    turns: Floats
    places: Floats
    palms: Floats


def pitched(yaw: Floats, pitch: Floats) -> Floats:
    """Turns (n, 3, 3): nose up by pitch about the body's right, then about the vertical."""
    return np.asarray(Rotation.from_euler("ZX", np.stack([yaw, pitch], axis=-1)).as_matrix())


def _between(a: Floats, b: Floats, share: float) -> Floats:
    step = Rotation.from_matrix(np.swapaxes(a, -1, -2) @ b).as_rotvec()
    return np.asarray(a @ Rotation.from_rotvec(share * step).as_matrix())


def two_bones(root: Floats, end: Floats, pole: Floats, a: float, b: float) -> tuple[Floats, Floats]:
    """Middle joint and reached end (n, 3) of a limb of lengths a, b bent toward the pole."""
    line = end - root
    far = np.linalg.norm(line, axis=-1, keepdims=True)
    reach = np.clip(far, abs(a - b) * 1.02, (a + b) * _MAX_STRETCH)
    line = line / far
    along = (a * a - b * b + reach**2) / (2 * reach)
    off = np.sqrt(np.maximum(a * a - along**2, 0.0))
    side = unit(pole - (pole * line).sum(axis=-1, keepdims=True) * line)
    return root + along * line + off * side, root + reach * line


class Rig:
    """A body's rest measures, and how Handles become a Pose."""

    def __init__(self, body: Body) -> None:
        self.body = body
        h = body.head
        self.hips = (h("upperleg01.L") + h("upperleg01.R")) / 2
        self.shoulders = (h("upperarm01.L") + h("upperarm01.R")) / 2
        self.hip_width = float(np.linalg.norm(h("upperleg01.L") - h("upperleg01.R")))
        self.thigh = float(np.linalg.norm(h("lowerleg01.R") - h("upperleg01.R")))
        self.shank = float(np.linalg.norm(h("foot.R") - h("lowerleg01.R")))
        self.leg = self.thigh + self.shank
        # What the line through the turning points reads when the leg is straight.
        self.rest_flexion = float(knee_flexion(h("upperleg01.R"), h("lowerleg01.R"), h("foot.R")))
        self.upper_arm = float(np.linalg.norm(h("lowerarm01.R") - h("upperarm01.R")))
        self.forearm = float(np.linalg.norm(h("wrist.R") - h("lowerarm01.R")))
        self.arm = self.upper_arm + self.forearm
        trunk = self.shoulders - self.hips
        self.rest_lean = float(np.arctan2(trunk[1], trunk[2]))
        # Styles speak of joints as the truth has them: hips by the keypoint regression, lower and
        # further forward than the points the rig turns about.
        hips = (body.anchors["left_hip"][1] + body.anchors["right_hip"][1]) / 2
        to_shoulders = self.shoulders - hips
        self.lean_offset = self.rest_lean - float(np.arctan2(to_shoulders[1], to_shoulders[2]))
        self.hips_above_joint = float((self.hips - hips)[2])
        self.trunk = Trunk.of(body, self.hips, self.shoulders)
        self.ball: dict[str, Floats] = {}
        self.heel: dict[str, Floats] = {}
        self.toe: dict[str, Floats] = {}
        self.palm: dict[str, Floats] = {}
        self.knuckles: dict[str, Floats] = {}
        self.palm_out: dict[str, Floats] = {}
        for s, side in zip(SIDES, (-1, 1), strict=True):
            toes = np.mean([h(f"toe{i}-1{s}") for i in range(1, 6)], axis=0)
            foot = body.vertices_m[(body.region == 9) & (body.side == side)].astype(float)
            self.ball[s] = np.array([toes[0], toes[1], 0.0])
            self.heel[s] = np.array([toes[0], foot[:, 1].min() + 0.015, 0.0])
            self.toe[s] = np.array([toes[0], foot[:, 1].max(), 0.0])
            wrist, middle = h("wrist" + s), h("finger3-1" + s)
            fingers = unit(middle - wrist)
            across = h("finger2-1" + s) - h("finger5-1" + s)
            tip = h("finger3-3" + s) - middle
            out = tip - (tip @ fingers) * fingers
            self.knuckles[s] = unit(across - (across @ fingers) * fingers)
            self.palm_out[s] = unit(out - (out @ self.knuckles[s]) * self.knuckles[s])
            self.palm[s] = wrist + 0.8 * (middle - wrist) + 0.025 * self.palm_out[s]
        self._children = [
            [b for b, parent in enumerate(body.parents) if parent == k]
            for k in range(len(body.bones))
        ]

    def ankle_height(self, bend: Floats) -> Floats:
        """Distance hip to ankle for a knee flexion (rad)."""
        return np.sqrt(self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(bend))

    def sole_lift(self, pitch: Floats, toe_pitch: Floats, side: str) -> Floats:
        """Height of the ball of the foot that just keeps heel and toe out of the ground."""
        back = np.linalg.norm(self.heel[side] - self.ball[side])
        front = np.linalg.norm(self.toe[side] - self.ball[side])
        lift = np.maximum(back * np.sin(pitch), -front * np.sin(toe_pitch))
        return np.asarray(np.maximum(lift, 0.0))

    def ankle_from_ball(self, yaw: Floats, pitch: Floats, side: str) -> Floats:
        """(n, 3) from the ball of the foot to the ankle joint."""
        return np.asarray(pitched(yaw, pitch) @ (self.body.head("foot" + side) - self.ball[side]))

    def pose(self, k: Handles) -> Pose:
        """The pose of all bones."""
        body, n = self.body, len(k.hips_m)
        turns = np.tile(np.eye(3), (n, len(body.bones), 1, 1))
        places = np.zeros((n, len(body.bones), 3))
        lean = k.lean - self.rest_lean
        for _ in range(3):  # the trunk bends along its length: correct until the whole leans right
            self._trunk(k, lean, turns, places)
            line = (
                places[:, body.bone("upperarm01.L")] + places[:, body.bone("upperarm01.R")]
            ) / 2 - k.hips_m
            ahead = np.stack([-np.sin(k.chest_yaw), np.cos(k.chest_yaw)], axis=-1)
            got = np.arctan2((line[:, :2] * ahead).sum(axis=1), line[:, 2])
            lean = lean + k.lean - got
        for i, s in enumerate(SIDES):
            self._leg(k, i, s, turns, places)
        return Pose(turns, places, self._arms(k, turns, places))

    def follow(self, k: Followed) -> Pose:
        """The pose of all bones when trunk and legs turn as given.

        Raises:
            ValueError: neither free arms nor all that says how a stick is held is given.
        """
        body, n = self.body, len(k.pelvis)
        turns = np.tile(np.eye(3), (n, len(body.bones), 1, 1))
        places = np.zeros((n, len(body.bones), 3))
        self._set(turns, places, 0, k.pelvis, np.zeros((n, 3)))
        for i, bone in enumerate(_SPINE):
            self._turn(turns, places, bone, _between(k.pelvis, k.chest, (i + 1) / len(_SPINE)))
        for i, bone in enumerate(("neck01", "neck02", "neck03", "head")):
            self._turn(turns, places, bone, _between(k.chest, k.head, (i + 1) / 4))
        for i, s in enumerate(SIDES):
            self._turn(turns, places, "upperleg01" + s, k.thigh[:, i])
            self._turn(turns, places, "lowerleg01" + s, k.shank[:, i])
            self._turn(turns, places, "foot" + s, k.foot[:, i])
            if k.toes is not None:
                for toe in range(1, 6):
                    self._turn(turns, places, f"toe{toe}-1{s}", k.toes[:, i])
        if k.arms is not None:
            return Pose(turns, places, self._free_arms(k.arms, turns, places))
        if k.reach is None or k.height is None or k.shaft is None or k.grip_m is None:
            raise ValueError("arms: want reach, height, shaft and grip, or free arms")
        shoulders, hips = (
            (places[:, body.bone(bone + ".L")] + places[:, body.bone(bone + ".R")]) / 2
            for bone in ("upperarm01", "upperleg01")
        )
        ahead = k.chest @ np.array([0.0, 1.0, 0.0])
        wrists = (
            hips + k.height[:, None] * (shoulders - hips) + (k.reach * self.arm)[:, None] * ahead
        )
        shaft = np.einsum("nij,nj->ni", k.chest, k.shaft)
        held = _Held(wrists, shaft, k.grip_m)
        return Pose(turns, places, self._arms(held, turns, places))

    def _set(self, turns: Floats, places: Floats, bone: int, turn: Floats, at: Floats) -> None:
        """Turn a bone and carry everything that hangs on it along rigidly."""
        turns[:, bone], places[:, bone] = turn, at
        for child in self._children[bone]:
            arm = self.body.heads_m[child] - self.body.heads_m[bone]
            self._set(turns, places, child, turn, at + turn @ arm)

    def _turn(self, turns: Floats, places: Floats, bone: str, turn: Floats) -> None:
        b = self.body.bone(bone)
        self._set(turns, places, b, turn, places[:, b].copy())

    def _trunk(self, k: Handles, lean: Floats, turns: Floats, places: Floats) -> None:
        def bent(yaw: Floats, share: float) -> Floats:
            angles = np.stack([yaw, -share * lean, share * k.sway], axis=-1)
            return np.asarray(Rotation.from_euler("ZXY", angles).as_matrix())

        pelvis, chest = bent(k.pelvis_yaw, 0.8), bent(k.chest_yaw, 1.15)
        root = k.hips_m - pelvis @ (self.hips - self.body.heads_m[0])
        self._set(turns, places, 0, pelvis, root)
        for i, bone in enumerate(_SPINE):
            self._turn(turns, places, bone, _between(pelvis, chest, (i + 1) / len(_SPINE)))
        head = pitched(k.look_yaw, -k.look_pitch)
        for i, bone in enumerate(("neck01", "neck02", "neck03", "head")):
            self._turn(turns, places, bone, _between(chest, head, (i + 1) / 4))

    def _leg(self, k: Handles, i: int, s: str, turns: Floats, places: Floats) -> None:
        h = self.body.head
        hip = places[:, self.body.bone("upperleg01" + s)].copy()
        yaw, pitch = k.foot_yaw[:, i], k.foot_pitch[:, i]
        ankle = k.ball_m[:, i] + self.ankle_from_ball(yaw, pitch, s)
        ahead = yaw_turn(yaw) @ np.array([0.25 * (2 * i - 1), 1.0, 0.0])
        knee, ankle = two_bones(hip, ankle, ahead, self.thigh, self.shank)
        right = np.cross(ahead, ankle - hip)
        rest_right = np.array([1.0, 0.0, 0.0])
        thigh = (
            frame_of(knee - hip, -right)
            @ frame_of(h("lowerleg01" + s) - h("upperleg01" + s), rest_right).T
        )
        shank = (
            frame_of(ankle - knee, -right)
            @ frame_of(h("foot" + s) - h("lowerleg01" + s), rest_right).T
        )
        self._turn(turns, places, "upperleg01" + s, thigh)
        self._turn(turns, places, "lowerleg01" + s, shank)
        self._turn(turns, places, "foot" + s, pitched(yaw, pitch))
        for toe in range(1, 6):
            self._turn(turns, places, f"toe{toe}-1{s}", pitched(yaw, k.toe_pitch[:, i]))

    def _arms(self, k: Handles | _Held, turns: Floats, places: Floats) -> Floats:
        """Both palms on the shaft, the wrists' middle as near as the arms allow to the wish."""
        chest = turns[:, self.body.bone("spine01")]
        middle = k.wrists_m.copy()
        palms = np.tile(np.eye(4), (len(middle), 2, 1, 1))
        for step in range(7):
            wrists, short = np.zeros_like(middle), np.zeros_like(middle)
            for i, s in enumerate(SIDES):
                end = 0.5 if (i == 1) == k.right_hand_top else -0.5
                grip = middle + end * k.grip_m[:, None] * k.shaft
                palms[:, i] = self._arm(grip, k.shaft, chest, i, s, turns, places)
                wrists += places[:, self.body.bone("wrist" + s)] / 2
                short += palms[:, i, :3, 3] - grip
            # First bring the wrists where they are wanted; then, where an arm is too short,
            # let both hands come in together so that they stay on the shaft.
            middle = middle + (k.wrists_m - wrists if step < 3 else 1.2 * short)
        return palms

    def _arm(
        self, grip: Floats, shaft: Floats, chest: Floats, i: int, s: str,
        turns: Floats, places: Floats,
    ) -> Floats:  # fmt: skip
        h, side = self.body.head, 2 * i - 1
        shoulder = places[:, self.body.bone("upperarm01" + s)].copy()
        pole = chest @ unit(np.array([0.75 * side, -0.45, -0.75]))
        toward = grip - shoulder
        for _ in range(3):  # the hand's turn depends on the elbow and the elbow on the wrist
            hand = self._hand(toward, shaft, s)
            wrist = grip - hand @ (self.palm[s] - h("wrist" + s))
            elbow, wrist = two_bones(shoulder, wrist, pole, self.upper_arm, self.forearm)
            toward = grip - elbow
        hinge = np.cross(elbow - shoulder, wrist - elbow)
        self._pose_arm(elbow - shoulder, wrist - elbow, hinge, s, turns, places)
        self._pose_hand(hand, s, turns, places, curl=0.95)
        return self._palm(hand, wrist, s)

    def _free_arms(self, arms: Arms, turns: Floats, places: Floats) -> Floats:
        """Both arms in these directions, as near as trunk and thighs let them come."""
        body, h = self.body, self.body.head
        chest, pelvis = turns[:, body.bone("spine01")].copy(), turns[:, 0]
        palms = np.tile(np.eye(4), (len(chest), 2, 1, 1))
        size = body.spec.height_m / 1.75
        thick = ARM_RADIUS_M * size

        def middle(bone: str) -> Floats:
            return np.asarray(places[:, [body.bone(bone + s) for s in SIDES]].mean(axis=1))

        def cleared(point: Floats) -> Floats:
            middles = middle("upperleg01"), middle("upperarm01")
            point = self.trunk.cleared(point, *middles, chest, pelvis, thick + CLOTH_M)
            for s in SIDES:
                hip, knee = (places[:, body.bone(b + s)] for b in ("upperleg01", "lowerleg01"))
                point = cleared_of_capsule(point, hip, knee, THIGH_RADIUS_M * size + thick)
            return point

        for i, s in enumerate(SIDES):
            side = 2 * i - 1
            # Beyond 60 degrees of elevation the collar bone rises with the arm, by a third of it.
            local = np.einsum("nji,nj->ni", chest, arms.upper[:, i])
            raised = np.arccos(np.clip(-local[:, 2], -1, 1)) - np.radians(60)
            lift = Rotation.from_euler("y", -side * _COLLAR_SHARE * np.maximum(raised, 0)[:, None])
            self._turn(turns, places, "clavicle" + s, chest @ lift.as_matrix())
            shoulder = places[:, body.bone("upperarm01" + s)].copy()
            elbow = cleared(shoulder + self.upper_arm * arms.upper[:, i])
            upper = unit(elbow - shoulder)
            elbow = shoulder + self.upper_arm * upper
            # The hand is as thick as the wrist and longer: clear its knuckles, then the wrist.
            hand_m = float(np.linalg.norm(h("finger3-1" + s) - h("wrist" + s)))
            wrist = cleared(elbow + self.forearm * arms.fore[:, i])
            fore = unit(wrist - elbow)
            wrist = elbow + self.forearm * fore
            fingers = unit(cleared(wrist + hand_m * arms.fingers[:, i]) - wrist)
            bend = np.cross(upper, fore)
            # A nearly straight arm does not show its hinge: there it is as was asked for.
            sure = np.clip(np.linalg.norm(bend, axis=1, keepdims=True) / 0.3 - 0.3, 0, 1)
            ahead = np.sign((bend * arms.hinge[:, i]).sum(axis=1, keepdims=True))
            hinge = sure * ahead * bend + (1 - sure) * arms.hinge[:, i]
            self._pose_arm(upper, fore, hinge, s, turns, places)
            rest = frame_of(h("finger3-1" + s) - h("wrist" + s), self.knuckles[s])
            hand = frame_of(fingers, arms.thumb[:, i]) @ rest.T
            self._pose_hand(hand, s, turns, places, curl=0.25)
            palms[:, i] = self._palm(hand, places[:, body.bone("wrist" + s)], s)
        return palms

    def _pose_arm(
        self, upper: Floats, fore: Floats, hinge: Floats, s: str,
        turns: Floats, places: Floats,
    ) -> None:  # fmt: skip
        h = self.body.head
        rest_u = h("lowerarm01" + s) - h("upperarm01" + s)
        rest_f = h("wrist" + s) - h("lowerarm01" + s)
        rest_hinge = np.cross(rest_u, rest_f)
        for bone, along, rest in (("upperarm01", upper, rest_u), ("lowerarm01", fore, rest_f)):
            turn = frame_of(along, hinge) @ frame_of(rest, rest_hinge).T
            self._turn(turns, places, bone + s, turn)

    def _pose_hand(self, hand: Floats, s: str, turns: Floats, places: Floats, curl: float) -> None:
        """Half of the hand's twist is the forearm's."""
        h, fore = self.body.head, turns[:, self.body.bone("lowerarm01" + s)].copy()
        along = unit(h("wrist" + s) - h("lowerarm01" + s))
        twist = Rotation.from_matrix(np.swapaxes(fore, -1, -2) @ hand).as_rotvec()
        half = Rotation.from_rotvec(0.5 * (twist @ along)[:, None] * along).as_matrix()
        self._turn(turns, places, "lowerarm02" + s, fore @ half)
        self._turn(turns, places, "wrist" + s, hand)
        self._fingers(hand, s, turns, places, curl)

    def _palm(self, hand: Floats, wrist: Floats, s: str) -> Floats:
        palm = np.tile(np.eye(4), (len(wrist), 1, 1))
        z, y = hand @ self.knuckles[s], hand @ self.palm_out[s]
        palm[:, :3, :3] = np.stack([np.cross(y, z), y, z], axis=-1)
        palm[:, :3, 3] = wrist + hand @ (self.palm[s] - self.body.head("wrist" + s))
        return palm

    def _hand(self, toward: Floats, shaft: Floats, s: str) -> Floats:
        """Turn of the hand: knuckles along the shaft, fingers away from the elbow."""
        rest = np.stack(
            [self.knuckles[s], self.palm_out[s], np.cross(self.knuckles[s], self.palm_out[s])],
            axis=-1,
        )
        fingers = unit(self.body.head("finger3-1" + s) - self.body.head("wrist" + s))
        sign = np.sign(fingers @ rest[:, 2])
        third = sign * unit(toward - (toward * shaft).sum(axis=-1, keepdims=True) * shaft)
        now = np.stack([shaft, np.cross(third, shaft), third], axis=-1)
        return np.asarray(now @ rest.T)

    def _fingers(
        self, hand: Floats, s: str, turns: Floats, places: Floats, curl_rad: float
    ) -> None:
        """Fingers curled, by so much a link: around a shaft, or less."""
        fingers = unit(self.body.head("finger3-1" + s) - self.body.head("wrist" + s))
        curl = np.sign(np.cross(self.knuckles[s], fingers) @ self.palm_out[s])
        for finger in range(1, 6):
            for link in range(1, 4):
                angle = (0.15 if finger == 1 else curl_rad) * link
                bend = Rotation.from_rotvec(curl * angle * self.knuckles[s]).as_matrix()
                self._turn(turns, places, f"finger{finger}-{link}{s}", hand @ bend)
