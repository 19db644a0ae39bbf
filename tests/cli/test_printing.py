"""What a coach writes is printed as he wrote it, whatever brackets are in it."""

from __future__ import annotations

import dataclasses
import io
from collections import Counter
from pathlib import Path

import pytest
from factories import make_clip_result
from rich.console import Console
from rich.table import Table

from posecheck.cli.benchmark import benchmark
from posecheck.cli.printing import plan_table
from posecheck.cli.season import _table
from posecheck.errors import UsageError
from posecheck.judging.plan import Plan
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.season_page import PracticeLine
from posecheck.pipeline.judge import judge_clip, rejudge
from posecheck.pipeline.settings import Settings
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

BRACKETS = "top [/left] [bold]"


def printed(table: Table | None) -> str:
    console = Console(file=io.StringIO(), width=120)
    console.print(table)
    text: str = console.file.getvalue()  # type: ignore[attr-defined]
    return text


def test_a_spot_with_brackets_in_its_name(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "Tuesday")
    practice = dataclasses.replace(
        practice,
        plan={BRACKETS: next(iter(Plan))},
        notes={"a.mp4": ClipNotes(spot=BRACKETS)},
    )
    with Record(tmp_path / "checked" / "record.sqlite", make=True) as record:
        result = make_clip_result(tmp_path / "a.mp4")
        record.save(practice, result)
        judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
        judged = rejudge(record, practice, DEFAULT_THRESHOLDS)
    assert BRACKETS in printed(plan_table(practice, judged, DEFAULT_THRESHOLDS))


def test_a_practice_with_brackets_or_control_characters_in_its_name() -> None:
    line = PracticeLine(f"{BRACKETS} \x1b[2J", None, None, Counter(), 0, "")
    out = printed(_table([line]))
    assert BRACKETS in out and "\x1b" not in out


def test_nothing_to_time_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="there are no clips in it; name a folder with clips"):
        benchmark([], Practice(tmp_path, "Tuesday"), Settings())
