"""A measuring function that does what a clip's text says, importable in any worker.

A clip is a small text file here; of what is measured everything is made up.
"""

from __future__ import annotations

import ctypes
import os
import signal
import time
from pathlib import Path

from factories import make_clip_result

from posecheck.errors import NothingToMeasure
from posecheck.files.digest import file_digest
from posecheck.measures.result import ClipResult
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice


def scripted_measure(
    path: Path, practice: Practice, settings: Settings, reader: Path
) -> ClipResult:
    """Do what the clip's text says; leave a note of every call beside the clips."""
    with (practice.folder / "calls.log").open("a") as log:
        log.write(f"{path.name} {reader.name}\n")
    text = path.read_text(encoding="utf-8")
    if text.startswith("nobody"):
        raise NothingToMeasure(path, "no player is to be seen", "film closer")
    if text.startswith("stumble"):
        raise ZeroDivisionError("division\nby zero")
    if text.startswith("no memory"):
        raise MemoryError
    if text.startswith("killed"):
        os.kill(os.getpid(), signal.SIGKILL)
    if text.startswith("dies once") and [name for name, _ in calls(practice)].count(path.name) == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    if text.startswith("stuck"):
        # Without an end, and in C with the interpreter held: no other thread of Python's can run.
        # It sleeps, since a loop that asks nothing of the system is hard on a small machine.
        ctypes.PyDLL(None).sleep(86_400)
    if text.startswith("asleep"):
        os.kill(os.getpid(), signal.SIGSTOP)
    if text.startswith("slow"):
        # until somebody lets it go
        (practice.folder / f"{path.stem}.pid").write_text(str(os.getpid()))
        while not (practice.folder / "go").exists():
            time.sleep(0.05)
    made = provenance(settings, practice, path)
    return make_clip_result(path, clip_digest=file_digest(path), provenance=made)


def scripted_reader(settings: Settings) -> Path:
    """A reader by whose name the worker is known that holds it."""
    return Path(f"worker-{os.getpid()}")


def clips(practice: Practice, **texts: str) -> list[Path]:
    """Write a clip for each name."""
    paths = []
    for name, text in texts.items():
        path = practice.folder / f"{name}.mp4"
        path.write_text(f"{text} {name}", encoding="utf-8")
        paths.append(path)
    return paths


def calls(practice: Practice) -> list[tuple[str, str]]:
    """Clip and worker of each call of the measuring function so far."""
    log = practice.folder / "calls.log"
    lines = log.read_text().splitlines() if log.exists() else []
    return [tuple(line.split()) for line in lines]


def same_facts() -> dict[str, str]:
    """What is the same in every worker, unless its environment says otherwise."""
    return {"code": os.environ.get("POSECHECK_TEST_CODE", "here's")}


CHECK_ON_CLUSTER = """
import sys
from functools import partial
from pathlib import Path
from scripted import same_facts, scripted_measure, scripted_reader
from posecheck.pipeline.batch import check_clips
from posecheck.pipeline.cluster import cluster_workers
from posecheck.pipeline.scheduler import Cluster
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice
from posecheck.store.record import Record

address, folder = sys.argv[1], Path(sys.argv[2])
cluster = Cluster(address, None, folder, folder, [folder], [folder / "checked"])
reader = partial(scripted_reader, Settings())
with Record(folder / "checked" / "record.sqlite", make=True) as record:
    with cluster_workers(cluster, reader, same_facts, print) as workers:
        check_clips(
            sorted(folder.glob("*.mp4")), Practice(folder, "practice"), Settings(), record,
            measure=scripted_measure, workers=workers,
        )
print("checked")
"""
"""A program that checks the clips of a folder on a cluster: address, folder."""
