"""posecheck tune as typed: what it prints, what it writes, and what it leaves alone."""

from __future__ import annotations

import dataclasses
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from coach import Coach, on_record, rulings

from posecheck.cli import commands as cli
from posecheck.judging.thresholds import Thresholds, read_thresholds

USUAL = Thresholds()
DEEPER = dataclasses.replace(USUAL, min_knee_bend_deg=55.0)

Typed = Callable[..., tuple[int, list[str], str]]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Typed:
    def type_in(*words: str | Path) -> tuple[int, list[str], str]:
        monkeypatch.setattr(sys, "argv", ["posecheck", "tune", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capfd.readouterr()
        return ended.value.code or 0, out.splitlines(), err

    return type_in


def line_with(lines: list[str], words: str) -> str:
    (found,) = [line for line in lines if words in line]
    return found


def test_a_coach_who_wants_them_deeper_gets_that_limit(tmp_path: Path, typed: Typed) -> None:
    # In two practices, which are taken together.
    reps = rulings(Coach(DEEPER), 90, 7)
    first, second = tmp_path / "tuesday", tmp_path / "thursday"
    on_record(first, reps[:50])
    on_record(second, reps[50:])
    code, lines, err = typed(first, second)
    assert (code, err) == (0, "")
    assert lines[0].startswith("You ruled 90 reps: ")
    assert lines[1].startswith("Proposed, each with the other limits as they are")
    said = r"    Knee bend, at least 5\d° instead of 45°: yours is \d\d to \d\d° \(\d+ with, .*\)"
    assert re.fullmatch(said, lines[2])
    line_with(lines, "Calls by the limits as they are: ")
    line_with(lines, "By proposed limits, on reps kept out of the fit: ")
    changes = [line for line in lines if " -> " in line]
    assert line_with(lines, " of 90 reps: ").startswith(f"{len(changes)} of 90 reps: ")
    assert lines[-1].startswith("Nothing has been changed.")
    assert not list(tmp_path.rglob("*.toml"))


def test_limits_are_written_only_where_asked_and_can_be_judged_by(
    tmp_path: Path, typed: Typed
) -> None:
    record = on_record(tmp_path / "tuesday", rulings(Coach(DEEPER), 90, 7))
    before = record.read_bytes()
    out = tmp_path / "mine.toml"
    code, lines, err = typed(tmp_path / "tuesday", "--out", out)
    assert (code, err) == (0, "")
    assert lines[-1] == (
        f"{out} is written; no verdict has been changed. To judge by it: posecheck rejudge FOLDER "
        f"--thresholds {out} --keep"
    )
    written = read_thresholds(out)
    assert 50 <= written.min_knee_bend_deg <= 60
    assert "# Was 45. " in out.read_text()
    assert record.read_bytes() == before
    # A file of the coach's is never written over.
    code, lines, err = typed(tmp_path / "tuesday", "--out", out)
    assert (code, lines) == (2, [])
    assert "there is a file of this name already" in err


def test_not_enough_rulings(tmp_path: Path, typed: Typed) -> None:
    on_record(tmp_path / "tuesday", rulings(Coach(DEEPER), 19, 7))
    code, lines, _ = typed(tmp_path / "tuesday")
    assert code == 0
    assert lines[-1] == (
        "Not enough rulings: 19 say right or wrong, and nothing is proposed from fewer than 20. "
        "Rule more reps with posecheck serve."
    )
    out = tmp_path / "mine.toml"
    code, lines, _ = typed(tmp_path / "tuesday", "--out", out)
    assert (code, lines[-1]) == (1, f"{out} is not written.")
    assert not out.exists()


def test_too_few_of_one_kind_leave_every_limit(tmp_path: Path, typed: Typed) -> None:
    reps = [
        rep
        for rep in rulings(Coach(USUAL), 350, 7)
        if (rep.ruling.about.call, rep.ruling.ruling) == ("clear", "right")
    ]
    assert len(reps) >= 20
    on_record(tmp_path / "tuesday", reps)
    code, lines, _ = typed(tmp_path / "tuesday")
    assert code == 0
    line_with(lines, "Not enough rulings, which want 5 with the fault named")
    assert line_with(lines, "Hands out, at least").split(": ")[1].startswith("0 with, ")
    assert lines[-1] == "No limit is proposed: leave them as they are."


def test_practices_judged_by_different_limits_want_a_word(tmp_path: Path, typed: Typed) -> None:
    on_record(tmp_path / "tuesday", rulings(Coach(DEEPER), 12, 7))
    strict = dataclasses.replace(USUAL, min_knee_bend_deg=50.0)
    on_record(tmp_path / "thursday", rulings(Coach(DEEPER), 12, 8, strict), strict)
    code, lines, err = typed(tmp_path / "tuesday", tmp_path / "thursday")
    assert (code, lines) == (2, [])
    assert err == (
        "posecheck: These practices were judged by different limits; say with --thresholds FILE "
        "which to start from.\n"
    )
    file = tmp_path / "limits.toml"
    file.write_text("min_knee_bend_deg = 50")
    code, lines, _ = typed(tmp_path / "tuesday", tmp_path / "thursday", "--thresholds", file)
    assert code == 0
    assert any("50°" in line for line in lines)


def test_nothing_on_record(tmp_path: Path, typed: Typed) -> None:
    code, _, err = typed(tmp_path)
    assert code == 2
    assert "nothing has been checked here" in err
