"""One rep as a page shows it: words, pictures and plots ready to be set, nothing judged here."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path, PurePosixPath

import numpy as np
from markupsafe import Markup

from posecheck.files.cut_name import shown_file
from posecheck.files.names import CLIPS_FOLDER
from posecheck.filming.quality import Aspect, Grade
from posecheck.judging.asked import Asked
from posecheck.judging.in_a_sentence import in_a_sentence
from posecheck.judging.plan import SideTaken, side_taken
from posecheck.judging.rules import good_side, rule_name
from posecheck.judging.ruling import CoachRuling
from posecheck.judging.thresholds import Good, Thresholds
from posecheck.judging.verdict import Call, Finding, Verdict, stands
from posecheck.maths.units import Units
from posecheck.measures.figures import figure, in_units, interval
from posecheck.measures.measure import Measure, missing
from posecheck.measures.quantities import QUANTITIES, QUANTITY, Quantity
from posecheck.measures.result import ClipResult, RepResult, Series
from posecheck.pages import plots
from posecheck.pages.annotated import annotated_name
from posecheck.pages.arrival_picture import arrival_picture
from posecheck.pages.from_above import from_above
from posecheck.pages.stills import ClipTimes, Stills, clip_times, stills_of
from posecheck.pages.tuning import MOMENT_S, SHOT_PX
from posecheck.practice.layout import Layout
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
    """A rep ready for the templates. What takes long to draw is drawn when it is asked for.

    Attributes:
        number: of the rep on the pages, from 1, in order of clip and time.
        player: the defender as written: his name, or "unknown" and his number.
        named: whether it is a name.
        spot: name of the spot, None when not stated.
        clip: name of the clip, with the place in it when it holds several reps.
        result, rep: as measured.
        verdict: as judged.
        thresholds: judged with.
        asked: what the practice asks of him, and the units in which it reads figures.
        video: relative address of the annotated clip, None when there is none.
        times: where things lie in that clip, None when it is not known.
        side: which side was taken, against the plan; None when the practice has no plan.
        layout: known points of the field, None when the rep's places are not on it.
        notes: sentences on film, roles and scale.
        stills: small pictures beside the page, none where none were drawn.
        ruling: the coach's, on the call that stood then; None when he has not ruled the rep.
    """

    number: int
    player: str
    named: bool
    spot: str | None
    clip: str
    result: ClipResult
    rep: RepResult
    verdict: Verdict
    thresholds: Thresholds
    asked: Asked
    video: str | None
    times: ClipTimes | None
    side: SideTaken | None
    layout: Layout | None
    notes: tuple[str, ...]
    stills: Stills
    ruling: CoachRuling | None = None

    @property
    def ruled(self) -> str:
        """The coach's ruling as printed beside the call, empty when there is none."""
        return "" if self.ruling is None else self.ruling.beside(self.verdict)

    @property
    def units(self) -> Units:
        """In which figures are written."""
        return self.asked.units

    @property
    def call(self) -> Call:
        """Of the rep as a whole."""
        return self.verdict.call

    @property
    def group(self) -> str:
        """What reps are grouped by: the rule of the most serious flag, else the call."""
        flags = self.verdict.flags
        return flags[0].rule if flags else _GROUP_OF_CALL[self.call]

    @property
    def fault(self) -> str:
        """The same in words."""
        flags = self.verdict.flags
        return rule_name(flags[0].rule) if flags else self.call.capitalize()

    @property
    def sentence(self) -> str:
        """What was seen, in one short sentence."""
        return in_a_sentence(
            self.verdict, self.rep.measures, self.thresholds, self.units, self.asked
        )

    @property
    def cue(self) -> str:
        """The one thing to say: to the defender, or, of a *can't tell* rep, to whoever films."""
        if self.verdict.flags:
            return self.verdict.flags[0].fix
        return self.next_time if self.call is Call.CANT_TELL else ""

    @property
    def unsure(self) -> tuple[Finding, ...]:
        """Findings left open, the one that matters most first."""
        return tuple(f for f in self.verdict.findings if f.call is Call.CANT_TELL)

    @property
    def next_time(self) -> str:
        """The change of filming that would help; empty when none would."""
        return self.verdict.advice

    @cached_property
    def strips(self) -> dict[str, Strip]:
        """Every measure's line, by its key."""
        return {
            q.key: _strip(q, self.rep.measures.get(q.key), self._good(q.key), self.units)
            for q in QUANTITIES
        }

    def _good(self, key: str) -> Good | None:
        return good_side(key, self.thresholds, self.asked)

    def draw(self) -> None:
        """Draw now whatever pages show that is drawn when it is asked for, so that what cannot be
        is known."""
        for name in ("strips", "above", "knee", "speed"):
            getattr(self, name)
        if self.video is None or not self.stills.cells:
            _ = self.shot  # stands where film or cells would

    @property
    def judged_strips(self) -> tuple[Strip, ...]:
        """Measures that a threshold or the plan looks at."""
        return tuple(s for s in self.strips.values() if self._good(s.key) is not None)

    @property
    def other_strips(self) -> tuple[Strip, ...]:
        """The others."""
        return tuple(s for s in self.strips.values() if self._good(s.key) is None)

    @cached_property
    def shot(self) -> Shot | None:
        """The arrival picture, None when arrival was not seen."""
        picture = arrival_picture(self.rep, self.strips["knee_bend_deg"].call, SHOT_PX, self.units)
        if picture is None:
            return None
        uri = "data:image/jpeg;base64," + base64.b64encode(picture.jpeg).decode("ascii")
        return Shot(uri, picture.width_px, picture.height_px)

    @cached_property
    def above(self) -> Markup:
        """The run seen from above; empty when nothing of it was seen."""
        return from_above(self.rep.series, self.rep.rep, self.call, self.layout, self.units)

    @cached_property
    def knee(self) -> Markup:
        """Plot of the knee bend."""
        return plots.knee_plot(
            _shown_series(self.rep),
            self.rep.rep,
            _knee_levels(self.thresholds),
            QUANTITY["knee_bend_deg"].window_s,
            _over(self.rep, {q.key: q.window_s for q in QUANTITIES if q.base == "knee_bend_deg"}),
        )

    @cached_property
    def speed(self) -> Markup:
        """Plot of the speed."""
        return plots.speed_plot(
            _shown_series(self.rep),
            self.rep.rep,
            [(self.thresholds.max_arrival_speed_mps, "arrive under")],
            _over(self.rep, {"arrival_speed_mps": (-MOMENT_S, MOMENT_S)}),
            self.units,
        )


