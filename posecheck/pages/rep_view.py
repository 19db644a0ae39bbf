"""One rep as a page shows it: words, pictures and plots ready to be set, nothing judged here."""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

import numpy as np
from markupsafe import Markup

from posecheck.files.names import CLIPS_FOLDER
from posecheck.filming.quality import Aspect, Grade
from posecheck.judging.plan import SideTaken, side_taken
from posecheck.judging.rules import digits, figure
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.measures.measure import Measure, missing
from posecheck.measures.of_rep import LATER_S
from posecheck.measures.quantities import QUANTITIES, QUANTITY, Quantity
from posecheck.measures.result import ClipResult, RepResult, Series
from posecheck.pages import plots
from posecheck.pages.annotated import annotated_name
from posecheck.pages.arrival_picture import arrival_picture
from posecheck.pages.from_above import from_above
from posecheck.pages.units import in_mph, in_yards
from posecheck.pipeline.judge import asked_of
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.reps.tuning import AFTER_ARRIVAL_S, BEFORE_ARRIVAL_S

CALL_WORD = {Call.FLAGGED: "Flagged", Call.CLEAR: "Clear", Call.CANT_TELL: "Can't tell"}

UPRIGHT = "upright_run_out"

MOMENT_S = 0.05
"""Half the width that is given to the error bar of what was read at one moment."""


@dataclass(frozen=True)
class Strip:
    """One measure's line in a card."""

    key: str
    label: str
    call: Call | None
    value: str
    interval: str
    drawing: Markup
    wanted: str
    missing_because: str | None
    read_from: str


@dataclass(frozen=True)
class Shot:
    """The arrival picture, inline."""

    uri: str
    width_px: int
    height_px: int


@dataclass(frozen=True)
class RepView:
    """A rep ready for the template.

    Attributes:
        number: of the rep on this page, from 1, in order of clip and time.
        player: the defender as written on the page, None when not named.
        spot: name of the spot, None when not stated.
        clip: name of the clip, with the place in it when it holds several reps.
        verdict: as judged.
        shot: arrival picture, None when arrival was not seen.
        video: relative address of the annotated clip, None when there is none.
        judged_strips: measures that a threshold looks at.
        other_strips: the others.
        side: which side was taken, against the plan; None when the practice has no plan.
        above, knee, speed: plots.
        notes: sentences on film, roles and scale.
    """

    number: int
    player: str | None
    spot: str | None
    clip: str
    result: ClipResult
    rep: RepResult
    verdict: Verdict
    shot: Shot | None
    video: str | None
    judged_strips: tuple[Strip, ...]
    other_strips: tuple[Strip, ...]
    side: SideTaken | None
    above: Markup
    knee: Markup
    speed: Markup
    notes: tuple[str, ...]

    @property
    def call(self) -> Call:
        """Of the rep as a whole."""
        return self.verdict.call

    @property
    def upright(self) -> bool:
        """True for the headline flag."""
        return any(finding.rule == UPRIGHT for finding in self.verdict.flags)

    @property
    def strips(self) -> dict[str, Strip]:
        """All strips, by measure."""
        return {strip.key: strip for strip in (*self.judged_strips, *self.other_strips)}

    @property
    def unsure(self) -> tuple[Finding, ...]:
        """Findings that can't be told, the one that matters most first."""
        return tuple(f for f in self.verdict.findings if f.call is Call.CANT_TELL)

    @property
    def next_time(self) -> str:
        """What filming change would help most to tell: what made the film too poor, else what the
        finding asks for that matters most."""
        poor = [each.fix for each in self.rep.quality.limits if each.grade is Grade.TOO_POOR]
        return next(iter([*poor, *(finding.fix for finding in self.unsure)]), "")


def view_rep(
    number: int,
    practice: Practice,
    judged: tuple[ClipResult, RepResult, Verdict],
    thresholds: Thresholds,
    out_dir: Path,
    picture_width_px: int,
) -> RepView:
    """Prepare a rep for the page that is written to ``out_dir``."""
    result, rep, verdict = judged
    notes = notes_of(practice, result)
    strips = {
        q.key: _strip(q, rep.measures.get(q.key), good_side(thresholds, q.key)) for q in QUANTITIES
    }
    watched = {key for key in strips if good_side(thresholds, key) is not None}
    picture = arrival_picture(rep, strips["knee_bend_deg"].call, picture_width_px)
    video = PurePosixPath(CLIPS_FOLDER) / annotated_name(result, rep)
    where = f"Positions are in metres from {rep.scale}." if rep.scale else ""
    who = f"Who is who: {rep.roles}." if rep.roles else ""
    return RepView(
        number=number,
        player=None if notes.defender is None else name_of(notes.defender),
        spot=notes.spot,
        clip=_clip_words(result, rep),
        result=result,
        rep=rep,
        verdict=verdict,
        shot=None
        if picture is None
        else Shot(
            "data:image/jpeg;base64," + base64.b64encode(picture.jpeg).decode("ascii"),
            picture.width_px,
            picture.height_px,
        ),
        video=str(video) if (out_dir / video).is_file() else None,
        judged_strips=tuple(strips[key] for key in strips if key in watched),
        other_strips=tuple(strips[key] for key in strips if key not in watched),
        side=side_taken(rep.measures, thresholds, *asked_of(practice, notes))
        if practice.plan
        else None,
        above=from_above(
            rep.series, rep.rep, verdict.call, practice.layout if rep.on_field else None
        ),
        knee=plots.knee_plot(
            _told(rep),
            rep.rep,
            _knee_levels(thresholds),
            (-BEFORE_ARRIVAL_S, AFTER_ARRIVAL_S),
            _over(
                rep,
                {
                    "knee_bend_deg": (-BEFORE_ARRIVAL_S, AFTER_ARRIVAL_S),
                    "late_knee_bend_deg": LATER_S,
                },
            ),
        ),
        speed=plots.speed_plot(
            _told(rep),
            rep.rep,
            [(thresholds.max_arrival_speed_mps, "arrive under")],
            _over(rep, {"arrival_speed_mps": (-MOMENT_S, MOMENT_S)}),
        ),
        notes=tuple(sentence for sentence in (*rep.film, who, where) if sentence),
    )


