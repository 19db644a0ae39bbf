"""Serve a practice's pages on this machine until Ctrl-C."""

from __future__ import annotations

import sys
import webbrowser
from pathlib import Path

import typer
from rich.console import Console

from posecheck.errors import UsageError
from posecheck.files.places import existing_folder
from posecheck.judging.ruling import CoachRuling
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.practice.practice import Practice
from posecheck.store.finding import find_record, measured_practices
from posecheck.store.record import Record
from posecheck.web.site import site

Rulings = dict[tuple[str, int], CoachRuling]


def serve(folder: Path, opens: str, port: int | None, browser: bool = True) -> None:
    """Serve, say where, and open a browser when a person is there to see it.

    Args:
        folder: of the practice, or of its results.
        opens: which page, see :func:`posecheck.web.site.site`.
        port: to listen on, None for any that is free.
        browser: whether to open one.

    Raises:
        PosecheckError: there is nothing to show, or the port cannot be used.
    """
    existing_folder(folder)
    ruled = _rulings(folder)
    with site(folder, opens, port or 0) as server:
        typer.echo(f"Open {server.address}\nCtrl-C ends it. Nobody but this machine can see it.")
        if browser and sys.stdout.isatty():
            webbrowser.open(server.address)
        try:
            server.serve()
        except KeyboardInterrupt:
            typer.echo("")
    if _rulings(folder) != ruled:
        _write_pages(folder)


def _rulings(folder: Path) -> Rulings:
    """What the coach has ruled; nothing where nothing has been checked yet."""
    try:
        path = find_record(folder)
    except UsageError:
        return {}
    with Record(path) as record:
        practices = [Practice(each, "") for each in record.practice_folders()]
        return {key: each for own in practices for key, each in record.rulings(own).items()}


def _write_pages(folder: Path) -> None:
    """Write the pages again, so that they also say what was ruled when they open as files."""
    from posecheck.cli.run import publish_page

    with Record(find_record(folder)) as record:
        for practice in measured_practices(record):
            limits = record.last_thresholds(practice) or DEFAULT_THRESHOLDS
            publish_page(record, practice, limits, Console())
