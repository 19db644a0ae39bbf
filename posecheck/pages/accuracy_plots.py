"""Plots of figures against truth, as inline SVG in the manner of the other plots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import Markup, escape

from posecheck.judging.verdict import Call
from posecheck.maths.shares import share_interval
from posecheck.measures.figures import MINUS, after_figure, error_decimals
from posecheck.measures.quantities import QUANTITY
from posecheck.pages.svg import call_mark, svg
from posecheck.pages.tuning import MOST_FRAMES
from posecheck.scoring.groups import (
    HEIGHTS_PX,
    VIEWS_DEG,
    FrameErrors,
    Reading,
    in_range,
)

WIDTH, HEIGHT = 340.0, 280.0
"""Size of a plot in its own units.

Source: definition
"""
LEFT, RIGHT, TOP, BOTTOM = 44.0, 16.0, 12.0, 40.0
"""Its margins, which hold the figures along the axes.

Source: definition
"""


@dataclass(frozen=True)
class _Axes:
    """A frame with figures across and up."""

    across: tuple[float, float]
    up: tuple[float, float]

    def x(self, value: float) -> float:
        low, high = self.across
        share = min(max((value - low) / (high - low), 0.0), 1.0)
        return LEFT + (WIDTH - LEFT - RIGHT) * share

    def y(self, value: float) -> float:
        low, high = self.up
        share = min(max((value - low) / (high - low), 0.0), 1.0)
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * share

    def frame(self, words: str, across: Sequence[float], unit: str = "") -> list[str]:
        """Grid lines with their figures, and what runs across."""
        parts = []
        for tick in ticks(*self.up):
            y = self.y(tick)
            parts.append(
                f'<line class="grid" x1="{LEFT:.0f}" x2="{WIDTH - RIGHT:.0f}" y1="{y:.1f}" '
                f'y2="{y:.1f}"/><text x="{LEFT - 5:.0f}" y="{y + 4:.1f}" text-anchor="end">'
                f"{_figure(tick)}{escape(unit)}</text>"
            )
        for tick in across:
            x = self.x(tick)
            parts.append(
                f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP:.0f}" '
                f'y2="{HEIGHT - BOTTOM:.0f}"/><text x="{x:.1f}" y="{HEIGHT - BOTTOM + 15:.0f}" '
                f'text-anchor="middle">{_figure(tick)}</text>'
            )
        parts.append(
            f'<text x="{(LEFT + WIDTH - RIGHT) / 2:.0f}" y="{HEIGHT - 6:.0f}" '
            f'text-anchor="middle">{escape(words)}</text>'
        )
        return parts


def read_against_true(readings: Sequence[Reading]) -> Markup:
    """What was read over what it was, each with its interval; on the line the two are equal."""
    unit = QUANTITY[readings[0].key].unit
    ends = [value for each in readings for value in (each.truth, each.low, each.high)]
    span = _around(min(ends), max(ends))
    axes = _Axes(span, span)
    parts = axes.frame(f"true{f', {unit}' if unit else ''}", ticks(*span))
    low, high = span
    parts.append(
        f'<line class="level" x1="{axes.x(low):.1f}" y1="{axes.y(low):.1f}" '
        f'x2="{axes.x(high):.1f}" y2="{axes.y(high):.1f}"/>'
    )
    for each in readings:
        parts.append(_bar(each, axes.x(each.truth), axes.y(each.low), axes.y(each.high)))
        parts.append(_dot(each, axes.x(each.truth), axes.y(each.value)))
    return svg("plot", WIDTH, HEIGHT, f"{_label(readings)}: read against true", parts)


def error_by_view(readings: Sequence[Reading], frames: Sequence[FrameErrors]) -> Markup:
    """Errors over the side the player is seen from; steps are the bias of each range."""
    edges = [VIEWS_DEG[0][0], *(high for _, high in VIEWS_DEG)]
    dots = [(each, each.view_deg) for each in readings]
    single = [(each.view_deg, each.error) for each in frames]
    words = "seen from the front 0°, side-on 90°, from behind 180°"
    return _error_plot(dots, single, edges, words, "error by view")


def error_by_height(readings: Sequence[Reading], frames: Sequence[FrameErrors]) -> Markup:
    """Errors over the player's height in the picture; steps are the bias of each range."""
    heights = [each.height_px for each in readings]
    tallest = max([*heights, *(float(h) for each in frames for h in each.height_px)])
    edges = [low for low, _ in HEIGHTS_PX if low < tallest]
    edges.append(math.ceil(tallest / 50) * 50)
    dots = list(zip(readings, heights, strict=True))
    single = [(each.height_px, each.error) for each in frames]
    return _error_plot(dots, single, edges, "player's height, pixels", "error by height")


