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
from posecheck.judging.asked import Asked
from posecheck.judging.plan import SideTaken, side_taken
from posecheck.judging.rules import HEADLINE_RULE
from posecheck.judging.thresholds import Good, Limit, Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict
from posecheck.measures.figures import figure, interval
from posecheck.measures.measure import Measure, missing
from posecheck.measures.quantities import QUANTITIES, QUANTITY, Quantity
from posecheck.measures.result import ClipResult, RepResult, Series
from posecheck.pages import plots
from posecheck.pages.annotated import annotated_name
from posecheck.pages.arrival_picture import arrival_picture
from posecheck.pages.from_above import from_above
from posecheck.pages.tuning import MOMENT_S
from posecheck.pages.units import figure_in_both
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice


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
        player: the defender's name as written, None when not named.
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
        return any(finding.rule == HEADLINE_RULE for finding in self.verdict.flags)

    @property
    def strips(self) -> dict[str, Strip]:
        """All strips, by measure."""
        return {strip.key: strip for strip in (*self.judged_strips, *self.other_strips)}

    @property
    def unsure(self) -> tuple[Finding, ...]:
        """Findings left open, the one that matters most first."""
        return tuple(f for f in self.verdict.findings if f.call is Call.CANT_TELL)

    @property
    def next_time(self) -> str:
        """The change of filming that would help most: for what made the film too poor, else what
        the open finding asks for that matters most."""
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
    strips = {q.key: _strip(q, rep.measures.get(q.key), thresholds.good(q.key)) for q in QUANTITIES}
    watched = {key for key in strips if thresholds.good(key) is not None}
    picture = arrival_picture(rep, strips["knee_bend_deg"].call, picture_width_px)
    video = PurePosixPath(CLIPS_FOLDER) / annotated_name(result, rep)
    where = f"Positions are in metres from {rep.scale}." if rep.scale else ""
    who = f"Who is who: {rep.roles}." if rep.roles else ""
    return RepView(
        number=number,
        player=None if notes.defender is None else notes.defender.display_name,
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
        side=side_taken(rep.measures, thresholds, Asked.of(practice, notes))
        if practice.plan
        else None,
        above=from_above(
            rep.series, rep.rep, verdict.call, practice.layout if rep.on_field else None
        ),
        knee=plots.knee_plot(
            _shown_series(rep),
            rep.rep,
            _knee_levels(thresholds),
            QUANTITY["knee_bend_deg"].window_s,
            _over(rep, {q.key: q.window_s for q in QUANTITIES if q.base == "knee_bend_deg"}),
        ),
        speed=plots.speed_plot(
            _shown_series(rep),
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


def stands(measure: Measure, good: Good | None) -> Call | None:
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
    limit = Limit.named(name)
    joint = {"min": "at least", "max": "at most", "upright": "upright when under"}[limit.end]
    return f"{limit.quantity.label}, {joint}", figure_in_both(limit.quantity.key, value)


def _strip(quantity: Quantity, measure: Measure | None, good: Good | None) -> Strip:
    if measure is None:
        measure = missing(quantity.key, "not measured")
    return Strip(
        key=quantity.key,
        label=quantity.label,
        call=stands(measure, good),
        value="" if measure.value is None else figure(measure.key, measure.value),
        interval="" if measure.value is None else interval(measure),
        drawing=plots.interval_strip(measure, good),
        wanted="" if good is None else _wanted(quantity.key, good),
        missing_because=measure.missing_because,
        read_from=measure.read_from,
    )


def _wanted(key: str, good: Good) -> str:
    if good.low is not None and good.high is not None:
        return f"{figure(key, good.low)} to {figure(key, good.high)}"
    if good.low is not None:
        return f"at least {figure_in_both(key, good.low)}"
    assert good.high is not None
    return f"at most {figure_in_both(key, good.high)}"


def _shown_series(rep: RepResult) -> Series:
    """The rep over time, without what its film is too poor to show."""
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
