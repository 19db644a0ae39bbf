"""The contact sheet's addresses."""

from __future__ import annotations

from typing import Any

from starlette.responses import Response
from starlette.routing import BaseRoute

from posecheck.web.app import Query, own_files, reads, writes
from posecheck.web.sheet import ContactSheet

OWN_FILES = ("sheet.html", "base.css", "sheet.css", "sheet_film.js", "sheet.js")


def sheet_routes(sheet: ContactSheet) -> list[BaseRoute]:
    """What the page on which players are named asks for."""

    def picture(query: Query) -> Response:
        return Response(sheet.picture(query["clip"], "small" in query), media_type="image/jpeg")

    def frame(query: Query) -> Response:
        jpeg = sheet.film.frame(query["clip"], float(query["time_s"]))
        return Response(jpeg, media_type="image/jpeg")

    def publish(given: Any) -> Any:
        sheet.publish()
        return {}

    return [
        *own_files(*OWN_FILES),
        reads("/state", lambda query: sheet.state()),
        reads("/picture", picture),
        reads("/about", lambda query: sheet.film.about(query["clip"])),
        reads("/frame", frame),
        writes("/say", sheet.say),
        writes("/publish", publish),
    ]