_GROUP_OF_CALL = {Call.CANT_TELL: "cant_tell", Call.CLEAR: "clear"}


def view_rep(
    number: int,
    practice: Practice,
    judged: tuple[ClipResult, RepResult, Verdict],
    thresholds: Thresholds,
    out_dir: Path,
    ruling: CoachRuling | None = None,
) -> RepView:
    """Prepare a rep for the pages that are written to ``out_dir``."""
    result, rep, verdict = judged
    notes = notes_of(practice, result)
    units = practice.units
    asked = Asked.of(practice, notes)
    video = PurePosixPath(CLIPS_FOLDER) / annotated_name(result, rep)
    where = f"Distances from {in_units(rep.scale, units)}." if rep.scale else ""
    who = f"Who is who: {rep.roles}." if rep.roles else ""
    said = (in_units(each, units) for each in (*rep.film, rep.said_of_arrival or ""))
    return RepView(
        number=number,
        player=notes.defender_name,
        named=notes.defender is not None,
        spot=notes.spot,
        clip=_clip_words(result, rep),
        result=result,
        rep=rep,
        verdict=verdict,
        thresholds=thresholds,
        asked=asked,
        video=str(video) if (out_dir / video).is_file() else None,
        times=clip_times(out_dir, result, rep),
        side=side_taken(rep.measures, thresholds, asked) if practice.plan else None,
        layout=practice.layout if rep.on_field else None,
        notes=tuple(filter(None, (*said, who, where))),
        stills=stills_of(out_dir, result, rep),
        ruling=ruling,
    )


def notes_of(practice: Practice, result: ClipResult) -> ClipNotes:
    """What the coach has said of a clip, empty notes when nothing."""
    return practice.noted(clip_key(practice, result))


def clip_key(practice: Practice, result: ClipResult) -> str:
    """The clip's path relative to the practice folder, POSIX form."""
    try:
        return result.path.relative_to(practice.folder).as_posix()
    except ValueError:
        return result.path.as_posix()


def _strip(quantity: Quantity, measure: Measure | None, good: Good | None, units: Units) -> Strip:
    if measure is None:
        measure = missing(quantity.key, "not measured")
    return Strip(
        key=quantity.key,
        label=quantity.label,
        call=stands(measure, good),
        value="" if measure.value is None else figure(measure.key, measure.value, units),
        interval="" if measure.value is None else interval(measure, units),
        drawing=plots.interval_strip(measure, good),
        wanted="" if good is None else _wanted(quantity, good, units),
        missing_because=measure.missing_because and in_units(measure.missing_because, units),
        read_from=in_units(measure.read_from, units),
    )


def _wanted(quantity: Quantity, good: Good, units: Units) -> str:
    key = quantity.key
    if good.low is not None and good.high is not None:
        return f"{figure(key, good.low, units)} to {figure(key, good.high, units)}"
    if key == "approach_offset_m":  # either sign may be the good one
        plus, sign = "+", f", {quantity.sign}"
    else:
        plus, sign = "", ""
    if good.low is not None:
        return f"at least {plus}{figure(key, good.low, units)}{sign}"
    assert good.high is not None
    return f"at most {figure(key, good.high, units)}{sign}"


def _shown_series(rep: RepResult) -> Series:
    """The rep over time, without what its film is too poor to show."""
    series = rep.series
    unseen = np.full(len(series.t_s), np.nan)
    short = {each.aspect for each in rep.quality.limits if each.grade is Grade.TOO_POOR}
    if short:
        series = replace(series, knee_bend_deg=unseen)
    # Of a film slow in part the times are not those of life, though the stance can be seen.
    slow = any(each.aspect is Aspect.SLOW_PART for each in rep.quality.limits)
    timeless = slow or short & {Aspect.RATE, Aspect.SPEED}
    return replace(series, speed_mps=unseen) if timeless else series


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
        return shown_file(result.path)
    return f"{shown_file(result.path)}, from {rep.rep.start_s:.0f} s"
