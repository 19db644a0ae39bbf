"""Fixtures for all tests. Made-up results come from ``factories``, which tests import by name."""

from __future__ import annotations

import os

# Before numpy and OpenCV are loaded. Tests run side by side: a thread that spins while it waits for
# work slows others down.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import Chromium, watched
from hypothesis import settings
from playwright.sync_api import Browser, Page, sync_playwright

from posecheck.pose.model_files import DEFAULT_VARIANT, pose_model_location, pose_model_path
from posecheck.pose.reader_choice import Reader, usual_reader

# A law holds or not however busy the machine is.
settings.register_profile("posecheck", deadline=None)
settings.load_profile("posecheck")


@pytest.fixture(scope="session")
def pose_model() -> Path:
    """The verified default pose model. Tests never fetch it: it is set up beforehand."""
    if not any(pose_model_location(reader=each).exists() for each in Reader):
        pytest.skip("the pose model is not set up: run `posecheck model` first")
    return pose_model_path()


@pytest.fixture(scope="session")
def pose_models(pose_model: Path) -> Callable[..., Path]:
    """Verified files of the pose model by reader, and by variant where it is set up."""

    def path(reader: Reader, variant: str = DEFAULT_VARIANT) -> Path:
        if not any(pose_model_location(variant, reader=each).exists() for each in Reader):
            pytest.skip(f"the pose model {variant} is not set up")
        if reader is Reader.LITERT and usual_reader() is not reader:
            pytest.skip("there is no LiteRT for this machine")
        return pose_model_path(variant, reader=reader)

    return path


@pytest.fixture(scope="session")
def chromium() -> Iterator[Chromium]:
    """Headless Chromium, started once it is used."""
    with sync_playwright() as playwright:
        started = Chromium(playwright)
        try:
            yield started
        finally:
            started.close()


@pytest.fixture
def browser(chromium: Chromium) -> Iterator[Browser]:
    """Headless Chromium, running; mark tests that use it ``needs_browser``."""
    with chromium.lent() as running:
        yield running


@pytest.fixture
def open_page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Callable[..., Page]]:
    """What opens a page, 1440 px wide or as wide as ``indirect`` says; its errors fail the test."""
    with watched(browser, getattr(request, "param", 1440)) as opens:
        yield opens


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
