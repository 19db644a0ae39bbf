"""What a league's night needs, worked out from what a clip costs, into docs/cluster.md.

    python docs/league.py             work it out again from the costs that stand there
    python docs/league.py --measure   measure the costs first: the sample practice, one worker

Measure on a machine that does nothing else; it takes a few minutes.
"""

from __future__ import annotations

import datetime as dt
import math
import os
import platform
import re
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

PAGE = Path(__file__).parent / "cluster.md"
SAMPLE = Path(__file__).parents[1] / "sample_clips"


@dataclass(frozen=True)
class Cost:
    """What one clip costs.

    Attributes:
        clip_s: seconds of one core: found, measured, judged, drawn on, its part of the pages.
        saving_s: seconds of whoever saves the results, alone.
        worker_mb: memory of a worker at most, million bytes.
        results_mb: kept for a clip, million bytes: landmarks, pictures, drawn clip, pages.
        film_mb: of a clip as the phone writes it, million bytes.
        reads: how often film crosses the network: once to know it by its content, once to a worker.
    """

    clip_s: float
    saving_s: float
    worker_mb: float
    results_mb: float
    film_mb: float
    reads: float


@dataclass(frozen=True)
class Need:
    """What a night needs: cores and workers, memory and disk in 10^9 bytes, Mbit/s on average."""

    cores: int
    memory_gb: float
    disk_gb: float
    network_mbit: float
    saving_share: float
    """Of the night that whoever saves the results is busy with it; above 1 it does not get done."""


def need(cost: Cost, clips: int, hours: float, busy: float) -> Need:
    """The formulas that stand in docs/cluster.md.

    Args:
        cost: of a clip.
        clips: in a night.
        hours: until all must be done.
        busy: share of that time in which a core really works.
    """
    night_s = hours * 3600
    cores = math.ceil(clips * cost.clip_s / (night_s * busy))
    return Need(
        cores=cores,
        memory_gb=cores * cost.worker_mb / 1000,
        disk_gb=clips * (cost.film_mb + cost.results_mb) / 1000,
        network_mbit=clips * (cost.film_mb * cost.reads + cost.results_mb) * 8 / night_s,
        saving_share=clips * cost.saving_s / night_s,
    )


ROWS = {
    "clip_s": "seconds of one core a clip",
    "saving_s": "seconds of the saving machine a clip",
    "worker_mb": "MB of memory a worker",
    "results_mb": "MB of results a clip",
    "film_mb": "MB of film a clip",
    "reads": "times that film crosses the network",
}
CLIPS, BUSY, HOURS = 5000, 0.8, (2, 4, 8)


def stated(text: str) -> Cost:
    """The costs that stand in the page."""
    found = {
        name: float(re.search(rf"^\| {re.escape(row)} \| ([\d.]+) \|", text, re.MULTILINE)[1])  # type: ignore[index]
        for name, row in ROWS.items()
    }
    return Cost(**found)


def needs_table(cost: Cost) -> str:
    """Needs by hours, as Markdown."""
    lines = [
        "| all done within | cores, one worker each | memory | disk for each night "
        "| network, on average | saving machine busy |",
        "|---|---|---|---|---|---|",
    ]
    for hours in HOURS:
        each = need(cost, CLIPS, hours, BUSY)
        lines.append(
            f"| {hours} hours | {each.cores} | {each.memory_gb:.0f} GB | {each.disk_gb:.0f} GB "
            f"| {each.network_mbit:.0f} Mbit/s | {each.saving_share:.0%} |"
        )
    return "\n".join(lines)


def with_needs(text: str) -> str:
    """The page with its table of needs worked out from its costs."""
    table = needs_table(stated(text))
    return re.sub(r"(<!-- needs -->\n).*?(\n<!-- end -->)", rf"\1{table}\2", text, flags=re.DOTALL)


def with_costs(text: str, cost: Cost, how: str) -> str:
    """The page with costs put in, and how the first four were measured."""
    for name, row in ROWS.items():
        value = f"{getattr(cost, name):.2g}" if name == "saving_s" else f"{getattr(cost, name):.4g}"
        text = re.sub(
            rf"(^\| {re.escape(row)} \| )[\d.]+", rf"\g<1>{value}", text, flags=re.MULTILINE
        )
    return re.sub(r"(<!-- how -->\n).*?(\n<!-- end -->)", rf"\1{how}\2", text, flags=re.DOTALL)


def measured(before: Cost) -> tuple[Cost, str]:
    """Check the sample practice with one worker; costs, and how they were measured."""
    import resource

    clips = len(list((SAMPLE / "clips").glob("*.mp4")))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "checked"
        words = [sys.executable, "-c", "from posecheck.cli.commands import main; main()"]
        start, was = time.monotonic(), resource.getrusage(resource.RUSAGE_CHILDREN)
        env = os.environ | dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
        command = [*words, "check", str(SAMPLE), "--jobs", "1", "--out", str(out)]
        code = subprocess.run(command, env=env, stdout=subprocess.DEVNULL).returncode
        took_s = time.monotonic() - start
        now = resource.getrusage(resource.RUSAGE_CHILDREN)
        if code not in (0, 3):  # one clip of the sample shows nobody
            raise SystemExit(f"posecheck check ended with {code}")
        results = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
        saving_s = _saving_s(out)
    used_s = now.ru_utime + now.ru_stime - was.ru_utime - was.ru_stime
    cost = replace(
        before,
        # Threads beside the worker count too: on several machines every core has its own worker.
        clip_s=max(took_s, used_s) / clips,
        saving_s=saving_s,
        worker_mb=now.ru_maxrss * 1024 / 1e6,
        results_mb=results / clips / 1e6,
    )
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=SAMPLE, capture_output=True, text=True
    ).stdout.strip()
    how = (
        f"Measured {dt.date.today().isoformat()} at commit {commit or 'unknown'} on "
        f"{_processor()}: {clips} sample clips (1080p, 30/s), one worker, {took_s:.0f} s from "
        f"start to page, {used_s:.0f} s of processor time."
    )
    return cost, how


def _saving_s(out: Path) -> float:
    """Seconds to save and judge one clip: those of the sample, put into a record of their own."""
    from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
    from posecheck.pipeline.judge import judge_clip
    from posecheck.store.record import Record

    with Record(out / "record.sqlite") as kept:
        (practice,) = kept.practices()
        results = list(kept.results(practice))
    with (
        tempfile.TemporaryDirectory() as folder,
        Record(Path(folder) / "record.sqlite", make=True) as record,
    ):
        start = time.monotonic()
        for result in results:
            record.save(practice, result)
            judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
        return (time.monotonic() - start) / len(results)


def _processor() -> str:
    try:
        found = re.search(r"^model name\s*: (.*)$", Path("/proc/cpuinfo").read_text(), re.MULTILINE)
    except OSError:
        found = None
    return found[1].strip() if found else platform.processor() or platform.machine()


def main() -> None:
    """Write the page again."""
    text = PAGE.read_text("utf-8")
    if "--measure" in sys.argv[1:]:
        text = with_costs(text, *measured(stated(text)))
    PAGE.write_text(with_needs(text), "utf-8")
    print(needs_table(stated(PAGE.read_text("utf-8"))))


if __name__ == "__main__":
    main()