def error_by_defender(readings: Sequence[Reading]) -> Markup:
    """Errors of each defender in a line of his own."""
    names = sorted({each.defender for each in readings}, key=lambda name: (len(name), name))
    unit = QUANTITY[readings[0].key].unit
    span = _error_span(readings)
    height = 18.0 * len(names) + 52
    axes = _Axes(span, (0, 1))
    parts = []
    for tick in ticks(*span):
        x = axes.x(tick)
        kind = "level" if tick == 0 else "grid"
        parts.append(
            f'<line class="{kind}" x1="{x:.1f}" x2="{x:.1f}" y1="8" y2="{height - 40:.0f}"/>'
            f'<text x="{x:.1f}" y="{height - 25:.0f}" text-anchor="middle">{_figure(tick)}</text>'
        )
    for number, name in enumerate(names):
        y = 18.0 * number + 18
        parts.append(f'<text x="{LEFT - 5:.0f}" y="{y + 4:.0f}" text-anchor="end">{name}</text>')
        parts += [_dot(r, axes.x(r.error), y) for r in readings if r.defender == name]
    middle = (LEFT + WIDTH - RIGHT) / 2
    words = f"read minus true{f', {unit}' if unit else ''}"
    parts.append(f'<text x="{middle:.0f}" y="{height - 6:.0f}" text-anchor="middle">{words}</text>')
    return svg("plot", WIDTH, height, f"{_label(readings)}: error by defender", parts)


def coverage(rows: Sequence[tuple[str, int, int]]) -> Markup:
    """How often intervals hold the truth, each share with its own 90 % interval.

    Args:
        rows: name, how many hold it, of how many.
    """
    left, right = 122.0, 52.0
    height = 20.0 * len(rows) + 36

    def x(share: float) -> float:
        return left + (WIDTH - left - right) * share

    parts = [
        f'<line class="{"level" if share == 0.9 else "grid"}" x1="{x(share):.1f}" '
        f'x2="{x(share):.1f}" y1="4" y2="{height - 24:.0f}"/>'
        f'<text x="{x(share):.1f}" y="{height - 8:.0f}" text-anchor="middle">'
        f"{100 * share:.0f}%</text>"
        for share in (0, 0.5, 0.9)
    ]
    for number, (name, inside, of) in enumerate(rows):
        y = 20.0 * number + 14
        interval = share_interval(inside, of)
        parts.append(
            f'<text x="{left - 8:.0f}" y="{y + 4:.0f}" text-anchor="end">{escape(name)}</text>'
            f'<text x="{WIDTH:.0f}" y="{y + 4:.0f}" text-anchor="end">{inside} of {of}</text>'
        )
        if interval is not None:
            low, high = interval
            parts += [
                f'<line class="span" x1="{x(low):.1f}" x2="{x(high):.1f}" y1="{y}" y2="{y}"/>',
                call_mark(Call.CLEAR, x(inside / of), y, 4.0),
            ]
    return svg("plot", WIDTH, height, "Truths inside the 90 % interval", parts)


