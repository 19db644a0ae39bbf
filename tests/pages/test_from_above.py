"""Views from above are read back from their markup and compared with what was put in."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from drawings import of_class, parsed, points
from factories import make_rep_result, make_series

from posecheck.judging.verdict import Call
from posecheck.measures.result import Series
from posecheck.pages.from_above import RunPath, field, from_above
from posecheck.practice.field import closeout_layout
from posecheck.reps.rep import Rep


def test_from_above_keeps_one_scale_both_ways() -> None:
    series = make_series()
    xy = np.full((len(series.t_s), 2), np.nan)
    # Four metres right, then three up: on the drawing four to three as well.
    xy[0], xy[1], xy[2] = (0.0, 5.0), (4.0, 5.0), (4.0, 8.0)
    series = replace(series, defender_xy_m=xy, attacker_xy_m=np.full_like(xy, np.nan))
    rep = Rep(0.4, None, None, 3.7, None)
    tree = parsed(from_above(series, rep, Call.CANT_TELL, None))
    (run,) = of_class(tree, "run")
    right, up = np.diff(points(run), axis=0)
    assert right[1] == pytest.approx(0, abs=0.2) and up[0] == pytest.approx(0, abs=0.2)
    assert up[1] < 0, "upfield is up"
    assert right[0] / -up[1] == pytest.approx(4 / 3, rel=0.01)


def test_from_above_draws_field_only_when_positions_are_on_it() -> None:
    rep = make_rep_result()
    on_field = parsed(from_above(rep.series, rep.rep, Call.CLEAR, closeout_layout()))
    assert of_class(on_field, "goal") and of_class(on_field, "crease")
    names = {element.text for element in on_field.iter() if element.tag == "text"}
    assert {"inside", "top", "X", "O"} <= names
    off_field = parsed(from_above(rep.series, rep.rep, Call.CLEAR, None))
    assert not of_class(off_field, "goal") and not of_class(off_field, "cone")


def test_the_crease_has_its_true_size() -> None:
    rep = make_rep_result()
    tree = parsed(from_above(rep.series, rep.rep, Call.CLEAR, closeout_layout()))
    (crease,) = of_class(tree, "crease")
    (bar,) = of_class(tree, "scale")
    length = re.search(r"h([\d.]+)", bar.get("d") or "")
    assert length is not None
    px_per_m = float(length[1]) / 5
    # Radius 9 ft of 0.3048 m (NCAA Men's Lacrosse Rules, Rule 1; from memory).
    assert float(crease.get("r", "")) == pytest.approx(9 * 0.3048 * px_per_m, abs=0.1)


def test_dots_are_a_fifth_of_a_second_apart() -> None:
    series = make_series(rate_hz=30.0)
    rep = Rep(0.4, None, 2.7, 3.7, None)
    tree = parsed(from_above(series, rep, Call.CLEAR, None))
    duration = series.t_s[-1] - series.t_s[0]
    unseen = 1  # at most one dot falls on the frame that is not seen
    assert abs(len(of_class(tree, "dot")) - (int(duration / 0.2) + 1)) <= unseen


@pytest.mark.parametrize(("call", "tag"), [(Call.FLAGGED, "polygon"), (Call.CLEAR, "circle")])
def test_arrival_is_marked_by_the_calls_shape(call: Call, tag: str) -> None:
    rep = make_rep_result()
    tree = parsed(from_above(rep.series, rep.rep, call, None))
    assert [element.tag for element in of_class(tree, call.value)] == [tag]


def blank(series: Series) -> Series:
    nothing = {
        name: np.full_like(array, np.nan) for name, array in vars(series).items() if name != "t_s"
    }
    return replace(series, **nothing)


def test_nothing_seen_makes_an_empty_picture_not_an_error() -> None:
    series, rep = blank(make_series()), Rep(0.4, None, 2.7, 3.7, None)
    assert from_above(series, rep, Call.CANT_TELL, closeout_layout()) == ""
    assert field([run_path(1, series=series)], closeout_layout()) == ""
    assert field([], closeout_layout()) == ""


def run_path(
    number: int, call: Call = Call.CLEAR, series: Series | None = None, **chosen: str
) -> RunPath:
    named = {"spot": "top", "player": "Bo Lind (4)", "words": f"Rep {number}"} | chosen
    rep = make_rep_result()
    return RunPath(number, call, series or rep.series, rep.rep, **named)


def test_the_field_holds_every_rep_and_what_it_is_chosen_by() -> None:
    named = 'A "B" <C> (9)'
    calls = [Call.FLAGGED, Call.CLEAR, Call.CANT_TELL]
    paths = [run_path(n, call, player=named) for n, call in enumerate(calls, 1)]
    tree = parsed(field(paths, closeout_layout()))
    links = of_class(tree, "run-path")
    # The worst is drawn last and so on top.
    assert [link.get("href") for link in links] == ["#rep-2", "#rep-3", "#rep-1"]
    assert {link.get("data-player") for link in links} == {named}
    assert {link.get("data-spot") for link in links} == {"top"}


@pytest.mark.parametrize(
    ("call", "kind", "shape"),
    [
        (Call.FLAGGED, "flagged", "polygon"),
        (Call.CLEAR, "clear", "circle"),
        (Call.CANT_TELL, "unsure", "polygon"),
    ],
)
def test_a_call_shows_by_line_and_shape(call: Call, kind: str, shape: str) -> None:
    (link,) = of_class(parsed(field([run_path(1, call)], closeout_layout())), "run-path")
    assert len(of_class(link, f"path-{kind}")) == 1
    assert [element.tag for element in of_class(link, kind)] == [shape]


def test_a_path_ends_at_arrival_and_has_the_fields_scale() -> None:
    tree = parsed(field([run_path(1)], closeout_layout()))
    (line,) = of_class(tree, "path-clear")
    (crease,) = of_class(tree, "crease")
    rep = make_rep_result()
    assert rep.rep.arrival_s is not None
    arrival = int(np.argmin(np.abs(rep.series.t_s - rep.rep.arrival_s)))
    # The crease's radius is 9 ft of 0.3048 m (NCAA Men's Lacrosse Rules, Rule 1; from memory),
    # and its middle is the goal.
    px_per_m = float(crease.get("r", "")) / (9 * 0.3048)
    middle = np.array([float(crease.get("cx", "")), float(crease.get("cy", ""))])
    for corner, frame in ((0, 0), (-1, arrival)):
        drawn = (points(line)[corner] - middle) * [1, -1] / px_per_m
        assert drawn == pytest.approx(rep.series.defender_xy_m[frame], abs=0.02)


def test_a_path_that_went_astray_does_not_make_the_others_small() -> None:
    series = make_series()
    far = replace(series, defender_xy_m=series.defender_xy_m + np.array([300.0, 0.0]))
    alone = of_class(parsed(field([run_path(1)], closeout_layout())), "crease")
    beside = of_class(
        parsed(field([run_path(1), run_path(2, series=far)], closeout_layout())), "crease"
    )
    assert alone[0].get("r") == beside[0].get("r")


def test_a_gap_in_a_path_stays_a_gap() -> None:
    series = make_series()
    xy = series.defender_xy_m.copy()
    xy[20:30] = np.nan
    (line,) = of_class(
        parsed(field([run_path(1, series=replace(series, defender_xy_m=xy))], closeout_layout())),
        "path-clear",
    )
    (whole,) = of_class(parsed(field([run_path(1)], closeout_layout())), "path-clear")
    gaps = [(each.get("d") or "").count("M") for each in (line, whole)]
    assert gaps[0] == gaps[1] + 1
