"""A new measure is an entry, a formula and an error bar; everything else follows from them.

Two made-up ones are added, one read from places on the ground and one from the stance, and looked
for wherever figures go.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from bodies import camera_at
from factories import make_clip_result, make_rep_result
from rep_views import write_pages
from rich.console import Console

from posecheck.body.stance_track import STANCE, StanceTrack
from posecheck.cli.printing import say_accuracy, say_rep_in_full
from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.judging.asked import Asked
from posecheck.judging.plan import side_taken
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import judge
from posecheck.measures import of_run
from posecheck.measures.intervals import GroundReading, Intervals, Spread, default_intervals
from posecheck.measures.measure import Measure
from posecheck.measures.of_rep import measure_rep
from posecheck.measures.quantities import DEFINITION, QUANTITY, Quantity, ReadFrom
from posecheck.measures.result import ClipResult
from posecheck.measures.run import Run
from posecheck.practice.practice import Practice
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.scoring.accuracy import compare
from posecheck.scoring.truth import Truth
from posecheck.store.record import Record

ZIGZAG = Quantity(
    key="zigzag_m",
    label="Zigzag",
    unit="m",
    decimals=2,
    meaning="How far the run strays, made up for this test",
    source=DEFINITION,
    read_from=ReadFrom.GROUND,
    plausible=(-5, 5),
    plotted=(-2, 2),
    sign="positive is uphill",
    column=6,
)
"""Read from places on the ground."""

EARLY_BASE = dataclasses.replace(
    QUANTITY["base_width"],
    key="early_base_width",
    label="Base before",
    same_as="base_width",
    window_s=(-0.5, -0.2),
    in_accuracy_table=True,
)
"""A stance read in the same way as another, at another time, with the other's error bar."""

T_S = np.arange(0, 4, 1 / 30)
REP = Rep(0.2, 1.5, 2.0, 3.0, ArrivalSource.ATTACKER)


@pytest.fixture
def intervals(monkeypatch: pytest.MonkeyPatch) -> Iterator[Intervals]:
    """The three edits of each: entry, formula, error bar."""
    monkeypatch.setitem(QUANTITY, ZIGZAG.key, ZIGZAG)
    monkeypatch.setitem(QUANTITY, EARLY_BASE.key, EARLY_BASE)

    @of_run.formula(ZIGZAG.key)
    def zigzag(run: Run) -> GroundReading | str:
        return GroundReading(-0.25 * run.arrival_s, 0.3)

    usual = default_intervals()
    spreads = dict.fromkeys(("marks", "players"), Spread(2.0, 0.4))
    yield Intervals(usual.stance, {**usual.ground, ZIGZAG.key: spreads})
    del of_run.FORMULAS[ZIGZAG.key]


def measured(intervals: Intervals) -> dict[str, Measure]:
    """All measures of a run straight up the field whose feet widen as he arrives."""
    n = len(T_S)
    xy = np.stack([0 * T_S, np.minimum(3.1 + 5 * T_S, 13.0)], axis=1)
    still = np.tile([0.0, 14.0], (n, 1))

    def track(places: np.ndarray) -> GroundTrack:
        velocity = np.gradient(places, T_S, axis=0)
        return GroundTrack(T_S, places, velocity, np.full(n, 0.05), np.full(n, 0.1))

    held = dict.fromkeys(STANCE, np.full(n, 0.5)) | {"base_width": np.where(T_S < 1.9, 1.0, 2.0)}
    margin = dict.fromkeys(STANCE, np.full(n, 0.1))
    stance = StanceTrack(
        T_S,
        **held,
        view_deg=np.full(n, 90.0),
        height_px=np.full(n, 300.0),
        score=np.full(n, 0.9),
        below=margin,
        above=margin,
    )
    ground = Ground(camera_at((9.0, 9.0, 1.8), (0.0, 9.0, 0.8)), "marks", "", 0.01, 0.02, True)
    return measure_rep(REP, stance, track(xy), track(still), ground, intervals=intervals)


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    return Practice(tmp_path, "Made up")


@pytest.fixture
def result(practice: Practice, intervals: Intervals) -> ClipResult:
    rep = dataclasses.replace(make_rep_result(), measures=measured(intervals))
    return make_clip_result(practice.folder / "a.mp4", reps=(rep,))


