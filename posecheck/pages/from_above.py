"""The ground seen from above as inline SVG, the goal at the bottom, equal scale in both directions.

One rep by itself, and all reps of a practice on one field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from posecheck.judging.verdict import Call
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import nearest_frame
from posecheck.maths.units import Units
from posecheck.measures.result import Series
from posecheck.pages.svg import CALL_CLASS, call_mark, finite, polyline, svg
from posecheck.pages.tuning import (
    AROUND_M,
    CORNER_EVERY_S,
    DOT_EVERY_S,
    MOST_PX_PER_M,
    NEAR_CONE_M,
)
from posecheck.practice.field import CREASE_RADIUS_US_M, GOAL_WIDTH_M, crease_radius_m
from posecheck.practice.layout import INSIDE, Layout
from posecheck.reps.rep import Rep


@dataclass(frozen=True)
class RunPath:
    """A rep's path among those of a practice.

    Attributes:
        number: of the rep on the page.
        call: of the rep.
        series, rep: its path and moments.
        spot, player: what it can be chosen by; empty when not stated.
        words: what is said when it is pointed at.
    """

    number: int
    call: Call
    series: Series
    rep: Rep
    spot: str
    player: str
    words: str


def field(paths: Sequence[RunPath], layout: Layout, units: Units = Units.METRES) -> Markup:
    """Every rep's path from start to arrival on one field, flagged ones on top.

    A call shows by colour, by the line (flagged dashed, clear whole, can't tell dotted) and by the
    shape that marks arrival. Each path leads to its rep.

    Args:
        paths: reps whose positions are on the field's axes.
        layout: known points to draw.
        units: of the scale bar.

    Returns:
        Empty when nothing of them was seen.
    """
    if not any(len(finite(run_path.series.defender_xy_m)) for run_path in paths):
        return Markup("")
    cones = {name: np.array(layout.points[name]) for name in sorted(layout.cones)}
    crease_m = crease_radius_m(layout) or CREASE_RADIUS_US_M
    known = [*cones.values()]
    if layout.goal:
        known += list(crease_m * np.array([(-1.0, -1.0), (1.0, 1.0)]))
    seen = np.concatenate([finite(run_path.series.defender_xy_m) for run_path in paths])
    if known:
        low, high = np.min(known, axis=0) - AROUND_M, np.max(known, axis=0) + AROUND_M
        seen = seen[((seen >= low) & (seen <= high)).all(axis=1)]
    view = _GroundView.fitted(np.concatenate([seen, *(point[None] for point in known)]))
    parts = [view.goal(crease_m)] if layout.goal else []
    # Every run leaves the inside cone, so its name would only be run over.
    parts += [
        view.cone(point, "" if name == INSIDE else name, aside=False)
        for name, point in cones.items()
    ]
    on_top = [Call.CLEAR, Call.CANT_TELL, Call.FLAGGED]
    parts += [
        _run_path(view, run_path)
        for run_path in sorted(paths, key=lambda each: on_top.index(each.call))
    ]
    parts.append(view.scale_bar(units))
    return svg("plot above field", view.width, view.height, "All runs seen from above", parts)


def call_line(call: Call) -> Markup:
    """The line that stands for a call, as an SVG element of 34 by 16."""
    return Markup(f'<path class="path-{CALL_CLASS[call]}" d="M2 8H32"/>')


def _run_path(view: _GroundView, run_path: RunPath) -> str:
    t_s, path = run_path.series.t_s, run_path.series.defender_xy_m
    last = len(path)
    if run_path.rep.arrival_s is not None:
        last = nearest_frame(t_s, run_path.rep.arrival_s) + 1
    ticks = np.floor((t_s[:last] - t_s[0]) / CORNER_EVERY_S + 1e-6)
    corner = np.append(np.diff(ticks, prepend=-1.0)[:-1] > 0, True)
    # A frame not seen stays in, so that its gap is not bridged.
    corner |= ~np.isfinite(path[:last]).all(axis=1)
    kind = CALL_CLASS[run_path.call]
    line = view.line(path[:last][corner], f"path-{kind}")
    end = path[last - 1]
    mark = view.mark(end, run_path.call, 6.0) if np.isfinite(end).all() else ""
    if not line and not mark:
        return ""
    return (
        f'<a class="run-path" href="#rep-{run_path.number}" data-call="{kind}" '
        f'data-spot="{escape(run_path.spot)}" data-player="{escape(run_path.player)}">'
        f"<title>{escape(run_path.words)}</title>{line}{mark}</a>"
    )


def from_above(
    series: Series, rep: Rep, call: Call, layout: Layout | None, units: Units = Units.METRES
) -> Markup:
    """The run-up seen from above, the goal at the bottom, equal scale in both directions.

    Args:
        series: the rep over time.
        rep: its moments.
        call: gives the shape that marks arrival.
        layout: known points to draw; None when positions are on the camera's own axes.
        units: of the scale bar.
    """
    goal = layout is not None and layout.goal
    cones = {name: layout.points[name] for name in sorted(layout.cones)} if layout else {}
    path, attacker = series.defender_xy_m, series.attacker_xy_m
    shown = np.concatenate([finite(path), finite(attacker)])
    if len(shown) == 0:
        return Markup("")
    near = {
        name: point
        for name, point in cones.items()
        if np.min(np.hypot(*(shown - point).T)) < NEAR_CONE_M
    }  # a cone of another spot far away would only make the drawing small
    crease_m = (layout and crease_radius_m(layout)) or CREASE_RADIUS_US_M
    corners = [shown, *(np.array([point]) for point in near.values())]
    if goal:
        corners.append(crease_m * np.array([(-1.0, -1.0), (1.0, 1.0)]))
    view = _GroundView.around(np.concatenate(corners))

    parts: list[str] = []
    if goal:
        parts.append(view.goal(crease_m))
    for name, point in near.items():
        parts.append(view.cone(np.array(point), name))
    at_arrival = None if rep.arrival_s is None else nearest_frame(series.t_s, rep.arrival_s)
    last = len(path) if at_arrival is None else at_arrival + 1
    opponent = _attacker_place(attacker, at_arrival)
    if opponent is not None and goal:
        parts.append(view.line(np.stack([opponent, np.zeros(2)]), "to-goal"))
    parts.append(view.line(attacker, "attacker"))
    parts.append(view.line(path[:last], "run"))
    parts.append(view.line(path[max(0, last - 1) :], "after"))
    stops = np.arange(series.t_s[0], series.t_s[-1] + 1e-9, DOT_EVERY_S)
    nearest = np.unique([nearest_frame(series.t_s, stop) for stop in stops]).astype(int)
    parts += [view.dot(point) for point in finite(path[nearest])]
    parts += view.arrow(path[:last])
    run = finite(path)
    if len(run):
        parts.append(view.word(run[0], "X", "who"))
    if opponent is not None:
        parts.append(view.word(opponent, "O", "who"))
    if at_arrival is not None and np.isfinite(path[at_arrival]).all():
        parts.append(view.mark(path[at_arrival], call))
    parts += [view.following(series.t_s, each) for each in (path, attacker)]
    parts.append(view.scale_bar(units))
    return svg("plot above", view.width, view.height, "The run seen from above", parts)


def _attacker_place(attacker: FloatArray, at_arrival: int | None) -> FloatArray | None:
    """Where the attacker is at arrival, else where seen last; None when never seen."""
    seen = finite(attacker if at_arrival is None else attacker[at_arrival : at_arrival + 1])
    if len(seen) == 0:
        seen = finite(attacker)
    return np.asarray(seen[-1]) if len(seen) else None


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
        inner = np.array([cls.width - 110.0, cls.height - 26.0])  # names of cones at the sides
        scale = min(*(inner / (high - low)), MOST_PX_PER_M)
        return cls((low + high) / 2, float(scale))

    @classmethod
    def fitted(cls, points: FloatArray, width: float = 360.0) -> _GroundView:
        """As wide as given and as high as the points ask for, with margins for names of cones."""
        low = points.min(axis=0) - np.array([2.6, 0.8])
        high = points.max(axis=0) + np.array([2.6, 2.2])
        scale = min(width / (high[0] - low[0]), MOST_PX_PER_M)
        return cls((low + high) / 2, float(scale), width, float((high[1] - low[1]) * scale) + 26)

    def px(self, points: FloatArray) -> FloatArray:
        across = np.array([self.px_per_m, -self.px_per_m])
        centre = np.array([self.width / 2, (self.height - 26) / 2])
        return np.asarray((points - self.middle) * across + centre)

    def line(self, points: FloatArray, kind: str) -> str:
        return polyline(self.px(points), kind) if len(points) else ""

    def dot(self, point: FloatArray) -> str:
        x, y = self.px(point)
        return f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="2.6"/>'

    def word(self, point: FloatArray, words: str, kind: str) -> str:
        x, y = self.px(point)
        return (
            f'<text class="{kind}" x="{x:.1f}" y="{y + 6:.1f}" text-anchor="middle">'
            f"{escape(words)}</text>"
        )

    def mark(self, point: FloatArray, call: Call, radius: float = 8.0) -> str:
        x, y = self.px(point)
        return call_mark(call, x, y, radius)

    def following(self, t_s: FloatArray, points: FloatArray) -> str:
        """A ring that follows the film: a script moves it to where a player was, from the film's
        milliseconds and the places beside them. Empty when he was never seen."""
        seen = np.isfinite(points).all(axis=1)
        if not seen.any():
            return ""
        times = " ".join(f"{1000 * t:.0f}" for t in t_s[seen].tolist())
        places = " ".join(f"{x:.1f},{y:.1f}" for x, y in self.px(points[seen]).tolist())
        return f'<circle class="now-place" r="7" data-ms="{times}" data-at="{places}" hidden=""/>'

    def arrow(self, path: FloatArray) -> list[str]:
        """An arrow head in the middle of the path, pointing along it."""
        run = finite(path)
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

    def cone(self, point: FloatArray, name: str, aside: bool = True) -> str:
        """A cone and its name, which keeps clear of runs that come from the middle.

        It stands at the outer side; where there is no space ``aside``, above the cone, or well
        below it at the side of the field.
        """
        x, y = self.px(point)
        outwards, anchor = (-1, "end") if point[0] < 0 else (1, "start")
        word_x, word_y = x + 13 * outwards, y + 4
        if not aside:
            word_x, word_y, anchor = x, y + (30 if abs(point[0]) > point[1] else -11), "middle"
        return (
            f'<path class="cone" d="M{x:.1f} {y - 6:.1f}l5 10h-10z"/>'
            f'<text x="{word_x:.1f}" y="{word_y:.1f}" text-anchor="{anchor}">{escape(name)}</text>'
        )

    def goal(self, crease_m: float) -> str:
        x, y = self.px(np.zeros(2))
        half, radius = GOAL_WIDTH_M / 2 * self.px_per_m, crease_m * self.px_per_m
        return (
            f'<circle class="crease" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
            f'<path class="goal" d="M{x - half:.1f} {y:.1f}H{x + half:.1f}L{x:.1f} '
            f'{y + 2 * half:.1f}Z"/>'
        )

    def scale_bar(self, units: Units) -> str:
        px = self.px_per_m * units.metres(1)
        length = 5 if px * 5 < self.width / 2 else 1
        y = self.height - 14
        return (
            f'<path class="scale" d="M10 {y - 4:.0f}v8M10 {y:.0f}h{length * px:.1f}'
            f'm0 -4v8"/><text x="{18 + length * px:.1f}" y="{y + 4:.0f}">'
            f"{length} {units}</text>"
        )