def ticks(low: float, high: float) -> list[float]:
    """Round figures from low to high, three to seven of them."""
    rough = (high - low) / 5
    power = 10 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * (1 - 1e-9))
    return [round(n * step, 10) for n in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _error_plot(
    dots: Sequence[tuple[Reading, float]],
    single: Sequence[tuple[np.ndarray, np.ndarray]],
    edges: Sequence[float],
    words: str,
    title: str,
) -> Markup:
    readings = [each for each, _ in dots]
    unit = QUANTITY[readings[0].key].unit
    where = np.concatenate([np.empty(0), *(place for place, _ in single)])
    errors = np.concatenate([np.empty(0), *(error for _, error in single)])
    axes = _Axes((edges[0], edges[-1]), _error_span(readings, errors))
    parts = axes.frame(words, edges, unit if unit == "°" else "")
    thin = max(1, math.ceil(len(errors) / MOST_FRAMES))
    parts += [
        f'<circle class="frame" cx="{axes.x(at):.1f}" cy="{axes.y(error):.1f}" r="1.3"/>'
        for at, error in zip(where[::thin], errors[::thin], strict=True)
    ]
    zero = axes.y(0)
    parts.append(
        f'<line class="level" x1="{LEFT:.0f}" x2="{WIDTH - RIGHT:.0f}" y1="{zero:.1f}" '
        f'y2="{zero:.1f}"/>'
    )
    for each, at in dots:
        x = axes.x(at)
        low, high = axes.y(each.low - each.truth), axes.y(each.high - each.truth)
        parts += [_bar(each, x, low, high), _dot(each, x, axes.y(each.error))]
    # The bias is of single frames where there are any, else of reps.
    if not len(errors):
        where = np.array([at for _, at in dots])
        errors = np.array([each.error for each in readings])
    for low, high in pairwise(edges):
        inside = errors[in_range(where, low, high, last=edges[-1])]
        if len(inside):
            y = axes.y(float(inside.mean()))
            parts.append(
                f'<line class="bias" x1="{axes.x(low) + 2:.1f}" x2="{axes.x(high) - 2:.1f}" '
                f'y1="{y:.1f}" y2="{y:.1f}"/>'
            )
    return svg("plot", WIDTH, HEIGHT, f"{_label(readings)}: {title}", parts)


def _error_span(
    readings: Sequence[Reading], frames: np.ndarray | None = None
) -> tuple[float, float]:
    """As far up as down; of single frames one in a hundred may lie beyond."""
    ends = [abs(edge - each.truth) for each in readings for edge in (each.low, each.high)]
    if frames is not None and len(frames):
        ends.append(float(np.quantile(np.abs(frames), 0.99)))
    most = _around(0, max([*ends, *(abs(each.error) for each in readings)]))[1]
    return -most, most


def _around(low: float, high: float) -> tuple[float, float]:
    """A little more than from low to high; never nothing."""
    margin = 0.05 * (high - low) or 0.5
    return (low - margin if low else 0.0), high + margin


def _bar(each: Reading, x: float, low: float, high: float) -> str:
    kind = "span" if each.inside else "span missed"
    return f'<line class="{kind}" x1="{x:.1f}" x2="{x:.1f}" y1="{low:.1f}" y2="{high:.1f}"/>'


def _dot(each: Reading, x: float, y: float) -> str:
    unit = QUANTITY[each.key].unit
    read, true = (
        f"{value:.{error_decimals(unit)}f}{after_figure(unit)}"
        for value in (each.value, each.truth)
    )
    words = f"{each.clip}: read {read}, true {true}"
    mark = call_mark(Call.CLEAR if each.inside else Call.FLAGGED, x, y, 4.0)
    return f"<g><title>{escape(words)}</title>{mark}</g>"


def _figure(value: float) -> str:
    return f"{value:g}".replace("-", MINUS)


def _label(readings: Sequence[Reading]) -> str:
    return QUANTITY[readings[0].key].label
