"""Which version of posecheck is installed, for people to read; nothing is keyed by it."""

from __future__ import annotations

from importlib import metadata


def installed_version() -> str:
    """As ``pyproject.toml`` states it, "unknown" when posecheck is run without being installed."""
    try:
        return metadata.version("posecheck")
    except metadata.PackageNotFoundError:
        return "unknown"
