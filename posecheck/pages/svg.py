"""Small pieces of SVG that plots are made of, styled by the page's own CSS."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from markupsafe import Markup, escape

from posecheck.judging.verdict import Call
from posecheck.maths.arrays import FloatArray

CALL_CLASS = {Call.FLAGGED: "flagged", Call.CLEAR: "clear", Call.CANT_TELL: "unsure"}
"""By call, the class that gives it its colour."""


def svg(
    kind: str,
    width: float,
    height: float,
    title: str,
    parts: Sequence[str],
    stretch: bool = False,
    data: Mapping[str, str] | None = None,
) -> Markup:
    """A drawing of its parts; ``stretch`` lets it take whatever width it is given, and scripts
    find ``data`` in it."""
    more = ' preserveAspectRatio="none"' if stretch else ""
    more += "".join(f' data-{name}="{escape(value)}"' for name, value in (data or {}).items())
    return Markup(
        f'<svg class="{kind}" viewBox="0 0 {width:.0f} {height:.0f}"{more} role="img">'
        f"<title>{escape(title)}</title>{''.join(parts)}</svg>"
    )


def call_mark(call: Call, x: float = 8.0, y: float = 8.0, radius: float = 6.0) -> Markup:
    """The shape that stands for a call, as an SVG element."""
    kind = CALL_CLASS[call]
    if call is Call.CLEAR:
        return Markup(f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>')
    shape = {
        Call.FLAGGED: [(0.0, -1.1), (1.15, 0.9), (-1.15, 0.9)],
        Call.CANT_TELL: [(0.0, -1.15), (1.15, 0.0), (0.0, 1.15), (-1.15, 0.0)],
    }[call]
    corners = " ".join(f"{x + radius * a:.1f},{y + radius * b:.1f}" for a, b in shape)
    return Markup(f'<polygon class="{kind}" points="{corners}"/>')


def polyline(xy: FloatArray, kind: str) -> str:
    """A line with gaps where not finite."""
    seen = np.isfinite(xy).all(axis=1)
    begins = np.diff(seen, prepend=False)[seen]  # where the row before was not seen
    letters = np.where(begins, "M", "L").tolist()
    rows = zip(letters, xy[seen].tolist(), strict=True)
    commands = [f"{letter}{x:.1f} {y:.1f}" for letter, (x, y) in rows]
    return f'<path class="{kind}" d="{"".join(commands)}"/>' if commands else ""


def finite(points: FloatArray) -> FloatArray:
    """The rows of ``(n, 2)`` that were seen."""
    return points[np.isfinite(points).all(axis=1)]
