"""Plots as inline SVG, small and styled by the page's own CSS so that they follow light and dark.

Hand-made because a practice has hundreds of them: a plotting library takes longer for one than
the whole page may take. Every function returns markup that is safe to put into a page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from posecheck.judging.plan import Kept
from posecheck.judging.thresholds import Good
from posecheck.maths.arrays import FloatArray
from posecheck.maths.units import Units
from posecheck.measures.figures import figure
from posecheck.measures.measure import Measure
from posecheck.measures.quantities import QUANTITY
from posecheck.measures.result import Series
from posecheck.pages.svg import polyline, svg
from posecheck.pages.tuning import KNEE_PLOT_TOP_DEG, SPEED_PLOT_MARGIN, SPEED_PLOT_TOP_MPS
from posecheck.reps.rep import Rep


def interval_strip(measure: Measure, good: Good | None) -> Markup:
    """A 90 % interval as a bar, the good side as a band, thresholds as ticks."""
    quantity = QUANTITY[measure.key]
    bar = measure.low, measure.value, measure.high
    return _strip(quantity.plotted, bar, good, f"{quantity.label}, error bar")


def share_strip(row: Kept) -> Markup:
    """The 90 % interval of a share on plan, from none at the left to all at the right."""
    low, high = row.share or (None, None)
    value = row.on / row.known if row.known else None
    return _strip((0.0, 1.0), (low, value, high), None, "Share on plan, error bar")


def _strip(
    span: tuple[float, float],
    bar: tuple[float | None, float | None, float | None],
    good: Good | None,
    title: str,
) -> Markup:
    """A bar from low to high with a stroke at the best value, on an axis that spans ``span``."""
    width, height = 200.0, 22.0
    first, last = span

    def x(value: float) -> float:
        return 4 + (width - 8) * min(1.0, max(0.0, (value - first) / (last - first)))

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
    low, value, high = bar
    if low is not None and high is not None and value is not None:
        left, right = x(low), x(high)
        parts.append(
            f'<rect class="bar" x="{left:.1f}" y="7.5" width="{max(2.0, right - left):.1f}" '
            f'height="7" rx="2"/><line class="best" x1="{x(value):.1f}" '
            f'x2="{x(value):.1f}" y1="5" y2="17"/>'
        )
    # A strip takes whatever width it is given; everything in it is upright or level.
    return svg("strip", width, height, title, parts, stretch=True)


@dataclass(frozen=True)
class Over:
    """A measure and the stretch of time it was read over."""

    start_s: float
    end_s: float
    measure: Measure


def knee_plot(
    series: Series,
    rep: Rep,
    levels: Sequence[tuple[float, str]],
    window_s: tuple[float, float],
    measured: Sequence[Over] = (),
) -> Markup:
    """Knee bend over time.

    Args:
        series: the rep over time.
        rep: its moments.
        levels: thresholds in degrees, each with the words beside its line.
        window_s: the arrival window about arrival, which is shaded.
        measured: what was read, drawn with its error bar.
    """
    plot = _TimePlot.of(series, rep, top=KNEE_PLOT_TOP_DEG)
    parts = plot.frame([(tick, f"{tick}°") for tick in (0, 30, 60, 90)])
    if rep.arrival_s is not None:
        parts.insert(0, plot.shade(rep.arrival_s + window_s[0], rep.arrival_s + window_s[1]))
        parts.append(plot.moment(rep.arrival_s, "arrival"))
    parts += plot.intervals(measured)
    parts.append(plot.curve(series.t_s, series.knee_bend_deg))
    parts += [plot.level(value, words) for value, words in levels]
    return plot.drawn("Knee bend over time", parts)


def speed_plot(
    series: Series,
    rep: Rep,
    levels: Sequence[tuple[float, str]],
    measured: Sequence[Over] = (),
    units: Units = Units.METRES,
) -> Markup:
    """Ground speed over time with braking onset, arrival, the arrival-speed threshold, and what
    was ``measured`` with its error bar; the axis in ``units``."""
    seen = series.speed_mps[np.isfinite(series.speed_mps)]
    top = SPEED_PLOT_TOP_MPS
    if len(seen):
        top = max(top, SPEED_PLOT_MARGIN * float(seen.max()))
    plot = _TimePlot.of(series, rep, top=top)
    unit = units.unit("m/s")
    step = 2 if units is Units.METRES else 5
    ticks = range(0, int(units.shown(top, "m/s")) + 1, step)
    parts = plot.frame([(tick / units.shown(1, "m/s"), str(tick)) for tick in ticks])
    # The words of the earlier moment stand before its line, so that two close ones keep apart.
    moments = sorted(
        (t_s, words)
        for t_s, words in ((rep.braking_s, "brakes"), (rep.arrival_s, "arrival"))
        if t_s is not None
    )
    for number, (t_s, words) in enumerate(moments):
        parts.append(plot.moment(t_s, words, before=len(moments) == 2 and number == 0))
    parts += plot.intervals(measured)
    parts.append(plot.curve(series.t_s, series.speed_mps))
    parts += [
        plot.level(value, f"{words} {figure('arrival_speed_mps', value, units)}")
        for value, words in levels
    ]
    return plot.drawn(f"Ground speed over time, {unit}", parts)


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
    def left(self) -> float:
        """Where the first moment is drawn."""
        return 30.0

    @property
    def right(self) -> float:
        """Where the last one is."""
        return self.width - 18.0

    @property
    def floor(self) -> float:
        """Where zero is drawn."""
        return self.height - 24

    def x(self, t_s: FloatArray | float) -> FloatArray:
        share = (np.asarray(t_s) - self.first_s) / (self.last_s - self.first_s)
        return np.asarray(self.left + (self.right - self.left) * np.clip(share, 0, 1))

    def y(self, value: FloatArray | float) -> FloatArray:
        return np.asarray(
            self.floor - (self.floor - 18) * np.clip(np.asarray(value) / self.top, 0, 1)
        )

    def drawn(self, title: str, parts: Sequence[str]) -> Markup:
        """With the line that follows the film: at x = 0 for a script to move, which finds beside
        it the film's seconds at both ends of the plot."""
        now = f'<line class="now" x1="0" x2="0" y1="18" y2="{self.floor:.0f}" hidden=""/>'
        data = {
            "first-s": f"{self.first_s:.4f}",
            "last-s": f"{self.last_s:.4f}",
            "left": f"{self.left:.0f}",
            "right": f"{self.right:.0f}",
        }
        return svg("plot", self.width, self.height, title, [*parts, now], data=data)

    def frame(self, ticks: Sequence[tuple[float, str]]) -> list[str]:
        parts = [
            f'<line class="grid" x1="{self.left:.0f}" x2="{self.right:.0f}" '
            f'y1="{y:.1f}" y2="{y:.1f}"/>'
            f'<text x="26" y="{y + 4:.1f}" text-anchor="end">{words}</text>'
            for y, words in ((self.y(tick), words) for tick, words in ticks)
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

    def intervals(self, measured: Sequence[Over]) -> list[str]:
        """Error bars, each over the time it was read."""
        parts = []
        for each in measured:
            low, value, high = each.measure.low, each.measure.value, each.measure.high
            if low is None or value is None or high is None:
                continue
            left, right = self.x(each.start_s), self.x(each.end_s)
            top, foot, best = self.y(high), self.y(low), self.y(value)
            parts.append(
                f'<rect class="interval" x="{left:.1f}" y="{top:.1f}" '
                f'width="{right - left:.1f}" height="{foot - top:.1f}"/>'
                f'<line class="best" x1="{left:.1f}" x2="{right:.1f}" y1="{best:.1f}" '
                f'y2="{best:.1f}"/>'
            )
        return parts

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
            f'<line class="level" x1="{self.left:.0f}" x2="{self.right:.0f}" '
            f'y1="{y:.1f}" y2="{y:.1f}"/>'
            f'<text class="level-words" x="34" y="{y - 4:.1f}">{escape(words)}</text>'
        )

    def curve(self, t_s: FloatArray, values: FloatArray) -> str:
        shown = np.stack([self.x(t_s), np.where(np.isfinite(values), self.y(values), np.nan)], 1)
        return polyline(shown, "curve")
