"""The page of long films: each as a strip of small pictures, with what was found in it.

A row is half a minute. What is not sure is listed first, each with its reason and a picture; every
rep leads to its own page. Served, start and end can be set, and what is a rep and what is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path, PurePosixPath
from urllib.parse import quote

import jinja2

from posecheck.files.cut_name import clock, span
from posecheck.files.names import CUTS_FOLDER, FILMS_PAGE_FILE, PAGE_FILE
from posecheck.files.whole_file import write_whole
from posecheck.judging.verdict import Call
from posecheck.maths.units import Units
from posecheck.measures.result import ClipResult
from posecheck.pages.environment import page_environment
from posecheck.pages.inline import inlined
from posecheck.pages.rep_data import rep_page_name
from posecheck.pages.rep_view import RepView
from posecheck.pages.strip_pictures import (
    PICTURES_IN_ROW,
    n_rows,
    row_name,
    stretch_name,
    take_away,
)
from posecheck.pages.svg import call_mark
from posecheck.pages.tuning import NAMED_FROM_S, ROW_S, STRIP_PICTURE_PX
from posecheck.practice.cuts import FilmCuts, SetBy, SetStretch, Stretch, StretchKind
from posecheck.practice.practice import Practice
from posecheck.printable import printable


@dataclass(frozen=True)
class CutOut:
    """What came of one clip that was cut out of a long film.

    Attributes:
        reps: measured in it.
        fault: why none could be measured, None when one was.
    """

    reps: tuple[RepView, ...]
    fault: str | None


@dataclass(frozen=True)
class StretchView:
    """A stretch of a long film as the page shows it.

    Attributes:
        key: names it on the page.
        stretch: from start to end.
        state: "rep", "unsure" or "none"; "open" for a rep that is measured by the next check, and
            "unmeasured" for one that could not be.
        reps: measured in it.
        why: the reason for what is not a measured rep, one sentence.
        picture: relative address of its own small picture, None when there is none.
        video: the same of the clip that was cut out.
    """

    key: str
    stretch: Stretch
    state: str
    reps: tuple[RepView, ...]
    why: str
    picture: str | None
    video: str | None

    @property
    def at(self) -> str:
        """When it begins."""
        return clock(self.stretch.from_s)

    @property
    def times(self) -> str:
        """From when to when: "14:32 to 14:41"."""
        return span(self.stretch.from_s, self.stretch.to_s)

    @property
    def by_hand(self) -> bool:
        """Whether the coach set it."""
        return self.stretch.set_by is SetBy.COACH

    @property
    def name(self) -> str:
        """What it is, as short as it is said: "rep 12"."""
        if self.state == "none":
            return "no rep"
        if self.state == "unsure":
            return "not sure"
        if self.state == "unmeasured":
            return "not measured"
        numbers = " and ".join(str(rep.number) for rep in self.reps)
        return f"rep{'s' if len(self.reps) > 1 else ''} {numbers}".strip()

    @property
    def words(self) -> str:
        """The same and where: "rep 12 at 14:32"."""
        return f"{self.name} at {self.at}"

    @property
    def page(self) -> str | None:
        """Address of its rep's page, None where none was measured."""
        return rep_page_name(self.reps[0].number) if self.reps else None


@dataclass(frozen=True)
class Mark:
    """A stretch, or as much of it as lies in one row; places are percentages of the row."""

    view: StretchView
    left: float
    width: float
    text: str
    begins: bool
    ends: bool


@dataclass(frozen=True)
class Row:
    """Half a minute of a film.

    Attributes:
        at: when it begins.
        from_s: the same in seconds.
        picture: relative address, None when there is none.
        marks: of stretches.
        changes: percentages of the row at which the camera stands elsewhere.
        seen: percentage of the row up to which there is film.
    """

    at: str
    from_s: float
    picture: str | None
    marks: tuple[Mark, ...]
    changes: tuple[float, ...]
    seen: float


@dataclass(frozen=True)
class FilmView:
    """A long film as the page shows it.

    Attributes:
        cuts: what was found.
        stretches: with what the coach has set by now.
        rows: of the strip.
    """

    cuts: FilmCuts
    stretches: tuple[StretchView, ...]
    rows: tuple[Row, ...]

    def of(self, *states: str) -> list[StretchView]:
        """Its stretches of these states."""
        return [each for each in self.stretches if each.state in states]

    @property
    def name(self) -> str:
        """Its name as it may be shown."""
        return printable(self.cuts.film)

    @property
    def length(self) -> str:
        """Its length as people say it."""
        return clock(self.cuts.duration_s)

    @property
    def n_open(self) -> int:
        """How many stretches hold something else at the next check than they do now."""
        checked = {(each.from_s, each.to_s, each.kind) for each in self.cuts.stretches}
        now = {
            (view.stretch.from_s, view.stretch.to_s, view.stretch.kind) for view in self.stretches
        }
        return max(len(now - checked), len(checked - now))


