"""An output folder as it lies, served: the pages, their pictures, the clips.

Pages are files that also open by themselves. Served, each gets a line that says where its scripts
can save what the coach decides::

    <meta name="posecheck-api" content="/TOKEN/api/">

The policy that a page carries for what it may load goes out as a header instead, with leave to
talk to this server.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from posecheck.files.names import PAGE_FILE

KINDS = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".mp4": "video/mp4",
    ".csv": "text/csv",
}
"""What is served; the record and its Parquet files are nobody's page."""

_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">\n?')
_CHARSET = re.compile(r'<meta charset="[^"]*">\n?')
_NO_ICON = '<link rel="icon" href="data:,">\n'
"""Else a browser asks for an icon at an address outside the token, where there is nothing."""

_SERVED = {"connect-src": "'self'", "frame-ancestors": "'none'"}


def results_routes(
    folder: Path, bring_up_to_date: Callable[[], object] = lambda: None
) -> list[BaseRoute]:
    """What is in an output folder; these routes take every address, so they come last.

    Args:
        folder: of the results.
        bring_up_to_date: called before a page is read.
    """
    folder = folder.resolve()

    def first(request: Request) -> Response:
        return RedirectResponse(PAGE_FILE)

    def file(request: Request) -> Response:
        if request.path_params["path"].endswith(".html"):
            bring_up_to_date()
        path = _inside(folder, request.path_params["path"])
        kind = KINDS[path.suffix]
        if kind != "text/html":
            return FileResponse(path, media_type=kind, stat_result=path.stat())
        root = request.scope["root_path"]
        text, policy = served_page(path.read_text("utf-8"), f"{root}/api/")
        headers = {} if policy is None else {"Content-Security-Policy": policy}
        return HTMLResponse(text, headers=headers)

    return [Route("/", first), Route("/{path:path}", file)]


def served_page(text: str, api: str) -> tuple[str, str | None]:
    """A page as it is served, and the policy for its header, None when it carries none.

    Args:
        text: of the page.
        api: address below which its scripts can save.
    """
    carried = carried_policy(text)
    policy = None if carried is None else _as_served(carried)
    text = _POLICY.sub("", text, count=1)
    lines = f'<meta name="posecheck-api" content="{api}">\n{_NO_ICON}'
    return _CHARSET.sub(lambda found: found[0] + lines, text, count=1), policy


def carried_policy(text: str) -> str | None:
    """What a page itself says that it may load, None when it says nothing."""
    carried = _POLICY.search(text)
    return None if carried is None else carried[1]


def _as_served(policy: str) -> str:
    """A page's policy with leave to talk to this server, and to no other."""
    parts = [part.strip() for part in policy.split(";")]
    own = [part for part in parts if part.partition(" ")[0] not in _SERVED]
    return "; ".join([*own, *(f"{name} {value}" for name, value in _SERVED.items())])


def _inside(folder: Path, path: str) -> Path:
    """A file of the folder that may be served.

    Raises:
        HTTPException: there is none; a way out of the folder is one that is not there.
    """
    parts = path.split("/")
    odd = any(not part or part[0] == "." or "\\" in part or "\0" in part for part in parts)
    if odd or Path(path).suffix not in KINDS:
        raise HTTPException(404)
    found = (folder / path).resolve()
    if not found.is_relative_to(folder) or found.suffix not in KINDS or not found.is_file():
        raise HTTPException(404)
    return found
