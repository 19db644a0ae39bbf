"""Plots as inline SVG, small and styled by the page's own CSS so that they follow light and dark.

Hand-made because a practice has hundreds of them: a plotting library takes longer for one than
the whole page may take. Every function returns markup that is safe to put into a page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from posecheck.ground.field import CREASE_RADIUS_US_M, GOAL_WIDTH_M
from posecheck.measures.measure import QUANTITY, Measure
from posecheck.pages.units import in_mph, in_yards
from posecheck.practice import Layout
from posecheck.rep import Rep
from posecheck.result import Series
from posecheck.verdict import Call

FloatArray = npt.NDArray[np.float64]

DOT_EVERY_S = 0.2
"""Spacing in time of the dots along the path from above."""

STRIP_RANGE: dict[str, tuple[float, float]] = {
    "knee_bend_deg": (0, 100),
    "late_knee_bend_deg": (0, 100),
    "trunk_lean_deg": (-10, 70),
    "hip_drop": (-0.05, 0.4),
    "hand_reach": (-0.2, 1.0),
    "hand_height": (-0.5, 1.5),
    "base_width": (0, 3.5),
    "closeout_speed_mps": (0, 9),
    "arrival_speed_mps": (0, 8),
    "braking_distance_m": (0, 6),
    "peak_braking_mps2": (0, 10),
    "time_to_arrival_s": (0, 5),
    "overrun_m": (-0.5, 4),
    "approach_offset_m": (-3, 3),
    "bow_m": (-3, 3),
    "heading_deg": (-90, 90),
    "goal_side_m": (-4, 4),
    "attacker_went_m": (-3, 3),
}
"""What a strip spans, the same in every rep so that strips compare by eye."""


@dataclass(frozen=True)
class Good:
    """The good side of a quantity: at least ``low``, at most ``high``; None where open."""

    low: float | None = None
    high: float | None = None


def interval_strip(measure: Measure, good: Good | None) -> Markup:
    """A 90 % interval as a bar, the good side as a band, thresholds as ticks."""
    width, height = 200.0, 22.0
    first, last = STRIP_RANGE[measure.key]

    def x(value: float) -> float:
        return 4 + (width - 8) * float(np.clip((value - first) / (last - first), 0, 1))

    parts = [f'<line class="axis" x1="4" x2="{width - 4:.0f}" y1="11" y2="11"/>']
    if good is not None:
        left = x(first if good.low is None else good.low)
        right = x(last if good.high is None else good.high)
        parts.append(
            f'<rect class="good" x="{left:.1f}" y="3" width="{right - left:.1f}" height="16"/>'
        )
        parts += [
            f'<line class="tick" x1="{x(edge):.1f}" x2="{x(edge):.1f}" y1="1" y2="21"/>'
            for edge in (good.low, good.high)
            if edge is not None
        ]
    if measure.low is not None and measure.high is not None and measure.value is not None:
        left, right = x(measure.low), x(measure.high)
        parts.append(
            f'<rect class="bar" x="{left:.1f}" y="7.5" width="{max(2.0, right - left):.1f}" '
            f'height="7" rx="2"/><line class="best" x1="{x(measure.value):.1f}" '
            f'x2="{x(measure.value):.1f}" y1="5" y2="17"/>'
        )
    title = f"{QUANTITY[measure.key].label}, error bar"
    # A strip takes whatever width it is given; everything in it is upright or level.
    return _svg("strip", width, height, title, parts, stretch=True)


def knee_plot(
    series: Series, rep: Rep, levels: Sequence[tuple[float, str]], window_s: tuple[float, float]
) -> Markup:
    """Knee bend over time.

    Args:
        series: the rep over time.
        rep: its moments.
        levels: thresholds in degrees, each with the words beside its line.
        window_s: the arrival window about arrival, which is shaded.
    """
    plot = _TimePlot.of(series, rep, top=100.0)
    parts = plot.frame([0, 30, 60, 90], "°")
    if rep.arrival_s is not None:
        parts.insert(0, plot.shade(rep.arrival_s + window_s[0], rep.arrival_s + window_s[1]))
        parts.append(plot.moment(rep.arrival_s, "arrival"))
    parts.append(plot.curve(series.t_s, series.knee_bend_deg))
    parts += [plot.level(value, words) for value, words in levels]
    return _svg("plot", plot.width, plot.height, "Knee bend over time", parts)


def speed_plot(series: Series, rep: Rep, levels: Sequence[tuple[float, str]]) -> Markup:
    """Ground speed over time with braking onset, arrival and the arrival-speed threshold."""
    seen = series.speed_mps[np.isfinite(series.speed_mps)]
    top = max(6.0, 1.15 * float(seen.max())) if len(seen) else 6.0
    plot = _TimePlot.of(series, rep, top=top)
    parts = plot.frame(list(range(0, int(top) + 1, 2)), "")
    # The words of the earlier moment stand before its line, so that two close ones keep apart.
    moments = sorted(
        (t_s, words)
        for t_s, words in ((rep.braking_s, "brakes"), (rep.arrival_s, "arrival"))
        if t_s is not None
    )
    for number, (t_s, words) in enumerate(moments):
        parts.append(plot.moment(t_s, words, before=len(moments) == 2 and number == 0))
    parts.append(plot.curve(series.t_s, series.speed_mps))
    parts += [
        plot.level(value, f"{words} {value:.1f} m/s {in_mph(value)}") for value, words in levels
    ]
    return _svg("plot", plot.width, plot.height, "Ground speed over time, m/s", parts)


def from_above(series: Series, rep: Rep, call: Call, layout: Layout | None) -> Markup:
    """The run-up seen from above, the goal at the bottom, equal scale both ways.

    Args:
        series: the rep over time.
        rep: its moments.
        call: gives the shape that marks arrival.
        layout: known points to draw; None when positions are on the camera's own axes.
    """
    goal = layout is not None and layout.goal
    cones = {name: layout.points[name] for name in sorted(layout.cones)} if layout else {}
    path, attacker = series.defender_xy_m, series.attacker_xy_m
    shown = np.concatenate([_finite(path), _finite(attacker)])
    if len(shown) == 0:
        return Markup("")
    near = {
        name: point for name, point in cones.items() if np.min(np.hypot(*(shown - point).T)) < 6.0
    }  # a cone of another spot far away would only make the drawing small
    crease_m = layout.points.get("crease-top", (0.0, CREASE_RADIUS_US_M))[1] if layout else 0.0
    corners = [shown, *(np.array([point]) for point in near.values())]
    if goal:
        corners.append(crease_m * np.array([(-1.0, -1.0), (1.0, 1.0)]))
    view = _GroundView.around(np.concatenate(corners))

    parts: list[str] = []
    if goal:
        parts.append(view.goal(crease_m))
    for name, point in near.items():
        parts.append(view.cone(point, name))
    at_arrival = None if rep.arrival_s is None else int(np.argmin(abs(series.t_s - rep.arrival_s)))
    last = len(path) if at_arrival is None else at_arrival + 1
    opponent = _attacker_place(attacker, at_arrival)
    if opponent is not None and goal:
        parts.append(view.line(np.stack([opponent, np.zeros(2)]), "to-goal"))
    parts.append(view.line(attacker, "attacker"))
    parts.append(view.line(path[:last], "run"))
    parts.append(view.line(path[max(0, last - 1) :], "after"))
    stops = np.arange(series.t_s[0], series.t_s[-1] + 1e-9, DOT_EVERY_S)
    nearest = np.unique([int(np.argmin(abs(series.t_s - stop))) for stop in stops]).astype(int)
    parts += [view.dot(point) for point in _finite(path[nearest])]
    parts += view.arrow(path[:last])
    run = _finite(path)
    if len(run):
        parts.append(view.word(run[0], "X", "who"))
    if opponent is not None:
        parts.append(view.word(opponent, "O", "who"))
    if at_arrival is not None and np.isfinite(path[at_arrival]).all():
        parts.append(view.mark(path[at_arrival], call))
    parts.append(view.scale_bar())
    return _svg("plot above", view.width, view.height, "The run seen from above", parts)


def call_mark(call: Call, x: float = 8.0, y: float = 8.0, radius: float = 6.0) -> Markup:
    """The shape that stands for a call, as an SVG element."""
    kind = {Call.FLAGGED: "flagged", Call.CLEAR: "clear", Call.CANT_TELL: "unsure"}[call]
    if call is Call.CLEAR:
        return Markup(f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>')
    shape = {
        Call.FLAGGED: [(0.0, -1.1), (1.15, 0.9), (-1.15, 0.9)],
        Call.CANT_TELL: [(0.0, -1.15), (1.15, 0.0), (0.0, 1.15), (-1.15, 0.0)],
    }[call]
    corners = " ".join(f"{x + radius * a:.1f},{y + radius * b:.1f}" for a, b in shape)
    return Markup(f'<polygon class="{kind}" points="{corners}"/>')


def _svg(
    kind: str,
    width: float,
    height: float,
    title: str,
    parts: Sequence[str],
    stretch: bool = False,
) -> Markup:
    aspect = ' preserveAspectRatio="none"' if stretch else ""
    return Markup(
        f'<svg class="{kind}" viewBox="0 0 {width:.0f} {height:.0f}"{aspect} role="img">'
        f"<title>{escape(title)}</title>{''.join(parts)}</svg>"
    )


def _finite(points: FloatArray) -> FloatArray:
    return points[np.isfinite(points).all(axis=1)]


def _attacker_place(attacker: FloatArray, at_arrival: int | None) -> FloatArray | None:
    """Where the attacker is at arrival, else where seen last; None when never seen."""
    seen = _finite(attacker if at_arrival is None else attacker[at_arrival : at_arrival + 1])
    if len(seen) == 0:
        seen = _finite(attacker)
    return np.asarray(seen[-1]) if len(seen) else None


def _polyline(xy: FloatArray, kind: str) -> str:
    """A line with gaps where not finite."""
    commands: list[str] = []
    pen_up = True
    for x, y in xy:
        if not (np.isfinite(x) and np.isfinite(y)):
            pen_up = True
            continue
        commands.append(f"{'M' if pen_up else 'L'}{x:.1f} {y:.1f}")
        pen_up = False
    return f'<path class="{kind}" d="{"".join(commands)}"/>' if commands else ""


@dataclass(frozen=True)
class _TimePlot:
    """A frame with seconds about arrival (else from the start) across and a quantity up."""

    first_s: float
    last_s: float
    zero_s: float
    top: float
    width: float = 340.0
    height: float = 240.0

    @classmethod
    def of(cls, series: Series, rep: Rep, top: float) -> _TimePlot:
        zero = rep.start_s if rep.arrival_s is None else rep.arrival_s
        first = float(series.t_s[0]) if len(series.t_s) else rep.start_s
        last = float(series.t_s[-1]) if len(series.t_s) else rep.end_s
        return cls(first, max(last, first + 0.1), zero, top)

    @property
    def floor(self) -> float:
        """Where zero is drawn."""
        return self.height - 24

    def x(self, t_s: FloatArray | float) -> FloatArray:
        share = (np.asarray(t_s) - self.first_s) / (self.last_s - self.first_s)
        return np.asarray(30 + (self.width - 48) * np.clip(share, 0, 1))

    def y(self, value: FloatArray | float) -> FloatArray:
        return np.asarray(
            self.floor - (self.floor - 18) * np.clip(np.asarray(value) / self.top, 0, 1)
        )

    def frame(self, ticks: Sequence[float], unit: str) -> list[str]:
        parts = [
            f'<line class="grid" x1="30" x2="{self.width - 18:.0f}" y1="{self.y(tick):.1f}" '
            f'y2="{self.y(tick):.1f}"/><text x="26" y="{self.y(tick) + 4:.1f}" '
            f'text-anchor="end">{tick:.0f}{unit}</text>'
            for tick in ticks
        ]
        step = 0.5 if self.last_s - self.first_s <= 4 else 1.0
        halves = np.arange(
            np.ceil((self.first_s - self.zero_s) / step), (self.last_s - self.zero_s) / step + 1e-6
        )
        for second in halves * step:
            words = f"{second:+.1f}".replace("-", "\N{MINUS SIGN}") if second else "0 s"
            parts.append(
                f'<text x="{self.x(self.zero_s + second):.1f}" y="{self.floor + 17:.0f}" '
                f'text-anchor="middle">{words}</text>'
            )
        return parts

    def shade(self, start_s: float, end_s: float) -> str:
        left, right = self.x(start_s), self.x(end_s)
        return (
            f'<rect class="window" x="{left:.1f}" y="18" '
            f'width="{right - left:.1f}" height="{self.floor - 18:.0f}"/>'
        )

    def moment(self, t_s: float, words: str, before: bool = False) -> str:
        x = self.x(t_s)
        anchor, gap = ("end", -4) if before or x > self.width - 60 else ("start", 4)
        return (
            f'<line class="moment" x1="{x:.1f}" x2="{x:.1f}" y1="4" y2="{self.floor:.0f}"/>'
            f'<text x="{x + gap:.1f}" y="13" text-anchor="{anchor}">{escape(words)}</text>'
        )

    def level(self, value: float, words: str) -> str:
        y = self.y(value)
        return (
            f'<line class="level" x1="30" x2="{self.width - 18:.0f}" y1="{y:.1f}" y2="{y:.1f}"/>'
            f'<text class="level-words" x="34" y="{y - 4:.1f}">{escape(words)}</text>'
        )

    def curve(self, t_s: FloatArray, values: FloatArray) -> str:
        shown = np.stack([self.x(t_s), np.where(np.isfinite(values), self.y(values), np.nan)], 1)
        return _polyline(shown, "curve")


@dataclass(frozen=True)
class _GroundView:
    """Metres to the drawing: x to the right, y up."""

    middle: FloatArray
    px_per_m: float
    width: float = 340.0
    height: float = 300.0

    @classmethod
    def around(cls, points: FloatArray) -> _GroundView:
        low, high = points.min(axis=0) - 1.0, points.max(axis=0) + 1.0
        room = np.array([cls.width - 110.0, cls.height - 26.0])  # names of cones at the sides
        scale = min(*(room / (high - low)), 40.0)
        return cls((low + high) / 2, float(scale))

    def px(self, points: FloatArray) -> FloatArray:
        across = np.array([self.px_per_m, -self.px_per_m])
        centre = np.array([self.width / 2, (self.height - 26) / 2])
        return np.asarray((points - self.middle) * across + centre)

    def line(self, points: FloatArray, kind: str) -> str:
        return _polyline(self.px(points), kind) if len(points) else ""

    def dot(self, point: FloatArray) -> str:
        x, y = self.px(point)
        return f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="2.6"/>'

    def word(self, point: FloatArray, words: str, kind: str) -> str:
        x, y = self.px(point)
        return (
            f'<text class="{kind}" x="{x:.1f}" y="{y + 6:.1f}" text-anchor="middle">'
            f"{escape(words)}</text>"
        )

    def mark(self, point: FloatArray, call: Call) -> str:
        x, y = self.px(point)
        return call_mark(call, x, y, 8.0)

    def arrow(self, path: FloatArray) -> list[str]:
        """An arrow head half way along the path, the way it runs."""
        run = _finite(path)
        if len(run) < 3:
            return []
        middle = len(run) // 2
        step = self.px(run[middle]) - self.px(run[middle - 2])
        turn = float(np.degrees(np.arctan2(step[1], step[0])))
        x, y = self.px(run[middle])
        return [
            f'<path class="head" d="M8 0L-6 -6L-6 6Z" '
            f'transform="translate({x:.1f} {y:.1f}) rotate({turn:.0f})"/>'
        ]

    def cone(self, point: tuple[float, float], name: str) -> str:
        x, y = self.px(np.array(point))
        # The name stands outside, away from the run that comes from the middle.
        side, anchor = (-1, "end") if point[0] < 0 else (1, "start")
        return (
            f'<path class="cone" d="M{x:.1f} {y - 6:.1f}l5 10h-10z"/>'
            f'<text x="{x + side * 13:.1f}" y="{y + 4:.1f}" text-anchor="{anchor}">'
            f"{escape(name)}</text>"
        )

    def goal(self, crease_m: float) -> str:
        x, y = self.px(np.zeros(2))
        half, radius = GOAL_WIDTH_M / 2 * self.px_per_m, crease_m * self.px_per_m
        return (
            f'<circle class="crease" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
            f'<path class="goal" d="M{x - half:.1f} {y:.1f}H{x + half:.1f}L{x:.1f} '
            f'{y + 2 * half:.1f}Z"/>'
        )

    def scale_bar(self) -> str:
        metres = 5 if self.px_per_m * 5 < self.width / 2 else 1
        y = self.height - 14
        return (
            f'<path class="scale" d="M10 {y - 4:.0f}v8M10 {y:.0f}h{metres * self.px_per_m:.1f}'
            f'm0 -4v8"/><text x="{18 + metres * self.px_per_m:.1f}" y="{y + 4:.0f}">'
            f"{metres} m {in_yards(metres)}</text>"
        )
