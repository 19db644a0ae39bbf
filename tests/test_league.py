"""What a league's night needs: worked by hand, and the page says what its costs come to."""

from __future__ import annotations

import importlib.util
import re
import sys
from dataclasses import replace
from types import ModuleType

import pytest
import typer
from places import ROOT

from posecheck.cli import commands


@pytest.fixture(scope="module")
def league() -> ModuleType:
    spec = importlib.util.spec_from_file_location("league", ROOT / "docs" / "league.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["league"] = module  # its dataclasses look for it there
    spec.loader.exec_module(module)
    yield module
    del sys.modules["league"]


def test_needs_by_hand(league: ModuleType) -> None:
    """1,000 clips of 36 s are 10 hours of one core; in 2 hours at half, 10 cores."""
    cost = league.Cost(clip_s=36, saving_s=0.072, worker_mb=500, results_mb=1, film_mb=9, reads=1)
    need = league.need(cost, clips=1000, hours=2, busy=0.5)
    assert need.cores == 10
    assert need.memory_gb == 5.0
    assert need.disk_gb == 10.0
    # 10 GB in 7,200 s
    assert need.network_mbit == pytest.approx(80_000 / 7200)
    assert need.saving_share == pytest.approx(0.01)
    assert league.need(replace(cost, clip_s=36.1), 1000, 2, 0.5).cores == 11


def test_the_page_says_what_its_costs_come_to(league: ModuleType) -> None:
    text = league.PAGE.read_text("utf-8")
    assert league.with_needs(text) == text


def test_costs_are_put_in_where_they_are_read(league: ModuleType) -> None:
    text = league.PAGE.read_text("utf-8")
    cost = league.Cost(
        clip_s=4.25, saving_s=0.031, worker_mb=612, results_mb=1.25, film_mb=7.5, reads=1
    )
    put_in = league.with_costs(text, cost, "Measured by a test.")
    assert league.stated(put_in) == cost
    assert "Measured by a test." in put_in
    # and nothing else is changed
    before, after = text.splitlines(), put_in.splitlines()
    assert len(before) == len(after)
    assert sum(old != new for old, new in zip(before, after, strict=True)) == 7


def test_the_commands_of_the_page_exist() -> None:
    """Every option that it shows of posecheck check is one."""
    check = typer.main.get_command(commands.app).commands["check"]  # type: ignore[attr-defined]
    known = {option for each in check.params for option in each.opts}
    text = (ROOT / "docs" / "cluster.md").read_text("utf-8")
    shown = [line for line in text.splitlines() if line.startswith("posecheck check ")]
    assert len(shown) == 2
    assert {word for line in shown for word in re.findall(r"--\w[\w-]*", line)} <= known
