"""A real Dask scheduler and its workers on this machine, as they are started by hand."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

UNSEEN = ("--no-dashboard", "--dashboard-address", "127.0.0.1:0")
"""What docs/cluster.md says, so that no page about the work is served to the network."""


@dataclass
class Started:
    """What was started.

    Attributes:
        address: of the scheduler.
        folder: with what they print.
        tls: words of the command line for TLS.
        trace: whether every network call of each process is written into ``NAME.trace``.
        workers: processes by name.
    """

    address: str
    folder: Path
    tls: Sequence[str] = ()
    trace: bool = False
    workers: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    scheduler: subprocess.Popen[bytes] | None = None

    def worker(self, name: str, nanny: bool = False, **environment: str) -> None:
        """Start one more worker; without a nanny it stays dead once it is killed."""
        words = [self.address, "--name", name, "--nthreads", "1", "--host", "127.0.0.1", *self.tls]
        if not nanny:
            words.append("--no-nanny")
        before = traced(self.folder / f"{name}.trace") if self.trace else []
        self.workers[name] = _dask("worker", self.folder, name, words, environment, before)

    def wait(self) -> None:
        """Wait until the scheduler knows all workers."""
        for name in self.workers:
            log = self.folder / f"{name}.log"
            until(lambda log=log: "Registered to" in log.read_text())


@contextmanager
def scheduler(
    folder: Path, workers: Sequence[str] = (), tls: Sequence[str] = (), trace: bool = False
) -> Iterator[Started]:
    """A scheduler on the loopback, with workers of these names; all are gone after the block."""
    file = folder / "scheduler.json"
    protocol = ["--protocol", "tls"] if tls else []
    words = ["--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file)]
    before = traced(folder / "scheduler.trace") if trace else []
    process = _dask("scheduler", folder, "scheduler", [*words, *protocol, *tls], {}, before)
    started = Started("", folder, tls, trace, scheduler=process)
    try:
        until(file.exists, 60)
        until(lambda: file.read_text().endswith("}"))
        started.address = json.loads(file.read_text())["address"]
        for name in workers:
            started.worker(name)
        started.wait()
        yield started
    finally:
        for each in [*started.workers.values(), process]:
            each.terminate()  # a nanny takes its worker along
        for each in [*started.workers.values(), process]:
            try:
                each.wait(10)
            except subprocess.TimeoutExpired:
                each.kill()
                each.wait(10)


def traced(file: Path) -> list[str]:
    """Words before a command that write its network calls into a file; it can still be killed."""
    calls = "trace=connect,sendto,sendmsg,bind"
    return ["strace", "-D", "-f", "-qq", "-e", calls, "-o", str(file)]


def until(happened: Callable[[], object], at_most_s: float = 60.0) -> None:
    """Wait until it has happened."""
    end = time.monotonic() + at_most_s
    while not happened():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.05)


def _dask(
    what: str,
    folder: Path,
    name: str,
    words: Sequence[str],
    environment: dict[str, str],
    before: Sequence[str] = (),
) -> subprocess.Popen[bytes]:
    path = os.pathsep.join(each for each in sys.path if each)
    with (folder / f"{name}.log").open("wb") as log:
        return subprocess.Popen(
            [*before, sys.executable, "-m", "dask", what, *UNSEEN, *words],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": path} | environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
