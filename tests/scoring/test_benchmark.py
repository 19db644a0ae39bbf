"""The arithmetic of the benchmark, what it prints, and the films it makes."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from films import write_film
from rich.console import Console

from posecheck.cli import benchmark as command
from posecheck.cli.benchmark import say_timing
from posecheck.errors import NothingToMeasure
from posecheck.maths.stopwatch import Stage, stage
from posecheck.pipeline import measure
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.scoring import benchmark
from posecheck.scoring.benchmark import Timing, run_benchmark
from posecheck.scoring.benchmark_films import Form, made_as, repeated
from posecheck.scoring.worker_log import Logged, LoggedMeasuring, peak_bytes, read_logs
from posecheck.video.clip import open_clip

TIMING = Timing(
    n_clips=2,
    n_frames=100,
    film_s=3.3,
    plain_s=8.0,
    decode_s=1.0,
    check_s=4.0,
    check_two_s=2.0,
    stages={Stage.DECODING: 0.8, Stage.SEARCH: 1.6, Stage.STANCE: 1.12},
    peak_bytes=512_000_000,
)


def printed(timing: Timing) -> list[str]:
    out = io.StringIO()
    say_timing(Console(file=out, width=200), "as filmed", timing)
    return out.getvalue().splitlines()


def test_ratios_and_the_remainder() -> None:
    assert TIMING.against_plain == 0.5
    assert TIMING.against_decoding == 4
    assert TIMING.gain_of_two == 2
    assert TIMING.between_s == pytest.approx(0.48)


def test_printed_stages_add_up_to_the_check() -> None:
    lines = printed(TIMING)
    assert lines[0] == "as filmed: 2 clips, 100 frames, 3 s of film; seconds a clip"
    plain, check, decoding = (line.split() for line in lines[1:4])
    assert plain[:3] == ["plain", "way", "4.00"]
    assert plain[3] == "=" * 50
    assert check[-1] == "A" * 5 + "B" * 10 + "C" * 7 + "D" * 3  # half as long: 25 in all
    assert decoding[-1] == "=" * 6
    stages = [line.split() for line in lines[4:8]]
    assert [each[:3] for each in stages] == [
        ["A", "0.400", "20%"], ["B", "0.800", "40%"], ["C", "0.560", "28%"], ["D", "0.240", "12%"]
    ]  # fmt: skip
    assert sum(float(each[1]) for each in stages) == pytest.approx(TIMING.check_s / 2)
    assert lines[8].strip() == (
        "0.50 times the plain way, 4.0 times decoding; two workers are 2.00 times as fast as one; "
        "512 MB at most in a worker."
    )


def test_every_check_has_its_own_stages(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = write_film(tmp_path / "a.mp4")
    steps: list[str] = []

    def check_once(
        paths: list[Path], practice: Practice, settings: Settings, jobs: int
    ) -> tuple[float, list[Logged]]:
        seconds = {Stage.SEARCH: 1.0 * jobs, Stage.GROUND: 0.5}
        return 4.0 / jobs, [Logged(seconds, 7), Logged({Stage.SEARCH: 1.0}, None)]

    monkeypatch.setattr(benchmark, "check_once", check_once)
    monkeypatch.setattr(benchmark, "_plain_way", lambda *_: None)
    timing = run_benchmark([path], Practice(tmp_path, "p"), Settings(), steps.append)
    assert timing.stages == {Stage.SEARCH: 2.0, Stage.GROUND: 0.5}
    assert (timing.check_s, timing.check_two_s, timing.peak_bytes) == (4.0, 2.0, 7)
    assert timing.n_frames == open_clip(path).n_frames
    assert timing.decode_s > 0
    assert len(steps) == 4


def test_worker_logs_stages_and_memory_also_of_a_clip_that_fails(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def measure_clip(path: Path, *_: Any) -> None:
        with stage(Stage.SEARCH):
            raise NothingToMeasure(path, "nobody runs", "film a rep")

    monkeypatch.setattr(measure, "measure_clip", measure_clip)
    for name in ("a", "b"):
        with pytest.raises(NothingToMeasure):
            LoggedMeasuring(tmp_path)(Path(name), Practice(tmp_path, "p"), Settings(), None)
    logs = read_logs(tmp_path)
    assert len(logs) == 2
    assert all(each.seconds.keys() == {Stage.SEARCH} for each in logs)
    assert {each.peak_bytes is None for each in logs} == {peak_bytes() is None}


@pytest.mark.parametrize("form", list(Form))
def test_film_of_another_form(tmp_path: Path, form: Form) -> None:
    path = write_film(tmp_path / "a.mp4", range(0, 200, 40), size=(128, 72))
    film = open_clip(made_as(form, path, _folder(tmp_path)))
    assert min(film.width_px, film.height_px) == form.shorter_px
    assert film.width_px / film.height_px == pytest.approx(16 / 9, abs=0.01)
    assert film.rate_hz == pytest.approx(form.rate_hz)
    assert film.n_frames == pytest.approx(0.2 * form.rate_hz, abs=1)


def test_film_as_long_as_wanted(tmp_path: Path) -> None:
    path = write_film(tmp_path / "a.mp4", options={"bf": "2"})
    clip = open_clip(path)
    film = open_clip(repeated(path, 3.5, _folder(tmp_path)))
    assert film.n_frames == 4 * clip.n_frames
    assert 3.5 <= film.t_s[-1] + 0.05 < 4.5
    assert film.lost_within_s == 0
    for frame in film.frames(which=np.arange(film.n_frames) == 2 * clip.n_frames + 3):
        (same,) = clip.frames(which=np.arange(clip.n_frames) == 3)
        assert np.array_equal(frame.rgb, same.rgb)


def test_command_times_every_form_and_length(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_film(tmp_path / "a.mp4", range(0, 200, 40))
    monkeypatch.setattr(command, "run_benchmark", lambda *_: TIMING)
    monkeypatch.setattr(command, "check_once", lambda *_: (12.3, [Logged({}, 400_000_000)]))
    practice = Practice(tmp_path, "p")
    command.benchmark([path], practice, Settings(), [Form.FULL_HD_60], [10, 2400])
    out = capsys.readouterr().out
    assert "as filmed: 2 clips" in out
    assert "1080p60: 2 clips" in out
    assert "10 s of film: 400 MB at most in a worker, 12 s" in out
    assert "40 min of film: 400 MB at most in a worker, 12 s" in out


def _folder(tmp_path: Path) -> Path:
    into = tmp_path / "into"
    into.mkdir()
    return into
