"""How many clips this machine can work on at once: by its processors and by its free memory."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from posecheck.pipeline.limits import WORKER_BYTES

_GROUPS = Path("/sys/fs/cgroup")


def processors() -> int:
    """Processors that this process may use; limits of a container count."""
    from joblib.externals.loky import cpu_count

    return int(cpu_count())


def free_bytes() -> int:
    """Memory that can be had without driving others out; limits of a container count."""
    import psutil

    return min([int(psutil.virtual_memory().available), *_left_in_groups()])


def workers_at_once(n_processors: int, n_free_bytes: int) -> int:
    """One for each processor, as far as memory lasts; always one."""
    return max(1, min(n_processors, n_free_bytes // WORKER_BYTES))


def _left_in_groups(root: Path = _GROUPS, own: Path = Path("/proc/self/cgroup")) -> list[int]:
    """What is left of the memory that each group of processes around this one may use.

    Of the pages that a group has read from files those not in use go back when others want them.
    """
    left = []
    with suppress(OSError):
        for line in own.read_text().splitlines():
            _, controllers, path = line.split(":", 2)
            if controllers and "memory" not in controllers.split(","):
                continue
            top = root / "memory" if controllers else root
            names = _NAMES_1 if controllers else _NAMES_2
            folder = top / path.lstrip("/")
            for each in (folder, *folder.parents):
                if not each.is_relative_to(top):
                    break
                with suppress(OSError, ValueError):
                    left.append(_left_in(each, *names))
    return left


_NAMES_1 = ("memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file")
_NAMES_2 = ("memory.max", "memory.current", "inactive_file")


def _left_in(group: Path, most: str, used: str, in_files: str) -> int:
    """Bytes left in one group.

    Raises:
        OSError, ValueError: it has no limit.
    """
    limit, in_use = int((group / most).read_text()), int((group / used).read_text())
    stat = dict(line.split() for line in (group / "memory.stat").read_text().splitlines())
    return max(0, limit - in_use + int(stat.get(in_files, 0)))
