"""The points page's addresses."""

from __future__ import annotations

from typing import Any

from starlette.responses import Response
from starlette.routing import BaseRoute

from posecheck.web.app import Query, own_files, reads, writes
from posecheck.web.points_board import PointsBoard

OWN_FILES = ("points.html", "base.css", "points.css", "points_drawing.js", "points.js")


def points_routes(board: PointsBoard) -> list[BaseRoute]:
    """What the page for setting a practice's known points asks for."""

    def frame(query: Query) -> Response:
        jpeg = board.film.frame(query["clip"], float(query["time_s"]))
        return Response(jpeg, media_type="image/jpeg")

    def save(given: Any) -> Any:
        return {"file": board.save(given["views"], given["clips"])}

    return [
        *own_files(*OWN_FILES),
        reads("/state", lambda query: board.state()),
        reads("/about", lambda query: board.film.about(query["clip"])),
        reads("/frame", frame),
        writes("/fit", lambda given: board.fit(given["clip"], given["view"])),
        writes("/find", lambda given: board.find(given["clip"])),
        writes("/save", save),
    ]
