"""Kill a check at random moments, start it again, and hold its record against an undisturbed one.

    python tests/support/kill_check.py CLIP... [--times 20] [--seed 0] [--jobs 2]

checks real clips; ``test_killed.py`` does the same with made-up measures. A check is killed as by
a power cut: with SIGKILL, at a random moment, or as soon as it is seen to write something of a
kind. Started again it is killed again, up to three times, and then left to its end.

What must be identical: the rows of every table, whatever numbers rows go by, and the bytes of every
other file: landmarks, series, pictures, annotated clips, pages.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

WRITES = {
    "measuring": ("keypoints", "series", "pictures"),
    "drawing": ("clips", "stills"),
    "the page": ("", "reps"),
}
"""Where in an output folder files are begun, by what is being done."""

NOT_COMPARED = {".lock", "record.sqlite", "record.sqlite-journal", "posecheck.log"}

_ROWS = {
    "practices": "SELECT folder FROM practices",
    "clips": "SELECT * FROM clips",
    "reps": "SELECT * FROM reps",
    "measures": "SELECT clip_digest, number, measures.* FROM measures JOIN reps ON id = rep_id",
    "thresholds": "SELECT * FROM thresholds",
    "verdicts": "SELECT clip_digest, number, verdicts.* FROM verdicts JOIN reps ON id = rep_id",
    "findings": "SELECT clip_digest, number, findings.* FROM findings JOIN reps ON id = rep_id",
    "rulings": "SELECT * FROM rulings",
    "stars": "SELECT * FROM stars",
    "forgotten": "SELECT * FROM forgotten",
}
_NUMBERS = {"id", "rep_id", "practice_id"}
"""Columns that say in which order rows were written, and nothing else."""


def state(folder: Path) -> dict[str, object]:
    """All that an output folder holds, to be compared: rows by table, digests of files by name."""
    db = sqlite3.connect(f"file:{folder / 'record.sqlite'}?mode=ro", uri=True)
    try:
        tables = {
            name
            for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
            if not name.startswith("sqlite_")
        }
        assert tables == set(_ROWS), "a table is not compared"
        found: dict[str, object] = {}
        for table, query in _ROWS.items():
            cursor = db.execute(query)
            names = [column[0] for column in cursor.description]
            rows = [
                tuple((n, v) for n, v in zip(names, row, strict=True) if n not in _NUMBERS)
                for row in cursor
            ]
            found[table] = sorted(rows, key=repr)
        (problems,) = db.execute("PRAGMA integrity_check").fetchone()
        assert problems == "ok", problems
    finally:
        db.close()
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and name not in NOT_COMPARED and path.suffix != ".part":
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def differences(one: dict[str, object], other: dict[str, object]) -> list[str]:
    """What is not the same in two states, by name."""
    return sorted(
        name for name in one.keys() | other.keys() if one.get(name, 0) != other.get(name, 0)
    )


class Killing:
    """Checks of one practice, undisturbed and killed.

    Args:
        command: that checks the practice; exits with 0.
        results: its output folder; nobody else's.
        rng: chooses moments.
    """

    def __init__(self, command: Sequence[str], results: Path, rng: random.Random) -> None:
        self.command, self.results, self.rng = list(command), results, rng
        self.killed: Counter[str] = Counter()
        """How often the check was killed, by what it did."""
        shutil.rmtree(results, ignore_errors=True)
        started = time.monotonic()
        self._to_its_end()
        self.takes_s = time.monotonic() - started
        self.undisturbed = state(results)

    def once(self) -> list[str]:
        """Kill a check of everything up to three times and let it end; what differs then."""
        shutil.rmtree(self.results)
        for _ in range(self.rng.randint(1, 3)):
            self._kill(self.rng.choice(["at random", "a worker", *WRITES]))
        self._to_its_end()
        return differences(self.undisturbed, state(self.results))

    def _started(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            self.command,
            env=os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def _to_its_end(self) -> None:
        process = self._started()
        assert process.wait() == 0, f"the check ended with {process.returncode}"

    def _kill(self, when: str) -> None:
        process = self._started()
        time.sleep(self.rng.uniform(0, self.takes_s * (0.7 if when in WRITES else 1.0)))
        if when in WRITES:
            while process.poll() is None and not self._writes(when):
                time.sleep(0.001)
        if process.poll() is None:
            if when == "a worker" and (workers := _children(process.pid)):
                # Its clip is tried once more, and the check goes on.
                os.kill(self.rng.choice(workers), signal.SIGKILL)
                time.sleep(self.rng.uniform(0, self.takes_s / 4))
            process.send_signal(signal.SIGKILL)
            self.killed[when] += 1
        process.wait()

    def _writes(self, what: str) -> bool:
        return any(_begun(self.results / place) for place in WRITES[what])


def _begun(folder: Path) -> bool:
    """Whether a file is being written there now; what earlier kills have left lies still."""
    try:
        with os.scandir(folder) as entries:
            return any(
                entry.name.endswith(".part") and time.time() - entry.stat().st_mtime < 0.5
                for entry in entries
            )
    except OSError:
        return False


def _children(pid: int) -> list[int]:
    import psutil

    try:
        return [
            child.pid
            for child in psutil.Process(pid).children()
            if "popen_loky" in " ".join(child.cmdline())
        ]
    except psutil.Error:
        return []


def _code() -> str:
    """What measures, as it is now."""
    sys.path.insert(0, str(ROOT))
    from posecheck.pipeline.fingerprint import MAKES_MEASURES, sources_of

    return sources_of(MAKES_MEASURES).fingerprint()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("clips", nargs="+", type=Path)
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    args = parser.parse_args()
    code = _code()
    with tempfile.TemporaryDirectory() as place:
        practice = Path(place, "practice")
        practice.mkdir()
        for clip in args.clips:
            shutil.copy(clip, practice)
        check = "from posecheck.cli.commands import main; main()"
        command = [sys.executable, "-c", check, "check", str(practice), "--jobs", str(args.jobs)]
        killing = Killing(command, practice / "checked", random.Random(args.seed))
        print(f"{len(args.clips)} clips, {killing.takes_s:.0f} s undisturbed", flush=True)
        failed = 0
        for number in range(1, args.times + 1):
            started = time.monotonic()
            found = killing.once()
            failed += bool(found)
            said = "differs in " + ", ".join(found) if found else "identical"
            print(f"{number:3d}  {time.monotonic() - started:5.0f} s  {said}", flush=True)
    if _code() != code:
        print("The code was changed meanwhile, so that records differ; start again.")
        return 2
    kills = ", ".join(f"{what} {n}" for what, n in sorted(killing.killed.items()))
    print(f"{args.times - failed} of {args.times} records identical; killed: {kills}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
