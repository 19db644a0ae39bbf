"""Everything there is to see and set of one practice, on one local server."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from starlette.routing import BaseRoute, Mount

from posecheck.errors import UsageError
from posecheck.files.names import PAGE_FILE
from posecheck.files.places import there
from posecheck.store.finding import find_record, measured_practices
from posecheck.store.record import Record
from posecheck.web.app import LocalServer
from posecheck.web.long_films import LongFilms, long_films_routes
from posecheck.web.points_board import PointsBoard
from posecheck.web.points_page import points_routes
from posecheck.web.results import results_routes
from posecheck.web.rulings import rulings_routes
from posecheck.web.sheet import ContactSheet
from posecheck.web.sheet_page import sheet_routes

T = TypeVar("T")

RESULTS = PAGE_FILE
POINTS = "points/"
NAMES = "names/"


def site(folder: Path, opens: str, port: int = 0) -> LocalServer:
    """Put together the pages of a practice.

    Args:
        folder: of the practice, or of its results.
        opens: the page to open, which must have something to show: :data:`RESULTS`,
            :data:`POINTS` or :data:`NAMES`. The others are there if they have.
        port: to listen on, 0 for any that is free.

    Raises:
        PosecheckError: the page to open has nothing to show, or the port cannot be used.
    """
    try:
        record = find_record(folder)
    except UsageError:
        if opens != POINTS:
            raise
        return LocalServer(_points(PointsBoard(folder)), port, opens)
    if opens == RESULTS and not there(record.parent / PAGE_FILE):
        raise UsageError(
            f"{record.parent}: {PAGE_FILE} is not there; run posecheck check again, which "
            "measures nothing twice."
        )
    sheet = _if_wanted(lambda: ContactSheet(_practice(folder, record), record), opens == NAMES)
    board = _if_wanted(
        lambda: PointsBoard(_practice(folder, record), sheet is not None), opens == POINTS
    )
    films = _if_wanted(lambda: LongFilms(_practice(folder, record), record), wanted=False)
    routes = [
        *([] if board is None else _points(board)),
        *([] if films is None else long_films_routes(films)),
        *rulings_routes(record),
    ]
    if sheet is None:
        return LocalServer([*routes, *results_routes(record.parent)], port, opens)
    names = Mount("/names", routes=sheet_routes(sheet))
    # What was said of clips goes into the pages before one is read.
    results = results_routes(record.parent, sheet.publish)
    return LocalServer([*routes, names, *results], port, opens)


def _points(board: PointsBoard) -> list[BaseRoute]:
    return [Mount("/points", routes=points_routes(board))]


def _if_wanted(make: Callable[[], T], wanted: bool) -> T | None:
    """What a page needs; None when it cannot be had, and is not the one to open."""
    try:
        return make()
    except UsageError:
        if wanted:
            raise
        return None


def _practice(folder: Path, record: Path | None) -> Path:
    """The practice's folder, also when its results were named.

    Raises:
        UsageError: these are results of several practices, or the practice is no longer there.
    """
    if record is None or record.parent.resolve() != folder.resolve():
        return folder
    with Record(record) as opened:
        practices = measured_practices(opened)
    if len(practices) != 1:
        raise UsageError(
            f"{folder}: it holds the results of {len(practices)} practices; name a practice's "
            "folder."
        )
    return practices[0].folder