def write_films_page(
    practice: Practice,
    films: Sequence[FilmCuts],
    set_by_coach: Mapping[str, Iterable[SetStretch]],
    cut_out: Mapping[str, CutOut],
    out_dir: Path,
) -> Path | None:
    """Write ``films.html``, or take it away when there are no long films.

    Args:
        practice: whose films.
        films: what was found in each.
        set_by_coach: what the coach has set by now, by film.
        cut_out: what came of each clip that was cut out, see :func:`cut_outs`.
        out_dir: folder of the page; pictures are linked when they lie there.

    Returns:
        Path of the page, None when there is none.

    Raises:
        RecordError: the folder cannot be written to.
    """
    path = out_dir / FILMS_PAGE_FILE
    take_away(out_dir, films)
    if not films:
        path.unlink(missing_ok=True)
        return None
    views = [view_film(cuts, set_by_coach.get(cuts.film, ()), cut_out, out_dir) for cuts in films]
    page = (
        _environment()
        .get_template("films.html")
        .render(
            practice=practice,
            films=views,
            back=PAGE_FILE,
            row_s=ROW_S,
            picture_px=(STRIP_PICTURE_PX[0] * PICTURES_IN_ROW, STRIP_PICTURE_PX[1]),
            inlined=inlined(("style.css", "viewer.css", "films.css"), ("films.js",)),
        )
    )
    write_whole(path, lambda file: file.write(page.encode("utf-8")), lasting=False)
    return path


def cut_outs(
    views: Iterable[RepView], faults: Iterable[ClipResult], out_dir: Path, units: Units
) -> dict[str, CutOut]:
    """What came of each clip that was cut out of a film, by its path in the folder of cuts.

    Args:
        views: every rep of the practice.
        faults: clips of which nothing could be measured.
        out_dir: of the results.
        units: in which faults give figures.
    """
    found: dict[str, CutOut] = {}
    for view in views:
        if (cut := _cut_of(view.result, out_dir)) is not None:
            earlier = found[cut].reps if cut in found else ()
            found[cut] = CutOut((*earlier, view), None)
    for result in faults:
        if (cut := _cut_of(result, out_dir)) is not None:
            found[cut] = CutOut((), result.fault_in(units))
    return found


def _cut_of(result: ClipResult, out_dir: Path) -> str | None:
    """A clip's path in the folder of cuts, POSIX form, None when it lies elsewhere."""
    folder = (out_dir / CUTS_FOLDER).resolve()
    inside = result.path.is_relative_to(folder)
    return result.path.relative_to(folder).as_posix() if inside else None


def view_film(
    cuts: FilmCuts,
    set_by_coach: Iterable[SetStretch],
    cut_out: Mapping[str, CutOut],
    out_dir: Path,
) -> FilmView:
    """Prepare a film for the page that is written to ``out_dir``."""
    stretches = tuple(
        _view(cuts, each, cut_out.get(each.cut or ""), out_dir)
        for each in cuts.as_set(set_by_coach)
    )
    rows = tuple(_row(cuts, stretches, at, out_dir) for at in range(n_rows(cuts)))
    return FilmView(cuts, stretches, rows)


def _view(cuts: FilmCuts, stretch: Stretch, came: CutOut | None, out_dir: Path) -> StretchView:
    picture = stretch_name(cuts, stretch)
    video = None if stretch.cut is None else str(PurePosixPath(CUTS_FOLDER) / stretch.cut)
    there = video is not None and (out_dir / video).is_file()
    state, why = str(stretch.kind), stretch.why
    reps = () if came is None else came.reps
    if stretch.kind is StretchKind.REP and not reps:
        if came is None:
            state, why = "open", "Not measured yet."
        else:
            state, why = "unmeasured", came.fault or "No rep was found in it."
    return StretchView(
        key=f"at-{cuts.digest[:8]}-{round(stretch.from_s * 1000)}",
        stretch=stretch,
        state=state,
        reps=reps,
        why=why[:1].upper() + why[1:],
        picture=picture if (out_dir / picture).is_file() else None,
        # A film may have any name, and with it the folder of its cuts.
        video=quote(video, errors="surrogateescape") if video and there else None,
    )


def _row(cuts: FilmCuts, stretches: Iterable[StretchView], at: int, out_dir: Path) -> Row:
    from_s, to_s = at * ROW_S, (at + 1) * ROW_S

    def place(time_s: float) -> float:
        return round(min(max((time_s - from_s) / ROW_S, 0.0), 1.0) * 100, 2)

    marks = []
    for view in stretches:
        if view.state == "none" and not view.by_hand:
            continue  # most of a film
        start_s, end_s = view.stretch.from_s, view.stretch.to_s
        if start_s < to_s and end_s > from_s:
            shown_s = min(end_s, to_s) - max(start_s, from_s)
            left = place(start_s)
            marks.append(
                Mark(
                    view=view,
                    left=left,
                    width=round(place(end_s) - left, 2),
                    text=view.name if shown_s >= NAMED_FROM_S else _shortest(view),
                    begins=start_s >= from_s,
                    ends=end_s <= to_s,
                )
            )
    picture = row_name(cuts, at)
    return Row(
        at=clock(from_s),
        from_s=from_s,
        picture=picture if (out_dir / picture).is_file() else None,
        marks=tuple(marks),
        changes=tuple(place(each) for each in cuts.camera_changes_s if from_s <= each < to_s),
        seen=place(cuts.duration_s),
    )


def _shortest(view: StretchView) -> str:
    """A stretch's name where there is no room: its number, or a sign that the legend explains."""
    if view.state in ("unsure", "unmeasured"):
        return "?"
    if view.state == "none":
        return "\u00d7"
    return str(view.reps[0].number) if view.reps else "rep"


@cache
def _environment() -> jinja2.Environment:
    environment = page_environment(Call=Call, call_mark=call_mark, rep_page_name=rep_page_name)
    return environment