def test_it_is_measured_with_its_error_bar(result: ClipResult) -> None:
    measures = result.reps[0].measures
    assert list(measures)[-2:] == [ZIGZAG.key, EARLY_BASE.key]
    zigzag = measures[ZIGZAG.key]
    # -0.25 * 2 s; sqrt(0.4² + 0.3²) = 0.5, twice that.
    assert (zigzag.low, zigzag.value, zigzag.high) == pytest.approx((-1.5, -0.5, 0.5))
    base, early = measures["base_width"], measures[EARLY_BASE.key]
    assert (base.value, early.value) == (2.0, 1.0)
    assert base.low is not None and early.low is not None
    assert 1.0 - early.low == pytest.approx(2.0 - base.low)


def test_it_is_kept_and_read_back(practice: Practice, result: ClipResult) -> None:
    with Record(practice.folder / "record.sqlite", make=True) as record:
        record.save(practice, result)
        (rep,) = record.measured_reps(practice)
    for key in (ZIGZAG.key, EARLY_BASE.key):
        assert rep.measures[key] == result.reps[0].measures[key]


def test_it_is_on_the_page(practice: Practice, result: ClipResult, tmp_path: Path) -> None:
    rep = result.reps[0]
    verdict = judge(rep.measures, Thresholds(), Asked())
    judged = [(result, rep, verdict)]
    page = write_pages(practice, judged, [], Thresholds(), tmp_path).read_text("utf-8")
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page))
    minus = "\N{MINUS SIGN}"
    assert f"{minus}0.50 m {minus}1.50 to 0.50" in words  # in the table, with its interval
    rep_page = (tmp_path / "reps" / "rep-001.html").read_text("utf-8")
    assert "<title>Zigzag, error bar</title>" in rep_page
    headings = re.findall(r'<button type="button">(.*?)</button>', page)
    assert headings.index("Zigzag") == headings.index("Hip drop") + 1  # the sixth column
    meaning = "How far the run strays, made up for this test; positive is uphill."
    assert f"Zigzag {meaning}" in words  # in the glossary
    assert "Base before" in words


def test_it_is_printed(result: ClipResult) -> None:
    rep = result.reps[0]
    console = Console(file=StringIO(), width=120)
    side = side_taken(rep.measures, Thresholds(), Asked())
    say_rep_in_full(console, "a.mp4", None, rep, None, side)
    assert isinstance(console.file, StringIO)
    lines = [line.split() for line in console.file.getvalue().splitlines()]
    minus = "\N{MINUS SIGN}"
    assert ["Zigzag", f"{minus}0.50", "m", f"{minus}1.50", "to", "0.50", "m"] in [
        line[:7] for line in lines
    ]
    assert any(line[:3] == ["Base", "before", "1.0"] for line in lines)


def test_it_is_in_the_accuracy_table(result: ClipResult) -> None:
    rep = result.reps[0]
    series = rep.series
    facts = {
        "arrival_s": rep.rep.arrival_s,
        "start_s": rep.rep.start_s,
        "flags_expected": [],
        ZIGZAG.key: -0.4,
        EARLY_BASE.key: 1.5,
    }
    nothing = np.zeros(len(series.t_s))
    truth = Truth(
        "a", facts, series.t_s, nothing, nothing, np.zeros((len(nothing), 2)), nothing, nothing
    )
    found = compare([(truth, result, [judge(rep.measures, Thresholds(), Asked())])])
    rows = {row.quantity: row for row in found.rows}
    assert (rows["Zigzag"].n, rows["Zigzag"].unit) == (1, "m")
    assert rows["Zigzag"].bias == pytest.approx(-0.1)
    assert rows["Zigzag"].within_interval == 1.0
    assert rows["Base before"].bias == pytest.approx(-0.5)
    console = Console(file=StringIO(), width=120)
    say_accuracy(console, found)
    assert isinstance(console.file, StringIO)
    printed = [line.split() for line in console.file.getvalue().splitlines()]
    off = "\N{MINUS SIGN}0.10"
    assert ["Zigzag", "1", "0.10", "m", off, "m", off, "m", "100%"] in printed


def test_every_quantity_on_the_ground_has_a_formula_and_no_formula_is_left_over() -> None:
    wanted = {q.key for q in QUANTITY.values() if q.read_from is ReadFrom.GROUND}
    assert set(of_run.FORMULAS) == wanted


def test_every_quantity_of_the_stance_is_a_field_of_it() -> None:
    fields = {field.name for field in dataclasses.fields(StanceTrack)}
    assert {q.base for q in QUANTITY.values() if q.read_from is ReadFrom.STANCE} <= fields


def test_ranges_hold_each_other() -> None:
    """What is drawn is what is usual, what is plausible is wider; nothing unsigned is negative."""
    for quantity in QUANTITY.values():
        least, greatest = quantity.plausible
        assert least < greatest and quantity.plotted[0] < quantity.plotted[1] <= greatest
        assert (least < 0) == quantity.signed
        assert quantity.source
