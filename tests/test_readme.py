"""README and the pages it leads to: what they show works, and what they claim was measured."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from posecheck.cli import commands
from posecheck.cli.exit_codes import ExitCode
from posecheck.judging.asked import Asked
from posecheck.judging.rules import rules
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.practice.reading import read_practice

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
PAGES = [ROOT / "README.md", ROOT / "docs" / "practice.md"]
OVERNIGHT = (ROOT / "docs" / "overnight.md").read_text("utf-8")


def fenced(text: str, kind: str) -> list[str]:
    """Blocks of code of one kind, without their indentation."""
    blocks = re.findall(rf"^( *)```{kind}\n(.*?)^ *```", text, re.MULTILINE | re.DOTALL)
    return [re.sub(rf"^{indent}", "", block, flags=re.MULTILINE) for indent, block in blocks]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_settings_file_that_is_shown_can_be_read(page: Path, tmp_path: Path) -> None:
    shown = fenced(page.read_text("utf-8"), "toml")
    assert shown
    for text in shown:
        (tmp_path / "practice.toml").write_text(text, encoding="utf-8")
        assert read_practice(tmp_path).folder == tmp_path


def test_every_command_is_listed_and_every_listed_one_exists() -> None:
    listed = set(re.findall(r"^\| `posecheck (\w+)", README, re.MULTILINE))
    assert listed == set(typer.main.get_command(commands.app).commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_what_a_page_leads_to_is_there(page: Path) -> None:
    targets = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text("utf-8"))
    assert targets
    assert [each for each in targets if not (page.parent / each).exists()] == []


def test_the_table_of_rules_names_every_rule_once() -> None:
    section = README[README.index("## How sure it is") : README.index("## Cautions")]
    first = re.findall(r"^\| ([A-Z][^|]*?) \|", section, re.MULTILINE)
    names = [name for cell in first for name in cell.split(", ")]
    assert sorted(names) == sorted(rule.fault for rule in rules(DEFAULT_THRESHOLDS, Asked()))


@pytest.mark.parametrize(
    ("row", "claimed"),
    [
        ("Knee bend at arrival, 200 px and taller: mean error", "off by {}"),
        ("Trunk lean at arrival, 200 px and taller: mean error", "off by {}"),
        ("Knee bend inside its error bars", "inside its bar {}"),
        ("Closeout speed within 5 % or 0.25 m/s, with points", "0.25 m/s: {} with points"),
        ("Arrival within 2 frames, with points", "within 2 frames: {} with points"),
        ("Approach on its true side, with points", "true side: {} with points"),
        ("Upright run-outs flagged, with points", "flagged as such: {} with points"),
        ("Upright run-outs flagged, from players alone", "with points, {} without"),
        ("Closeout speed within 12 %, from players alone", "within 12 %: {} without"),
        ("Arrival within 2 frames, from players alone", "{} without; 98%"),
        ("Flags of an upright run-out that are right, with points", "right: {} with points"),
    ],
)
def test_what_is_claimed_is_what_was_measured(row: str, claimed: str) -> None:
    """Figures of README are those of ACCURACY.md, which a command writes."""
    accuracy = (ROOT / "ACCURACY.md").read_text("utf-8")
    (line,) = [each for each in accuracy.splitlines() if each.startswith(f"| {row} |")]
    assert claimed.format(line.split(" | ")[2]) in README


def test_so_is_what_is_claimed_of_arrivals_said_to_be_good() -> None:
    accuracy = (ROOT / "ACCURACY.md").read_text("utf-8")
    row = "| the same where that is said of it, with points |"
    (line,) = [each for each in accuracy.splitlines() if each.startswith(row)]
    assert f"{line.split(' | ')[1]} where the rep says that it is" in README


def test_so_is_what_is_claimed_of_the_rest_of_the_stance() -> None:
    accuracy = (ROOT / "ACCURACY.md").read_text("utf-8")
    rows = re.findall(r"^\| (?:hip drop|hands out|base): .*?, (\d+% of \d+) \|", accuracy, re.M)
    assert len(rows) == 3
    assert f"inside their bars {', '.join(rows)} |" in README


def test_so_is_what_is_claimed_of_film_from_high_up() -> None:
    accuracy = (ROOT / "ACCURACY.md").read_text("utf-8")
    row = "| 12° and more, from the side or at a slant |"
    (line,) = [each for each in accuracy.splitlines() if each.startswith(row)]
    reps, on_time = line.split(" | ")[1:3]
    assert f"(filmed from high up and the side {on_time} of {reps})" in README
    clean = "Clean breakdowns seen at 200 px and more called clear"
    (line,) = [each for each in accuracy.splitlines() if each.startswith(f"| {clean} |")]
    share, of = line.split(" | ")[2].split(" of ")
    assert f"Of {of} clean breakdowns seen at 200 pixels and more {share}" in README


def test_the_pictures_are_small() -> None:
    assert sum(path.stat().st_size for path in (ROOT / "docs").iterdir()) < 400_000


def test_what_is_set_up_for_the_night_can_be_typed() -> None:
    options = {
        option
        for parameter in typer.main.get_command(commands.app).commands["check"].params  # type: ignore[attr-defined]
        for option in parameter.opts
    }
    lines = re.findall(
        r"posecheck(?:\.exe\\\")? check ([^\n]*)", "\n".join(fenced(OVERNIGHT, r"\w*"))
    )
    assert len(lines) == 4
    for line in lines:
        asked = re.findall(r"(?<!\S)--[a-z-]+", line)
        assert asked and set(asked) <= options


def test_every_exit_code_is_explained() -> None:
    explained = re.findall(r"^\| (\d+) \|", OVERNIGHT, re.MULTILINE)
    assert sorted(map(int, explained)) == sorted(ExitCode)
