"""posecheck benchmark: how long a check takes, what on, and how much memory."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from posecheck.cli.printing import counted, say
from posecheck.cli.tuning import BAR_COLUMNS
from posecheck.errors import UsageError
from posecheck.maths.stopwatch import Stage
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.scoring.benchmark import Timing, check_once, run_benchmark
from posecheck.scoring.benchmark_films import Form, made_as, repeated

_BETWEEN = "start, model, saving"
_COLOURS = (
    "blue", "cyan", "green", "bright_green", "yellow", "red", "magenta", "bright_blue",
    "bright_cyan", "bright_yellow", "white",
)  # fmt: skip


def benchmark(
    paths: Sequence[Path],
    practice: Practice,
    settings: Settings,
    forms: Sequence[Form] = (),
    lengths_s: Sequence[float] = (),
) -> None:
    """Time checks of clips and print where the time goes.

    Args:
        paths: the clips.
        practice: they belong to.
        settings: of the measuring.
        forms: in which the clips are encoded again and timed as well.
        lengths_s: lengths for which a worker's memory is measured; the first clip is repeated.

    Raises:
        UsageError: there are no clips.
    """
    if not paths:
        raise UsageError(f"{practice.folder}: there are no clips in it; name a folder with clips.")
    console, progress = Console(), Console(stderr=True)

    def on_step(step: str) -> None:
        say(progress, f"Timing {step} ...")

    say_timing(console, "as filmed", run_benchmark(paths, practice, settings, on_step))
    with tempfile.TemporaryDirectory() as name:
        for form in forms:
            folder = Path(name) / form
            folder.mkdir()
            say(progress, f"Making {form} film ...")
            films = [made_as(form, path, folder) for path in paths]
            say_timing(console, form, run_benchmark(films, practice, settings, on_step))
            for film in films:
                film.unlink()
        for length_s in lengths_s:
            film = repeated(paths[0], length_s, Path(name))
            say(progress, f"Checking {_length(length_s)} of film ...")
            seconds, logs = check_once([film], practice, settings, 1)
            peak = max((log.peak_bytes for log in logs if log.peak_bytes), default=None)
            say(console, f"{_length(length_s):>8} of film: {_memory(peak)}, {seconds:.0f} s")
            film.unlink()


def say_timing(console: Console, title: str, timing: Timing) -> None:
    """Where the time of a check goes, beside the plain way, and what two workers gain."""
    say(
        console,
        Text(title, "bold"),
        f": {counted(timing.n_clips, 'clip')}, {timing.n_frames} frames, {timing.film_s:.0f} s of "
        "film; seconds a clip",
    )
    stages: list[tuple[str, float]] = [
        *((str(stage), timing.stages[stage]) for stage in Stage if stage in timing.stages),
        (_BETWEEN, timing.between_s),
    ]
    longest = max(timing.plain_s, timing.check_s)
    parts = [(chr(ord("A") + i), _COLOURS[i], each[1]) for i, each in enumerate(stages)]
    for what, seconds, bar in (
        ("plain way", timing.plain_s, [("=", "", timing.plain_s)]),
        ("check, one worker", timing.check_s, parts),
        ("decoding once", timing.decode_s, [("=", "", timing.decode_s)]),
    ):
        line = Text.assemble(*_bar(bar, longest))
        say(console, f"  {what:18}{seconds / timing.n_clips:6.2f}  ", line)
    for (letter, colour, seconds), (stage, _) in zip(parts, stages, strict=True):
        share = seconds / timing.check_s
        say(
            console,
            "    ",
            Text(letter, colour),
            f" {seconds / timing.n_clips:6.3f}  {share:4.0%}  {stage}",
        )
    say(
        console,
        f"  {timing.against_plain:.2f} times the plain way, {timing.against_decoding:.1f} times "
        f"decoding; two workers are {timing.gain_of_two:.2f} times as fast as one; "
        f"{_memory(timing.peak_bytes)}.",
    )


def _bar(parts: Sequence[tuple[str, str, float]], longest: float) -> list[tuple[str, str]]:
    """Parts one after another, each its letter as often as its seconds are of ``longest``.

    Rounded at their ends, so that the whole is as long as it should be.
    """
    bar, so_far, drawn = [], 0.0, 0
    for letter, colour, seconds in parts:
        so_far += seconds
        end = round(BAR_COLUMNS * so_far / longest)
        bar.append((letter * (end - drawn), colour))
        drawn = max(drawn, end)
    return bar


def _memory(peak_bytes: int | None) -> str:
    if peak_bytes is None:
        return "memory not known on this system"
    return f"{peak_bytes / 1e6:.0f} MB at most in a worker"


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
