"""Small painters: each takes a picture, draws one thing on a copy, and hands the copy back.

Pictures are ``(height, width, 3)`` uint8 RGB; positions are pixels of that picture. What was not
seen (NaN) is not drawn. Calls differ by shape as well as colour: a triangle is flagged, a disc is
clear, an open diamond is can't tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from posecheck.judging.verdict import Call
from posecheck.maths.arrays import FloatArray
from posecheck.pose.skeleton import SKELETON

Rgb = tuple[int, int, int]
Picture = npt.NDArray[np.uint8]

DEFENDER: Rgb = (255, 214, 72)
"""Source: definition (of the pictures' colours, as the next ones)"""
ATTACKER: Rgb = (226, 232, 240)
"""Source: definition"""
GUIDE: Rgb = (255, 255, 255)
"""Source: definition"""
SHADE: Rgb = (16, 22, 34)
"""Source: definition"""
CALL_COLOUR: dict[Call, Rgb] = {
    Call.FLAGGED: (255, 138, 61),
    Call.CLEAR: (94, 190, 255),
    Call.CANT_TELL: (214, 214, 214),
}
"""Source: definition"""

LEGS = tuple(
    tuple(SKELETON.index(f"{side}_{joint}") for joint in ("hip", "knee", "ankle"))
    for side in ("left", "right")
)
SHOULDERS = (SKELETON.index("left_shoulder"), SKELETON.index("right_shoulder"))
HIPS = (SKELETON.index("left_hip"), SKELETON.index("right_hip"))

_FACE = range(SKELETON.index("left_shoulder"))
_JOINTS = SKELETON.indices(
    *(
        f"{side}_{joint}"
        for side in ("left", "right")
        for joint in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
    )
)
_SIDES = ("left", "right")
_ARM = {
    side: SKELETON.indices(f"{side}_shoulder", f"{side}_elbow", f"{side}_wrist") for side in _SIDES
}
_LEG = {
    side: SKELETON.indices(f"{side}_hip", f"{side}_knee", f"{side}_ankle", f"{side}_foot_index")
    for side in _SIDES
}
"""Hip to ankle, and a plain foot: one line from the ankle to the toes."""
_BONES_M: tuple[tuple[tuple[int, ...], tuple[int, ...], float], ...] = (
    (SHOULDERS, HIPS, 0.50),
    *(((hip,), (knee,), 0.42) for hip, knee, _ in LEGS),
    *(((knee,), (ankle,), 0.42) for _, knee, ankle in LEGS),
)
"""Lengths that a body's scale in the picture is read off: trunk, thighs, shins.

Source: common practice
"""
_HEAD_M = 0.14
"""Radius of the ring that stands for the head; it holds a helmet.

Source: guess
"""


def draw_body(frame: Picture, xy_px: FloatArray, colour: Rgb = DEFENDER) -> Picture:
    """Draw one body, ``xy_px`` being ``(33, 2)``: a ring for the head, spine, limbs, plain feet.

    Limbs away from the camera are drawn first, each with a dark rim of its own, so that of
    crossing legs the nearer one shows, and all is readable on grass, sky and white jerseys alike.
    What was not seen is left out with the limbs that end in it.
    """
    painted = frame.copy()
    width, rim = body_line_px(xy_px), 2 if _tall(xy_px) > 120 else 1
    left_is_near = _faces_left(xy_px)
    far, near = ("right", "left") if left_is_near else ("left", "right")
    for side in (far, near):
        if side == near:
            _stroke(painted, _trunk(xy_px), colour, width, rim)
            _ring(painted, xy_px, colour, width, rim)
        _stroke(painted, [xy_px[_LEG[side]]], colour, width, rim)
        _stroke(painted, [xy_px[_ARM[side]]], colour, width, rim)
    return painted


def limbs_missing(xy_px: FloatArray) -> int:
    """How many joints of trunk, arms and legs of a body ``(33, 2)`` are not seen."""
    return int(np.isnan(xy_px[list(_JOINTS)]).any(axis=1).sum())


def draw_knee(frame: Picture, xy_px: FloatArray, call: Call | None = None) -> Picture:
    """Show the bend at the straighter leg's knee: how far the shin turns off the thigh's line.

    The arc is as the picture shows it, which from in front or behind is less than the true bend.
    """
    painted = frame.copy()
    leg = straighter_leg(xy_px)
    if leg is None:
        return painted
    hip, knee, ankle = leg
    thigh, shin = knee - hip, ankle - knee
    reach = 0.75 * float(np.linalg.norm(shin))
    along = thigh / np.linalg.norm(thigh)
    colour = DEFENDER if call is None else CALL_COLOUR[call]
    width = max(2, body_line_px(xy_px) * 2 // 3)
    _dashes(painted, knee, knee + along * reach, GUIDE, width)
    start = np.arctan2(thigh[1], thigh[0])
    turn = np.arctan2(thigh[0] * shin[1] - thigh[1] * shin[0], thigh @ shin)
    angles = start + np.linspace(0.0, turn, 24)
    arc = knee + 0.8 * reach * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    for tone, extra in ((SHADE, 4), (colour, 0)):
        cv2.polylines(painted, [_fixed(arc)], False, tone, width + extra, cv2.LINE_AA, _SHIFT)
    return painted


def draw_trunk(frame: Picture, xy_px: FloatArray) -> Picture:
    """Show the upright through the hips, which the trunk leans away from."""
    painted = frame.copy()
    hips, shoulders = xy_px[list(HIPS)].mean(axis=0), xy_px[list(SHOULDERS)].mean(axis=0)
    if np.isfinite([*hips, *shoulders]).all():
        length = float(np.linalg.norm(shoulders - hips))
        top = hips - np.array([0.0, 1.15 * length])
        _dashes(painted, hips, top, GUIDE, max(2, body_line_px(xy_px) * 2 // 3))
    return painted


def draw_caption(frame: Picture, left: str, right: str = "") -> Picture:
    """Write a dark band along the top, readable when the picture is 400 px wide on a phone.

    At the top because a player's controls lie over the foot of a film.
    """
    painted = frame.copy()
    size = text_height(painted)
    band = painted[: caption_px(painted)]
    band[:] = (0.3 * band + 0.7 * np.array(SHADE)).astype(np.uint8)
    middle = 0.85 * size
    _write(painted, left, np.array([0.6 * size, middle]), size, GUIDE)
    drawn = _mask(right, size).shape[1]
    _write(painted, right, np.array([painted.shape[1] - 0.6 * size - drawn, middle]), size, GUIDE)
    return painted


@dataclass(frozen=True)
class Figures:
    """What is written into a picture, as words with their unit; what is empty is left out.

    ``knee_call`` puts its shape before the knee's figure.
    """

    knee: str
    trunk: str
    knee_call: Call | None = None


def draw_figures(frame: Picture, figures: Figures, bodies: FloatArray) -> Picture:
    """Write figures on plates in an upper corner that is free; none when neither is.

    Args:
        frame: the picture.
        figures: what to write.
        bodies: ``(n, 2)`` landmarks of everybody who is to stay in sight.
    """
    painted = frame.copy()
    lines = [(f"knee {figures.knee}", figures.knee_call)] if figures.knee else []
    lines += [(f"trunk {figures.trunk}", None)] if figures.trunk else []
    if not lines:
        return painted
    size = text_height(painted)
    wide = max(_plate_width(text, size, call) for text, call in lines)
    top, tall = caption_px(painted) + 0.3 * size, _PLATE * size * len(lines)
    seen = bodies[np.isfinite(bodies).all(axis=1)]
    # A head and a stick reach beyond the landmarks.
    near = seen[seen[:, 1] < top + tall + 2 * size]
    for left in (0.4 * size, painted.shape[1] - 0.4 * size - wide):
        if not ((near[:, 0] > left - 2 * size) & (near[:, 0] < left + wide + 2 * size)).any():
            for number, (text, call) in enumerate(lines):
                middle = top + (0.75 + _PLATE * number) * size
                _plate(painted, text, np.array([left, middle]), size, call)
            break
    return painted


def straighter_leg(xy_px: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Hip, knee and ankle, each ``(2,)``, of the leg that looks straighter; None when unseen."""
    best, least = None, np.inf
    for hip, knee, ankle in LEGS:
        thigh, shin = xy_px[knee] - xy_px[hip], xy_px[ankle] - xy_px[knee]
        lengths = np.linalg.norm(thigh) * np.linalg.norm(shin)
        if not lengths > 0:  # also when NaN
            continue
        bend = float(np.arccos(np.clip(thigh @ shin / lengths, -1.0, 1.0)))
        if bend < least:
            best, least = (xy_px[hip], xy_px[knee], xy_px[ankle]), bend
    return best


def text_height(frame: Picture) -> int:
    """Pixels of type that are still read when the picture is shown 400 px wide."""
    return max(12, round(int(frame.shape[1]) / 29))


def caption_px(frame: Picture) -> int:
    """Height of the caption's band."""
    return round(1.7 * text_height(frame))


def body_line_px(xy_px: FloatArray) -> int:
    """Width of a body's lines: thin enough to see the body under them."""
    return int(np.clip(round(_tall(xy_px) / 75), 2, 8))


_PLATE = 1.6
"""From the middle of a plate to that of the next, in heights of type.

Source: definition
"""
_SHIFT = 4
"""OpenCV draws at a sixteenth of a pixel with this many fractional bits.

Source: definition
"""


def _fixed(points: FloatArray) -> npt.NDArray[np.int32]:
    return np.asarray(np.round(np.asarray(points) * 2**_SHIFT), dtype=np.int32)


def _tall(xy_px: FloatArray) -> float:
    seen = xy_px[np.isfinite(xy_px).all(axis=1)]
    return float(np.ptp(seen[:, 1])) if len(seen) else 0.0


def _faces_left(xy_px: FloatArray) -> bool:
    """Whether he faces left in the picture, so that his left side is nearer to the camera."""
    toes, heels = (
        SKELETON.indices(f"left_{end}", f"right_{end}") for end in ("foot_index", "heel")
    )
    return bool((xy_px[toes, 0] - xy_px[heels, 0]).sum() < 0)


def _trunk(xy_px: FloatArray) -> list[FloatArray]:
    """Spine, shoulders and hips, each a line; the spine reaches up to the ring of the head."""
    shoulders, hips = xy_px[list(SHOULDERS)], xy_px[list(HIPS)]
    neck, middle = shoulders.mean(axis=0), hips.mean(axis=0)
    lines = [shoulders, hips, np.stack([neck, middle])]
    if (head := _head(xy_px)) is not None:
        centre, radius = head
        away = neck - centre
        far = float(np.linalg.norm(away))
        if far > radius:  # False when the neck is not seen
            lines.append(np.stack([centre + away * (radius / far), neck]))
    return lines


def _head(xy_px: FloatArray) -> tuple[FloatArray, float] | None:
    """Middle and radius of the head, None when it is not seen or the body gives no scale."""
    lengths = [
        np.linalg.norm(xy_px[list(a)].mean(axis=0) - xy_px[list(b)].mean(axis=0)) / metres
        for a, b, metres in _BONES_M
    ]
    # A bone seen from its end is short, none is ever too long.
    scale = max((float(each) for each in lengths if np.isfinite(each)), default=0.0)
    face = xy_px[_FACE]
    seen = face[np.isfinite(face).all(axis=1)]
    return (seen.mean(axis=0), _HEAD_M * scale) if len(seen) and scale > 0 else None


def _stroke(
    picture: Picture, lines: Sequence[FloatArray], colour: Rgb, width: int, rim: int
) -> None:
    """Draw lines through their points, the dark rim of all before the colour of any."""
    for tone, extra in ((SHADE, 2 * rim), (colour, 0)):
        for line in lines:
            for start, end in pairwise(line):
                _line(picture, start, end, tone, width + extra)


def _ring(picture: Picture, xy_px: FloatArray, colour: Rgb, width: int, rim: int) -> None:
    if (head := _head(xy_px)) is None:
        return
    centre, radius = head
    x, y = _fixed(centre).tolist()
    width = max(2, width * 3 // 4)
    for tone, extra in ((SHADE, 2 * rim), (colour, 0)):
        size = round(radius * 2**_SHIFT)
        cv2.circle(picture, (x, y), size, tone, width + extra, cv2.LINE_AA, _SHIFT)


def _line(picture: Picture, start: FloatArray, end: FloatArray, colour: Rgb, width: int) -> None:
    if np.isfinite(start).all() and np.isfinite(end).all():
        (a, b), (c, d) = _fixed(np.stack([start, end])).tolist()
        cv2.line(picture, (a, b), (c, d), colour, width, cv2.LINE_AA, _SHIFT)


def _disc(picture: Picture, centre: FloatArray, colour: Rgb, radius: float) -> None:
    if np.isfinite(centre).all():
        x, y = _fixed(centre).tolist()
        cv2.circle(picture, (x, y), round(radius * 2**_SHIFT), colour, -1, cv2.LINE_AA, _SHIFT)


def _dashes(picture: Picture, start: FloatArray, end: FloatArray, colour: Rgb, width: int) -> None:
    count = max(2, int(np.linalg.norm(end - start) / (4 * width)))
    stops = start + np.linspace(0.0, 1.0, 2 * count)[:, None] * (end - start)
    for tone, extra in ((SHADE, 2), (colour, 0)):
        for a, b in zip(stops[::2], stops[1::2], strict=True):
            _line(picture, a, b, tone, width + extra)


def paint_mark(picture: Picture, centre: FloatArray, radius: float, call: Call) -> None:
    """Paint the shape that stands for a call onto a picture: triangle, disc or open diamond."""
    colour = CALL_COLOUR[call]
    if call is Call.CLEAR:
        _disc(picture, centre, colour, radius)
        return
    corners = {
        Call.FLAGGED: [(0.0, -1.1), (1.1, 0.9), (-1.1, 0.9)],
        Call.CANT_TELL: [(0.0, -1.2), (1.2, 0.0), (0.0, 1.2), (-1.2, 0.0)],
    }[call]
    outline = [_fixed(centre + radius * np.array(corners))]
    if call is Call.FLAGGED:
        cv2.fillPoly(picture, outline, colour, cv2.LINE_AA, _SHIFT)
    else:
        width = max(2, round(radius / 3))
        cv2.polylines(picture, outline, True, colour, width, cv2.LINE_AA, _SHIFT)


def _plate_width(text: str, size: int, call: Call | None) -> float:
    return int(_mask(text, size).shape[1]) + (0.8 if call is None else 1.9) * size


def _plate(
    picture: Picture, text: str, left_middle: FloatArray, size: int, call: Call | None = None
) -> None:
    height, width = picture.shape[:2]
    x0, y0 = left_middle - np.array([0.0, 0.75 * size])
    x1, y1 = x0 + _plate_width(text, size, call), y0 + 1.5 * size
    # A body partly out of the picture takes its plate along: what lies outside is not drawn.
    rows = slice(max(0, round(y0)), max(0, min(height, round(y1))))
    columns = slice(max(0, round(x0)), max(0, min(width, round(x1))))
    under = picture[rows, columns]
    picture[rows, columns] = (0.25 * under + 0.75 * np.array(SHADE)).astype(np.uint8)
    start = left_middle + np.array([0.4 * size, 0.0])
    if call is not None:
        paint_mark(picture, start + np.array([0.45 * size, 0.0]), 0.38 * size, call)
        start = start + np.array([1.1 * size, 0.0])
    _write(picture, text, start, size, GUIDE)


@lru_cache(maxsize=512)
def _mask(text: str, size: int) -> npt.NDArray[np.float32]:
    """Coverage of a line of type, ``(1.4 * size, width)`` from 0 to 1."""
    font = ImageFont.load_default(size)
    width = max(1, round(font.getlength(text)))
    canvas = Image.new("L", (width, round(1.4 * size)))
    ImageDraw.Draw(canvas).text((0, 0.7 * size), text, fill=255, font=font, anchor="lm")
    return np.asarray(canvas, dtype=np.float32) / np.float32(255)


def _write(picture: Picture, text: str, left_middle: FloatArray, size: int, colour: Rgb) -> None:
    mask = _mask(text, size)
    top, left = round(left_middle[1] - mask.shape[0] / 2), round(left_middle[0])
    rows = slice(max(0, top), max(0, min(picture.shape[0], top + mask.shape[0])))
    columns = slice(max(0, left), max(0, min(picture.shape[1], left + mask.shape[1])))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return
    cover = mask[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    under = picture[rows, columns]
    inked = under + cover[..., None] * (np.array(colour, dtype=np.float32) - under)
    picture[rows, columns] = inked.astype(np.uint8)
