"""What a worker does with a clip, with how long its stages took and how much memory it has had.

A worker's results come back as they do in any check; the rest is written beside them, one small
file for each clip.
"""

from __future__ import annotations

import hashlib
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from posecheck.maths.stopwatch import Stage, stopwatch
from posecheck.measures.result import ClipResult
from posecheck.pipeline.settings import Settings
from posecheck.practice.practice import Practice


@dataclass(frozen=True)
class Logged:
    """One clip in a worker.

    Attributes:
        seconds: by stage.
        peak_bytes: most memory the worker has had so far, None when the system does not say.
    """

    seconds: dict[Stage, float]
    peak_bytes: int | None


@dataclass(frozen=True)
class LoggedMeasuring:
    """Measures a clip and logs it; can be pickled.

    Attributes:
        folder: where the logs go.
    """

    folder: Path

    def __call__(
        self, path: Path, practice: Practice, settings: Settings, reader: Any
    ) -> ClipResult:
        """As :func:`posecheck.pipeline.measure.measure_clip`."""
        from posecheck.pipeline.measure import measure_clip

        with stopwatch() as watch:
            try:
                return measure_clip(path, practice, settings, reader)
            finally:
                log = {"seconds": watch.seconds, "peak_bytes": peak_bytes()}
                name = hashlib.sha256(str(path).encode()).hexdigest()[:16]
                (self.folder / f"{name}.json").write_text(json.dumps(log))


def read_logs(folder: Path) -> list[Logged]:
    """What was logged of the clips."""
    found = [json.loads(file.read_text()) for file in sorted(folder.glob("*.json"))]
    return [
        Logged(
            {Stage(name): seconds for name, seconds in each["seconds"].items()},
            each["peak_bytes"],
        )
        for each in found
    ]


def peak_bytes() -> int | None:
    """The most memory this process has had, None when the system does not say."""
    status = Path("/proc/self/status")
    if status.exists():
        # getrusage would count what the process had before it became this program.
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return 1024 * int(line.split()[1])
    if sys.platform == "darwin":
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return None
