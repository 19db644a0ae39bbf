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
        pytest.skip("the pose model is not set up: run `posecheck model` first")
    return pose_model_path()


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """On the machine that checks every change, a test that could not run has failed."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if not (os.environ.get("CI") and reporter) or session.config.option.collectonly:
        return
    skipped = len(reporter.stats.get("skipped", []))
    if skipped and session.exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{skipped} skipped: nothing may be skipped when CI is set", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
