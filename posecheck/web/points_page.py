"""The points page's addresses."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

from posecheck.web.points_board import PointsBoard
from posecheck.web.server import Answer, LocalServer, Query, Routes, file_answer, json_answer

OWN_FILES = ("points.css", "points_drawing.js", "points.js")


def points_server(folder: Path, port: int = 0) -> LocalServer:
    """Make the server for setting a practice's known points.

    Args:
        folder: of the practice.
        port: to listen on, 0 for any that is free.

    Raises:
        UsageError: nothing to set points in, or the port cannot be used.
    """
    return LocalServer(_routes(PointsBoard(folder)), port)


def _own_file(name: str, query: Query) -> Answer:
    return file_answer(name)


def _routes(board: PointsBoard) -> Routes:
    def frame(query: Query) -> Answer:
        return Answer("image/jpeg", board.frame(query["clip"], float(query["time_s"])))

    def save(given: Any) -> Any:
        return {"file": board.save(given["views"], given["clips"])}

    return Routes(
        get={
            "": lambda query: file_answer("points.html"),
            **{name: partial(_own_file, name) for name in OWN_FILES},
            "state": lambda query: json_answer(board.state()),
            "about": lambda query: json_answer(board.about(query["clip"])),
            "frame": frame,
        },
        post={
            "fit": lambda given: board.fit(given["clip"], given["view"]),
            "find": lambda given: board.find(given["clip"]),
            "save": save,
        },
    )
