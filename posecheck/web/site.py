"""Everything there is to see and set of one practice, on one local server."""

from __future__ import annotations

from pathlib import Path

from starlette.routing import BaseRoute, Mount

from posecheck.errors import UsageError
from posecheck.files.names import PAGE_FILE
from posecheck.store.record import Record, find_record
from posecheck.web.app import LocalServer
from posecheck.web.points_board import PointsBoard
from posecheck.web.points_page import points_routes
from posecheck.web.results import results_routes
from posecheck.web.rulings import rulings_routes

RESULTS = PAGE_FILE
POINTS = "points/"


def site(folder: Path, opens: str, port: int = 0) -> LocalServer:
    """Put together the pages of a practice.

    Args:
        folder: of the practice, or of its results.
        opens: the page to open, which must have something to show: :data:`RESULTS` or
            :data:`POINTS`. The others are there if they have.
        port: to listen on, 0 for any that is free.

    Raises:
        PosecheckError: the page to open has nothing to show, or the port cannot be used.
    """
    try:
        record = find_record(folder)
    except UsageError:
        if opens == RESULTS:
            raise
        record = None
    routes: list[BaseRoute] = []
    try:
        routes.append(
            Mount("/points", routes=points_routes(PointsBoard(_practice(folder, record))))
        )
    except UsageError:
        if opens == POINTS:
            raise
    if record is not None:
        if opens == RESULTS and not (record.parent / PAGE_FILE).exists():
            raise UsageError(
                f"{record.parent}: {PAGE_FILE} is not there; run posecheck check again, which "
                "measures nothing twice."
            )
        routes += rulings_routes(record)
        routes += results_routes(record.parent)
    return LocalServer(routes, port, opens)


def _practice(folder: Path, record: Path | None) -> Path:
    """The practice's folder when its results were named.

    Raises:
        UsageError: these are results of several practices.
    """
    if record is None or record.parent != folder:
        return folder
    with Record(record) as opened:
        folders = opened.practice_folders()
    if len(folders) != 1:
        raise UsageError(
            f"{folder}: it holds the results of {len(folders)} practices; name a practice's folder."
        )
    return folders[0]
