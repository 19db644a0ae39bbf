"""What ``import posecheck`` offers: the example in its docstring runs, nothing loads early."""

from __future__ import annotations

import re
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from places import ROOT

import posecheck


@pytest.mark.film
def test_the_example_runs_as_it_stands(
    pose_model: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rep 2 of the sample practice is one of its upright run-outs."""
    monkeypatch.chdir(ROOT)
    example = re.search(r"verdict::\n\n(.*?)\n\n\S", posecheck.__doc__ or "", re.DOTALL)
    assert example
    lines = textwrap.dedent(example[1])
    assert 8 <= len([line for line in lines.splitlines() if line.strip()]) <= 10
    exec(compile(lines, "example", "exec"), {})
    first, second = capsys.readouterr().out.splitlines()
    assert first.startswith("rep 1: flagged, Ran out upright: ")
    assert re.fullmatch(r"knee bend \d+° \(90 % interval \d+ to \d+°\)", second)


def test_every_name_is_there_and_no_other_public_one() -> None:
    for name in posecheck.__all__:
        assert getattr(posecheck, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'measure_everything'"):
        _ = posecheck.measure_everything  # type: ignore[attr-defined]


def test_importing_loads_no_library() -> None:
    heavy = {"numpy", "cv2", "av", "mediapipe"}
    loaded = f"import sys, posecheck; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", loaded], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout == "[]\n"
