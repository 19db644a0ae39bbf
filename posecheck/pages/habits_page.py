"""The page of a season's habits, and the same on one sheet of paper: one file each, offline."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from urllib.parse import quote

import jinja2
from markupsafe import Markup

from posecheck.files.names import (
    CHANGES_TABLE,
    HABITS_PAGE_FILE,
    HABITS_SHEET_FILE,
    HABITS_TABLE,
)
from posecheck.files.whole_file import write_whole
from posecheck.habits import words
from posecheck.habits.changes import Change, Question
from posecheck.habits.dates import Point, comparable, points
from posecheck.habits.habit import Habit
from posecheck.habits.season import PlayerId, PracticeReps, Season
from posecheck.maths.units import Units
from posecheck.pages.environment import page_environment
from posecheck.pages.habit_plots import habit_plot, small_habit_plot
from posecheck.pages.inline import inlined
from posecheck.pages.season_page import link_from, season_page_above

CLIPS_OF = 3
"""A change leads to his reps of so many practices, the latest ones; his figures lead to all.

Source: guess
"""


@dataclass(frozen=True)
class Said:
    """A change that is called.

    Attributes:
        player: whose.
        sentence: what, with its interval.
        ref: of the plot it is seen in.
        clips: the latest dates on which his reps can be watched, each with the address.
    """

    player: str
    sentence: str
    ref: str
    clips: Sequence[tuple[dt.date, str]]


@dataclass(frozen=True)
class Row:
    """One habit of one player.

    Attributes:
        who: whose.
        player: as written on the page.
        ref: of the plot.
        habit: what.
        points: by date.
        answers: by question.
        plot, small: drawings.
    """

    who: PlayerId
    player: str
    ref: str
    habit: Habit
    points: Sequence[Point]
    answers: dict[Question, Change]
    plot: Markup
    small: Markup

    @property
    def latest(self) -> Point | None:
        """The last date on which it was seen."""
        return next((each for each in reversed(self.points) if each.value is not None), None)


def write_habits_page(
    season: Season,
    habits: Sequence[Habit],
    changes: Sequence[Change],
    since: dt.date | None,
    judged_by: str,
    folder: Path,
) -> tuple[Path, Path]:
    """Write page and sheet.

    Args:
        season: at least one practice.
        habits: in order.
        changes: every question that was answered.
        since: date that practices were parted at, None when they were not.
        judged_by: a sentence on the limits.
        folder: where to write.

    Returns:
        Paths of the page and of the sheet.

    Raises:
        RecordError: the folder cannot be written to.
    """
    units = season.practices[-1].described.units
    rows = _rows(season, habits, changes, units)
    alike = comparable(season)
    called = sorted((each for each in changes if each.called), key=lambda each: each.adjusted)
    sheds = {
        "look": [each for each in called if each.worth_a_look],
        "better": [each for each in called if not each.worth_a_look and each.better > 0],
        "other": [each for each in called if not each.worth_a_look and each.better <= 0],
    }
    said = {
        name: [_said(each, rows, units, since, folder) for each in group]
        for name, group in sheds.items()
    }
    above = season_page_above(folder)
    reps = [rep for each in season.practices for rep in each.reps]
    values = {
        "season": season,
        "clubs": sorted({each.described.club for each in season.practices} - {""}),
        "habits": habits,
        "rows": rows,
        "players": list(dict.fromkeys(row.player for row in rows)),
        "questions": [each for each in Question if since is not None or each is not Question.SINCE],
        "reps": len(reps),
        "otherwise": sum(not rep.as_now for rep in reps),
        "alike": [any(each is other for other in alike) for each in season.practices],
        "since": since,
        "judged_by": judged_by,
        "units": units,
        "answered": len(changes),
        "tables": (HABITS_TABLE, CHANGES_TABLE),
        "page": HABITS_PAGE_FILE,
        "sheet": HABITS_SHEET_FILE,
        "season_page": None if above is None else link_from(folder, above),
        "link": lambda path: link_from(folder, path),
        "clips_of": lambda who, practice: _clips_of(who, practice, folder),
        **said,
    }
    environment = _environment()
    paths = []
    for template, name, styles, scripts in (
        ("habits.html", HABITS_PAGE_FILE, ["style.css", "habits.css"], ["habits.js"]),
        ("habits_sheet.html", HABITS_SHEET_FILE, ["habits_sheet.css"], ["clipboard.js"]),
    ):
        page = environment.get_template(template).render(inline=inlined(styles, scripts), **values)
        path = folder / name
        _write(path, page)
        paths.append(path)
    return paths[0], paths[1]


def _write(path: Path, page: str) -> None:
    write_whole(path, lambda file: file.write(page.encode("utf-8")))


def _rows(
    season: Season, habits: Sequence[Habit], changes: Sequence[Change], units: Units
) -> list[Row]:
    dates = season.practices[0].date, season.practices[-1].date
    answers: dict[tuple[PlayerId, str], dict[Question, Change]] = {}
    for change in changes:
        answers.setdefault((change.who, change.habit.key), {})[change.question] = change
    rows = []
    for place, (who, name) in enumerate(season.names.items(), start=1):
        player = f"{name} ({who.number})"
        for habit in habits:
            own = list(points(season, who, habit))
            rows.append(
                Row(
                    who=who,
                    player=player,
                    ref=f"p{place}-{habit.key}",
                    habit=habit,
                    points=own,
                    answers=answers.get((who, habit.key), {}),
                    plot=habit_plot(habit, own, dates, units, f"{player}: {habit.label} by date"),
                    small=small_habit_plot(habit, own, dates, units),
                )
            )
    return rows


def _clips_of(who: PlayerId, practice: PracticeReps, folder: Path) -> str | None:
    """Where a player's reps of a practice can be watched, as seen from the folder of the page."""
    # By the name that this practice writes: others may spell it otherwise.
    name = next((rep.name for rep in practice.reps if rep.who == who), None)
    if practice.page is None or name is None:
        return None
    player = quote(f"{name} ({who.number})", safe="")
    return f"{link_from(folder, practice.page)}#player={player}"


def _said(
    change: Change, rows: Sequence[Row], units: Units, since: dt.date | None, folder: Path
) -> Said:
    row = next(each for each in rows if change in each.answers.values())
    seen = [each.practice.date for each in row.points if each.comparable and each.value is not None]
    sentence = words.change_words(change, units, seen[-1] if seen else None, since)
    links = [
        (each.practice.date, link)
        for each in row.points
        if (link := _clips_of(row.who, each.practice, folder)) is not None
    ]
    return Said(row.player, sentence, row.ref, links[-CLIPS_OF:])


@cache
def _environment() -> jinja2.Environment:
    environment = page_environment(
        CAUTION=words.CAUTION,
        Question=Question,
        amount=words.amount,
        between=words.between,
        change_figure=words.change_figure,
        change_interval=words.change_interval,
        count=words.count,
        day=words.day,
        difference_figure=words.difference_figure,
        short_count=words.short_count,
        habit_figure=words.habit_figure,
        habit_digits=words.habit_digits,
    )
    return environment
