"""One page for each rep: its film, and every figure, plot and finding of it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, partial
from pathlib import Path
from typing import BinaryIO

import jinja2

from posecheck.errors import RecordError
from posecheck.files.whole_file import write_whole
from posecheck.judging.rules import rule_name
from posecheck.judging.ruling import CALLS
from posecheck.judging.verdict import Call
from posecheck.measures.figures import in_units
from posecheck.pages.environment import page_environment
from posecheck.pages.inline import inlined
from posecheck.pages.like_rep import like_clean_reps
from posecheck.pages.look_first import compared
from posecheck.pages.rep_data import (
    REPS_FOLDER,
    film_times_ms,
    rep_data,
    rep_key,
    rep_page_name,
)
from posecheck.pages.rep_view import RepView
from posecheck.pages.svg import call_mark
from posecheck.practice.practice import Practice

VIEWER_STYLES = ("viewer.css",)
"""Templates that a page with films takes in, after its own style."""

VIEWER_SCRIPTS = ("viewer.js", "stars.js")
"""The same for scripts. They read the element ``reps``, so they stand after it."""


def write_rep_pages(
    views: Sequence[RepView], practice: Practice, out_dir: Path
) -> dict[int, Exception]:
    """Write ``reps/rep-001.html`` and so on, and take away pages of reps that are no more.

    Args:
        views: every rep of the practice, by number.
        practice: as described now.
        out_dir: folder of the practice's page. Clips and small pictures are linked, not taken in.

    Returns:
        What went wrong with pages that could not be written, by number.

    Raises:
        RecordError: the folder cannot be written to.
    """
    head = inlined(("style.css", *VIEWER_STYLES), (*VIEWER_SCRIPTS, "rep_page.js", "rulings.js"))
    template = _environment().get_template("rep_page.html")
    names = {view.number: Path(rep_page_name(view.number)).name for view in views}
    likes = like_clean_reps(views)
    faults: dict[int, Exception] = {}
    for view, data in zip(views, rep_data(views), strict=True):
        try:
            page = template.render(
                rep=view,
                card=compared(view, likes.get(view.number)),
                practice=practice,
                practice_words=practice_words(practice),
                before=names.get(view.number - 1),
                after=names.get(view.number + 1),
                data=[_from_within(data) | {"film_ms": film_times_ms(view)}],
                inlined=head,
            ).encode("utf-8")
            write_whole(out_dir / rep_page_name(view.number), partial(_write, page), lasting=False)
        except Exception as error:
            faults[view.number] = error
    if faults and len(faults) == len(views):
        raise next(iter(faults.values()))
    wanted = {name for number, name in names.items() if number not in faults}
    _take_away(out_dir / REPS_FOLDER, wanted)
    return faults


def _write(data: bytes, file: BinaryIO) -> None:
    file.write(data)


def practice_words(practice: Practice) -> str:
    """By what a browser keeps the stars of a practice: its name and date."""
    return f"{practice.name}, {practice.date.isoformat()}" if practice.date else practice.name


def _from_within(data: dict[str, object]) -> dict[str, object]:
    """A rep's data with addresses as they are from the folder of the reps' pages."""
    addresses = {key: f"../{data[key]}" for key in ("clip", "thumb", "page") if data[key]}
    return data | addresses


def _take_away(folder: Path, wanted: set[str]) -> None:
    try:
        for path in folder.glob("rep-*.html"):
            if path.name not in wanted and not path.is_dir():
                path.unlink(missing_ok=True)
    except OSError as error:
        raise RecordError(
            f"{folder}: pages of reps that are no more cannot be taken away "
            f"({error.strerror or error}); change the folder's permissions."
        ) from error


@cache
def _environment() -> jinja2.Environment:
    environment = page_environment(
        Call=Call,
        call_mark=call_mark,
        calls=CALLS,
        rep_key=rep_key,
        rep_page_name=rep_page_name,
    )
    environment.filters.update(in_units=in_units, rule_name=rule_name)
    return environment
