"""Small painters: each takes a picture, draws one thing on a copy, and hands the copy back.

Pictures are ``(height, width, 3)`` uint8 RGB; positions are pixels of that picture. What was not
seen (NaN) is not drawn. Calls differ by shape as well as colour: a triangle is flagged, a disc is
clear, an open diamond is can't tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

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
_JOINTS = SKELETON.indices(
    *(
        f"{side}_{joint}"
        for side in ("left", "right")
        for joint in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
    )
)
HIPS = (SKELETON.index("left_hip"), SKELETON.index("right_hip"))


def draw_body(frame: Picture, xy_px: FloatArray, colour: Rgb = DEFENDER) -> Picture:
    """Draw the edges and joints of one body, ``xy_px`` being ``(33, 2)``."""
    painted = frame.copy()
    width = _line_width(xy_px)
    edges = [(xy_px[a], xy_px[b]) for a, b in SKELETON.edges]
    # A dark rim first, so that the body stays readable on grass, sky and white jerseys alike.
    for tone, extra in ((SHADE, 2), (colour, 0)):
        for start, end in edges:
            _line(painted, start, end, tone, width + 2 * extra)
        for joint in xy_px[SHOULDERS[0] :]:
            _disc(painted, joint, tone, width + extra)
    return painted


def limbs_missing(xy_px: FloatArray) -> int:
    """How many joints of trunk, arms and legs of a body ``(33, 2)`` are not seen."""
    return int(np.isnan(xy_px[list(_JOINTS)]).any(axis=1).sum())


def draw_knee(
    frame: Picture,
    xy_px: FloatArray,
    figure: str,
    side: int = -1,
    call: Call | None = None,
) -> Picture:
    """Show the bend at the straighter leg's knee: how far the shin turns off the thigh's line.

    The figure is the measured one, nothing is drawn without it; the arc is as the picture shows
    it, which from in front or behind is less than the true bend. The figure stands beside the
    body, to its right (``side`` 1) or left (-1), after the shape of the ``call`` if there is one.
    """
    painted = frame.copy()
    leg = straighter_leg(xy_px)
    if leg is None or not figure:
        return painted
    hip, knee, ankle = leg
    thigh, shin = knee - hip, ankle - knee
    reach = 0.75 * float(np.linalg.norm(shin))
    along = thigh / np.linalg.norm(thigh)
    colour = DEFENDER if call is None else CALL_COLOUR[call]
    width = max(2, _line_width(xy_px) * 2 // 3)
    _dashes(painted, knee, knee + along * reach, GUIDE, width)
    start = np.arctan2(thigh[1], thigh[0])
    turn = np.arctan2(thigh[0] * shin[1] - thigh[1] * shin[0], thigh @ shin)
    angles = start + np.linspace(0.0, turn, 24)
    arc = knee + 0.8 * reach * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    for tone, extra in ((SHADE, 4), (colour, 0)):
        cv2.polylines(painted, [_fixed(arc)], False, tone, width + extra, cv2.LINE_AA, _SHIFT)
    _label(painted, f"knee {figure}", xy_px, knee[1], side, call)
    return painted


def draw_trunk(frame: Picture, xy_px: FloatArray, figure: str, side: int = -1) -> Picture:
    """Show the trunk's line against the upright through the hips, with the measured lean.

    The figure stands beside the body as in :func:`draw_knee`.
    """
    painted = frame.copy()
    hips, shoulders = xy_px[list(HIPS)].mean(axis=0), xy_px[list(SHOULDERS)].mean(axis=0)
    if not (figure and np.isfinite([*hips, *shoulders]).all()):
        return painted
    width = max(2, _line_width(xy_px) * 2 // 3)
    length = float(np.linalg.norm(shoulders - hips))
    top = hips - np.array([0.0, 1.15 * length])
    for tone, extra in ((SHADE, 4), (DEFENDER, 0)):
        _line(painted, hips, shoulders, tone, width + extra)
    _dashes(painted, hips, top, GUIDE, width)
    middle = (hips[1] + shoulders[1]) / 2
    if (leg := straighter_leg(xy_px)) is not None:
        # Of a small player trunk and knee are nearer than two lines of type.
        middle = min(middle, leg[1][1] - _PLATE * text_height(frame))
    _label(painted, f"trunk {figure}", xy_px, middle, side)
    return painted


def draw_caption(frame: Picture, left: str, right: str = "") -> Picture:
    """Write a dark band along the bottom, readable when the picture is 400 px wide on a phone."""
    painted = frame.copy()
    height, width = painted.shape[:2]
    size = text_height(painted)
    band = painted[max(0, height - round(1.7 * size)) :]
    band[:] = (0.3 * band + 0.7 * np.array(SHADE)).astype(np.uint8)
    middle = height - 0.85 * size
    _write(painted, left, np.array([0.6 * size, middle]), size, GUIDE)
    drawn = _mask(right, size).shape[1]
    _write(painted, right, np.array([width - 0.6 * size - drawn, middle]), size, GUIDE)
    return painted


def draw_tag(frame: Picture, text: str) -> Picture:
    """Write a word on a dark plate in the top left corner."""
    painted = frame.copy()
    size = text_height(painted)
    _plate(painted, text, np.array([0.6 * size, 1.2 * size]), size)
    return painted


@dataclass(frozen=True)
class Figures:
    """What is written into a picture, as words with their unit; what is empty is left out.

    ``knee_call`` puts its shape before the knee's figure.
    """

    knee: str
    trunk: str
    speed: str
    knee_call: Call | None = None


def draw_moment(
    frame: Picture, defender: FloatArray, attacker: FloatArray, figures: Figures, caption: str
) -> Picture:
    """Both bodies ``(33, 2)``, the defender's angles and the caption, in one picture."""
    side = free_side(defender, attacker)
    painted = draw_body(frame, attacker, ATTACKER)
    painted = draw_body(painted, defender)
    painted = draw_trunk(painted, defender, figures.trunk, side)
    painted = draw_knee(painted, defender, figures.knee, side, figures.knee_call)
    return draw_caption(painted, caption, figures.speed)


def free_side(xy_px: FloatArray, other_xy_px: FloatArray) -> int:
    """The side of a body away from the other: 1 right, -1 left; left when either is unseen."""
    seen, other = (each[np.isfinite(each).all(axis=1), 0] for each in (xy_px, other_xy_px))
    return 1 if len(seen) and len(other) and seen.mean() > other.mean() else -1


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


def _line_width(xy_px: FloatArray) -> int:
    seen = xy_px[np.isfinite(xy_px).all(axis=1)]
    tall = float(np.ptp(seen[:, 1])) if len(seen) else 0.0
    return int(np.clip(round(tall / 75), 2, 8))


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


def _label(
    picture: Picture,
    text: str,
    xy_px: FloatArray,
    y: float,
    side: int,
    call: Call | None = None,
) -> None:
    """Put a plate beside a body at a height, on the given side if it fits in there."""
    size = text_height(picture)
    drawn = _plate_width(text, size, call)
    width, gap = picture.shape[1], 0.6 * size
    right = float(np.nanmax(xy_px[:, 0])) + gap
    left = float(np.nanmin(xy_px[:, 0])) - gap - drawn
    # A plate that juts out a little is pushed in; one mostly outside goes to the other side.
    if side > 0:
        x = right if right + drawn / 2 <= width else left
    else:
        x = left if left >= -drawn / 2 else right
    x = max(0.0, min(x, width - drawn))
    middle = float(np.clip(y, size, picture.shape[0] - 2.5 * size))
    _plate(picture, text, np.array([x, middle]), size, call)


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