def notes_of(practice: Practice, result: ClipResult) -> ClipNotes:
    """What the coach has said of a clip, empty notes when nothing."""
    return practice.notes.get(clip_key(practice, result), ClipNotes())


def clip_key(practice: Practice, result: ClipResult) -> str:
    """The clip's path relative to the practice folder, POSIX form."""
    try:
        return result.path.relative_to(practice.folder).as_posix()
    except ValueError:
        return result.path.as_posix()


def name_of(player: Player) -> str:
    """A player as written on pages."""
    return f"{player.name} ({player.number})"


def rule_words(rule: str) -> str:
    """A rule's key in words: ``hands_in`` is "Hands in"."""
    return "Upright run-out" if rule == UPRIGHT else rule.replace("_", " ").capitalize()


def good_side(thresholds: Thresholds, key: str) -> plots.Good | None:
    """The good side of a quantity after the thresholds, None when no threshold looks at it."""
    low = getattr(thresholds, f"min_{key}", None)
    high = getattr(thresholds, f"max_{key}", None)
    return None if low is None and high is None else plots.Good(low, high)


def stands(measure: Measure, good: plots.Good | None) -> Call | None:
    """On which side a whole interval is; None when no threshold looks at it or nothing was seen."""
    if good is None or measure.low is None or measure.high is None:
        return None
    least = -math.inf if good.low is None else good.low
    most = math.inf if good.high is None else good.high
    if measure.high < least or measure.low > most:
        return Call.FLAGGED
    return Call.CLEAR if least <= measure.low and measure.high <= most else Call.CANT_TELL


def threshold_words(name: str, value: float) -> tuple[str, str]:
    """A threshold as words and figure: "Knee bend, at least" and "45°"."""
    side, _, key = name.partition("_")
    # The one limit that is looked at from both sides is not named after its measure.
    key = "approach_offset_m" if key == "side_offset_m" else key
    joint = {"min": "at least", "max": "at most", "upright": "upright when under"}[side]
    return f"{QUANTITY[key].label}, {joint}", _with_yards(key, value)


def interval(measure: Measure) -> str:
    """``26 to 36``, without unit; empty when there is no value."""
    if measure.low is None or measure.high is None:
        return ""
    return f"{digits(measure.key, measure.low)} to {digits(measure.key, measure.high)}"


def _strip(quantity: Quantity, measure: Measure | None, good: plots.Good | None) -> Strip:
    if measure is None:
        measure = missing(quantity.key, "not measured")
    return Strip(
        key=quantity.key,
        label=quantity.label,
        call=stands(measure, good),
        value="" if measure.value is None else figure(measure.key, measure.value),
        interval=interval(measure),
        drawing=plots.interval_strip(measure, good),
        wanted="" if good is None else _wanted(quantity.key, good),
        missing_because=measure.missing_because,
        read_from=measure.read_from,
    )


def _wanted(key: str, good: plots.Good) -> str:
    if good.low is not None and good.high is not None:
        return f"{figure(key, good.low)} to {figure(key, good.high)}"
    if good.low is not None:
        return f"at least {_with_yards(key, good.low)}"
    assert good.high is not None
    return f"at most {_with_yards(key, good.high)}"


def _with_yards(key: str, value: float) -> str:
    """A figure with its unit, and in miles an hour or yards where it has such a unit."""
    beside = {"m/s": in_mph, "m": in_yards}.get(QUANTITY[key].unit)
    return figure(key, value) + ("" if beside is None else f" {beside(value)}")


def _told(rep: RepResult) -> Series:
    """The rep over time, without what its film is too poor to tell."""
    series = rep.series
    unseen = np.full(len(series.t_s), np.nan)
    short = {each.aspect for each in rep.quality.limits if each.grade is Grade.TOO_POOR}
    if short:
        series = replace(series, knee_bend_deg=unseen)
    return replace(series, speed_mps=unseen) if Aspect.RATE in short else series


def _over(rep: RepResult, windows_s: Mapping[str, tuple[float, float]]) -> list[plots.Over]:
    """Measures with the time about arrival over which each was read."""
    arrival_s = rep.rep.arrival_s
    return [
        plots.Over(arrival_s + start_s, arrival_s + end_s, rep.measures[key])
        for key, (start_s, end_s) in windows_s.items()
        if arrival_s is not None and key in rep.measures
    ]


def _knee_levels(thresholds: Thresholds) -> Sequence[tuple[float, str]]:
    return [
        (thresholds.min_knee_bend_deg, f"breakdown from {thresholds.min_knee_bend_deg:.0f}°"),
        (
            thresholds.upright_knee_bend_deg,
            f"upright under {thresholds.upright_knee_bend_deg:.0f}°",
        ),
    ]


def _clip_words(result: ClipResult, rep: RepResult) -> str:
    if len(result.reps) < 2:
        return result.path.name
    return f"{result.path.name}, from {rep.rep.start_s:.0f} s"
