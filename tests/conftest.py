"""Fixtures for all tests. Made-up results come from ``factories``, which tests import by name."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

from posecheck.pose.model_files import pose_model_location, pose_model_path

# A law holds or not however busy the machine is.
settings.register_profile("posecheck", deadline=None)
settings.load_profile("posecheck")


@pytest.fixture(scope="session")
def pose_model() -> Path:
    """The verified default pose model. Tests never fetch it: it is set up beforehand."""
    if not pose_model_location().exists():
        wanted = "the pose model is not set up: run `posecheck model` first"
        if os.environ.get("CI"):
            pytest.fail(wanted)
        pytest.skip(wanted)
    return pose_model_path()
