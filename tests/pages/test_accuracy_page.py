"""The accuracy page: what stands on it, where plots put things, and that a phone can show it."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from browser import dump_dom, needs_browser
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from posecheck.cli.commands import app
from posecheck.errors import UsageError
from posecheck.pages import accuracy_plots as plots
from posecheck.pages.accuracy_page import fixed, write_accuracy_page
from posecheck.scoring.accuracy import Accuracy, FlagCount, Row
from posecheck.scoring.groups import FrameErrors, Reading


def made_up() -> Accuracy:
    """Twelve reps of six defenders, every sixth knee bend outside its bar."""
    readings = []
    for number in range(12):
        off = 20.0 if number % 6 == 0 else number - 6.0
        for key, truth in (("knee_bend_deg", 50.0), ("arrival_speed_mps", 2.0)):
            value = truth + (off if truth > 9 else off / 40)
            half = 12.0 if truth > 9 else 0.4
            readings.append(
                Reading(
                    key,
                    f"rep-{number}",
                    f"#{number % 6}",
                    15.0 * number,
                    120.0 + 20 * number,
                    truth,
                    value,
                    value - half,
                    value + half,
                )
            )
    t = np.linspace(0, 1, 400)
    frames = tuple(
        FrameErrors(key, "#1", 180 * t, 100 + 250 * t, 30 * np.sin(20 * t))
        for key in ("knee_bend_deg", "trunk_lean_deg")
    )
    rows = (
        Row("Knee bend at arrival", 12, 6.2, -0.004, 20.0, 0.83, "°"),
        Row("Bow of the path", 0, None, None, None, None, "m"),
    )
    return Accuracy(
        rows, FlagCount(3, 1, 2, 0, 5, 1), 0.987, (12, 13), (11, 13), tuple(readings), frames
    )


@pytest.fixture
def page(tmp_path: Path) -> str:
    write_accuracy_page(made_up(), "Marsh <Hill>", tmp_path / "accuracy.html")
    return (tmp_path / "accuracy.html").read_text("utf-8")


def test_it_is_one_file_that_loads_nothing(page: str) -> None:
    assert "default-src 'none'" in page
    assert not re.search(r"(?:src|href)=", page)
    assert "Marsh &lt;Hill&gt;" in page


def test_every_measure_has_its_four_plots_and_the_figures_beside_them(page: str) -> None:
    for label in ("Knee bend", "Arrival speed"):
        for what in ("read against true", "error by view", "error by height", "error by defender"):
            assert f"<title>{label}: {what}</title>" in page
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "10 of 12" in text  # knee bends within their bars
    assert "Ran out upright 3 1 2" in text
    assert "Did not 0 5 1" in text
    assert "Small dots are single frames during the reps (400 in all)" in text
    assert "6.2° 0.0° 83 %" in text


def test_a_file_that_cannot_be_written_is_reported(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"nowhere.*No such file.*name another place"):
        write_accuracy_page(made_up(), "x", tmp_path / "nowhere" / "a.html")


def test_only_an_earlier_page_is_overwritten(tmp_path: Path) -> None:
    for name in ("before", "after"):
        write_accuracy_page(made_up(), name, tmp_path / "accuracy.html")
    assert "after" in (tmp_path / "accuracy.html").read_text("utf-8")
    (tmp_path / "practice.toml").write_text("units = 'm'")
    with pytest.raises(UsageError, match=r"practice\.toml: there is a file of this name already"):
        write_accuracy_page(made_up(), "Tuesday", tmp_path / "practice.toml")
    assert (tmp_path / "practice.toml").read_text() == "units = 'm'"


def test_the_command_says_how_many_clips_at_once() -> None:
    help_text = CliRunner().invoke(app, ["accuracy", "--help"]).output
    assert "one for each processor" not in " ".join(help_text.split())
    assert "[default: 1]" in help_text


def test_the_command_prints_tables_and_writes_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posecheck.scoring.accuracy.measure_accuracy", lambda *_: made_up())
    file = tmp_path / "a.html"
    done = CliRunner().invoke(app, ["accuracy", str(tmp_path), "--page", str(file)])
    assert done.exit_code == 0, done.output
    # But for the one that names the page, which is as long as its path.
    assert max(len(line) for line in done.output.splitlines() if str(file) not in line) <= 80
    lines = [line.split() for line in done.output.splitlines()]
    # Views of 0, 15 and 30 degrees: 20, 5 and 4 off, the first outside its bar.
    view = ["0", "to", "45°", "3", "9.7°", "+3.7°", "2", "of", "3"]
    assert view in [line[: len(view)] for line in lines]
    assert ["did", "3", "1", "2"] in lines
    assert ["did", "not", "0", "5", "1"] in lines
    assert "Right defender chosen: 12 of 13." in done.output
    assert file.exists()


def test_what_is_right_lies_on_the_line_and_what_is_outside_has_another_shape() -> None:
    right = Reading("knee_bend_deg", "a", "#1", 90, 250, 40.0, 40.0, 30.0, 50.0)
    wrong = Reading("knee_bend_deg", "b", "#1", 90, 250, 40.0, 70.0, 60.0, 80.0)
    drawing = plots.read_against_true([right, wrong])
    line = re.search(
        r'class="level" x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"', drawing
    )
    circle = re.search(r'<circle class="clear" cx="([\d.]+)" cy="([\d.]+)"', drawing)
    assert line and circle
    x1, y1, x2, y2 = map(float, line.groups())
    x, y = map(float, circle.groups())
    assert y == pytest.approx(y1 + (y2 - y1) * (x - x1) / (x2 - x1), abs=0.2)
    assert drawing.count("<polygon") == 1
    assert "b: read 70.0°, true 40.0°" in drawing


def test_coverage_shows_how_little_a_few_can_say() -> None:
    """Wilson's interval of 9 in 12: 0.51 to 0.90, worked with the formula."""
    drawing = plots.coverage([("Hip drop", 9, 12), ("Nothing", 0, 0)])
    x1, x2 = map(float, re.findall(r'class="span" x1="([\d.]+)" x2="([\d.]+)"', drawing)[0])
    share = [(x - 122) / (plots.WIDTH - 122 - 52) for x in (x1, x2)]
    z2 = 1.6449**2
    middle, half = (9 + z2 / 2) / (12 + z2), (z2 * (9 * 3 / 12 + z2 / 4)) ** 0.5 / (12 + z2)
    assert share == pytest.approx([middle - half, middle + half], abs=0.002)
    assert "0 of 0" in drawing


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_are_round_and_within(low: float, width: float) -> None:
    found = plots.ticks(low, low + width)
    assert 2 <= len(found) <= 7
    slack = 1e-6 * (abs(low) + width)
    assert low - slack <= found[0] and found[-1] <= low + width + slack


@pytest.mark.parametrize(
    ("value", "text"), [(-0.004, "0.00"), (0.126, "+0.13"), (-1.5, "\N{MINUS SIGN}1.50")]
)
def test_figures(value: float, text: str) -> None:
    assert fixed(value, 2, signed=True) == text


@needs_browser
def test_no_sideways_scrolling_on_a_phone(page: str, tmp_path: Path) -> None:
    opened = page.replace("<details>", "<details open>").replace(
        "</body>",
        "<script>parent.postMessage(document.documentElement.scrollWidth, '*')</script></body>",
    )
    opened = re.sub(r"<meta http-equiv[^>]+>", "", opened)
    (tmp_path / "opened.html").write_text(opened, encoding="utf-8")
    (tmp_path / "phone.html").write_text(
        '<iframe src="opened.html" style="border:0;width:390px;height:800px"></iframe>'
        "<script>addEventListener('message', (e) => document.title = e.data)</script>"
    )
    dom = dump_dom(tmp_path / "phone.html", tmp_path / "profile")
    assert re.search(r"<title>(.*?)</title>", dom)[1] == "390"  # type: ignore[index]
