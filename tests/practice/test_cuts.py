"""What was found in long films and what the coach set: kept, read back, laid over each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from posecheck.errors import SettingsError
from posecheck.practice.cuts import FilmCuts, SetBy, SetStretch, Stretch, StretchKind, as_set
from posecheck.practice.found_cuts import cuts_of, cuts_path, read_cuts, write_cuts
from posecheck.practice.set_cuts import read_set, write_set

REP, UNSURE, NONE = StretchKind.REP, StretchKind.UNSURE, StretchKind.NONE


def found(from_s: float, to_s: float, kind: StretchKind = REP, cut: str | None = None) -> Stretch:
    return Stretch(from_s, to_s, kind, "somebody runs at somebody and stops", cut)


def film(name: str = "film-01.mp4", digest: str = "a" * 64) -> FilmCuts:
    stretches = (found(10.0, 18.0, REP, "one.mp4"), found(30.5, 41.0, UNSURE, "two.mp4"))
    return FilmCuts(name, digest, 2400.0, "key", stretches, (25.25, 1200.0), stretches)


def spans(stretches: tuple[Stretch, ...]) -> list[tuple[float, float, str]]:
    return [(each.from_s, each.to_s, each.kind.value) for each in stretches]


# -- what was found ------------------------------------------------------------------------------


def test_what_was_found_is_read_back_in_order_of_the_films(tmp_path: Path) -> None:
    tenth, ninth = film("film-10.mp4", "a" * 64), film('odd "9"/\udcff\n.mp4', "b" * 64)
    second = film("film-2.mp4", "c" * 64)
    for each in (tenth, ninth, second):
        write_cuts(tmp_path, each)
    assert read_cuts(tmp_path) == (second, tenth, ninth)
    assert cuts_of(tmp_path, "c" * 64) == second
    assert cuts_of(tmp_path, "d" * 64) is None


def test_a_film_scanned_again_is_kept_once(tmp_path: Path) -> None:
    write_cuts(tmp_path, film())
    other = replace(film(), settings_key="other", stretches=(), found=())
    write_cuts(tmp_path, other)
    assert read_cuts(tmp_path) == (other,)


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"film": 3}', "[" * 100_000])
def test_a_damaged_file_counts_as_none(tmp_path: Path, text: str) -> None:
    write_cuts(tmp_path, film())
    cuts_path(tmp_path, film().digest).write_text(text)
    assert read_cuts(tmp_path) == ()
    assert cuts_of(tmp_path, film().digest) is None


def test_without_long_films_there_are_none(tmp_path: Path) -> None:
    assert read_cuts(tmp_path) == ()


# -- what the coach set --------------------------------------------------------------------------


def test_what_was_set_is_read_back(tmp_path: Path) -> None:
    by_film = {
        "clips/zo\u00e9.mp4": (
            SetStretch(3.0, 9.125, NONE),
            SetStretch(20.0, 28.5, REP, (21.5, 28.0)),
        ),
        'odd "name" \\ \U0001f94d.mp4': (SetStretch(0.0, 5.0, REP),),
    }
    path = write_set(tmp_path, by_film)
    assert path.name == "cuts.toml"
    assert read_set(tmp_path) == by_film


def test_a_name_that_is_no_text_cannot_be_kept(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"^film\\xe9.mp4: this name is no text"):
        write_set(tmp_path, {"film\udce9.mp4": [SetStretch(1.0, 9.0, REP)]})
    assert list(tmp_path.iterdir()) == []


def test_without_the_file_nothing_was_set(tmp_path: Path) -> None:
    assert read_set(tmp_path) == {}


WHOLE = "film = 'a.mp4'\nfrom_s = 1\nto_s = 9\nkind = 'rep'\n"
BAD = {
    "from_s = 1": ("from_s = -1", "from_s is -1; give a number from 0 to 1e+06."),
    "to_s = 9": ("to_s = 1.0", "to_s is 1, not after from_s; give the end of the stretch."),
    "kind = 'rep'": ("kind = 'unsure'", "kind is 'unsure'; choose one of rep, none."),
    "film = 'a.mp4'\n": ("", "film is missing; give the film's file name."),
    "to_s = 9\n": ("", "is not whole; give from_s and to_s."),
    "kind = 'rep'\n": ("why = 'x'\nkind = 'rep'\n", "why is not a known setting; choose one of "
    "film, from_s, to_s, kind, found."),
}  # fmt: skip


@pytest.mark.parametrize("line", BAD)
def test_what_cannot_be_used_is_refused(tmp_path: Path, line: str) -> None:
    put, sentence = BAD[line]
    (tmp_path / "cuts.toml").write_text("[[stretches]]\n" + WHOLE.replace(line, put))
    with pytest.raises(SettingsError) as caught:
        read_set(tmp_path)
    assert str(caught.value) == f"{tmp_path / 'cuts.toml'}: [[stretches]] number 1 {sentence}"


# -- what holds ----------------------------------------------------------------------------------


def test_nothing_set_leaves_what_was_found() -> None:
    stretches = film().found
    assert as_set(reversed(stretches), ()) == stretches


def test_a_stretch_without_length_is_none() -> None:
    """A run seen between two jumps of the film may be cut down to nothing."""
    found = [Stretch(9.0, 9.0, REP), Stretch(12.0, 12.0004, REP), Stretch(20.0, 20.5, REP)]
    assert as_set(found, ()) == (found[2],)


def test_his_times_win_over_those_found() -> None:
    his = SetStretch(9.0, 17.0, REP, (10.0, 18.0))
    (first, second) = as_set(film().found, [his])
    assert (first.from_s, first.to_s, first.kind, first.set_by) == (9.0, 17.0, REP, SetBy.COACH)
    assert first.cut is None
    assert second == film().found[1]


def test_an_unsure_stretch_may_be_set_to_a_rep_or_to_none() -> None:
    for kind in (REP, NONE):
        his = SetStretch(30.5, 41.0, kind, (30.5, 41.0))
        assert spans(as_set(film().found, [his])) == [(10.0, 18.0, "rep"), (30.5, 41.0, kind)]


def test_a_stretch_that_he_added_is_kept() -> None:
    his = SetStretch(50.0, 60.0, REP)
    assert spans(as_set(film().found, [his]))[-1] == (50.0, 60.0, "rep")


def test_what_he_set_holds_when_another_scan_finds_slightly_other_times() -> None:
    moved = SetStretch(5.0, 8.0, REP, (10.0, 18.0))  # elsewhere altogether
    removed = SetStretch(30.5, 41.0, NONE, (30.5, 41.0))
    rescanned = (found(10.4, 18.3), found(29.7, 40.2))
    assert spans(as_set(rescanned, [moved, removed])) == [(5.0, 8.0, "rep"), (30.5, 41.0, "none")]


def test_what_he_set_holds_when_the_next_scan_finds_nothing() -> None:
    his = SetStretch(10.0, 18.0, REP, (10.0, 18.0))
    assert spans(as_set((), [his])) == [(10.0, 18.0, "rep")]


def test_a_rep_that_another_scan_finds_besides_is_not_lost() -> None:
    # One stretch was found and shortened to its first rep; now the second is found as its own.
    his = SetStretch(10.0, 18.0, REP, (10.0, 30.0))
    rescanned = (found(10.2, 18.4), found(20.0, 30.0))
    assert spans(as_set(rescanned, [his])) == [(10.0, 18.0, "rep"), (20.0, 30.0, "rep")]


def test_of_two_neighbours_the_one_that_he_set_is_replaced() -> None:
    his = SetStretch(20.0, 26.0, REP, (19.0, 27.0))
    two = (found(9.0, 20.0), found(20.5, 28.0))
    assert spans(as_set(two, [his])) == [(9.0, 20.0, "rep"), (20.0, 26.0, "rep")]


def test_a_found_stretch_that_only_touches_his_is_shortened() -> None:
    his = [SetStretch(15.0, 22.0, REP), SetStretch(40.0, 45.0, NONE)]
    shortened = as_set((found(20.0, 41.0, REP, "old.mp4"),), his)
    assert spans(shortened) == [(15.0, 22.0, "rep"), (22.0, 40.0, "rep"), (40.0, 45.0, "none")]
    assert shortened[1].cut is None


def test_one_long_removal_takes_all_that_lies_in_it() -> None:
    assert spans(as_set(film().found, [SetStretch(0.0, 60.0, NONE)])) == [(0.0, 60.0, "none")]


def test_what_was_cut_out_is_known_as_long_as_the_times_are_the_same() -> None:
    his = SetStretch(9.0, 17.0, REP, (10.0, 18.0))
    before = film()
    assert [each.cut for each in before.as_set([])] == ["one.mp4", "two.mp4"]
    assert [each.cut for each in before.as_set([his])] == [None, "two.mp4"]
    first = replace(as_set(before.found, [his])[0], cut="his.mp4")
    checked = replace(before, stretches=(first, before.stretches[1]))
    assert [each.cut for each in checked.as_set([his])] == ["his.mp4", "two.mp4"]
    # Taken back, what was found holds again, and is cut out by the next check.
    assert spans(checked.as_set([])) == spans(before.found)
    assert [each.cut for each in checked.as_set([])] == [None, "two.mp4"]


def test_what_was_cut_out_is_known_again_when_he_moves_it() -> None:
    before, two = film(), film().stretches[1]
    assert before.moved([]) == []
    assert before.moved([SetStretch(10.0, 18.0, NONE, (10.0, 18.0))]) == []
    assert before.moved([SetStretch(19.0, 27.0, REP, (10.0, 18.0))]) == [], "another rep"
    ((old, new),) = before.moved([SetStretch(9.0, 17.0, REP, (10.0, 18.0))])
    assert (old.cut, new.from_s, new.cut) == ("one.mp4", 9.0, None)
    # Of two reps that lie in it, the one that has more of it.
    halves = [SetStretch(30.5, 35.0, REP, (30.5, 41.0)), SetStretch(35.0, 41.0, REP)]
    assert [(old, new.from_s) for old, new in before.moved(halves)] == [(two, 35.0)]
    # What he set and takes back.
    his = replace(as_set(before.found, [SetStretch(9.0, 17.0, REP)])[0], cut="his.mp4")
    taken_back = replace(before, stretches=(his, two)).moved([])
    assert [(old.cut, new.from_s) for old, new in taken_back] == [("his.mp4", 10.0)]
