"""Serve a practice's pages on this machine until Ctrl-C."""

from __future__ import annotations

import sys
import webbrowser
from pathlib import Path

import typer

from posecheck.files.places import existing_folder
from posecheck.web.site import site


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
    with site(folder, opens, port or 0) as server:
        typer.echo(f"Open {server.address}\nCtrl-C ends it. Nobody but this machine can see it.")
        if browser and sys.stdout.isatty():
            webbrowser.open(server.address)
        try:
            server.serve()
        except KeyboardInterrupt:
            typer.echo("")
