"""How the templates of pages are filled in: whatever comes from outside is escaped and shown on one
line, whatever characters it holds."""

from __future__ import annotations

import jinja2

from posecheck.printable import as_typed, printable


def page_environment(**names: object) -> jinja2.Environment:
    """The environment of the templates in this folder.

    Args:
        names: what templates may use besides what they are given.
    """
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("posecheck.pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters["as_typed"] = as_typed
    environment.globals.update(names)
    return environment


def _shown(value: object) -> object:
    # Text that is markup already was made here, and may go over lines.
    return printable(value) if type(value) is str else value
