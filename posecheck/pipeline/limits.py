"""What work on a film may take: seconds and memory.

Apart from ``tuning.py``, because no figure depends on these: a change measures nothing again.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

WORKER_BYTES: Final = 700_000_000
"""Memory that a worker needs at most.

Source: measured, README.md
"""

MOST_THREADS: Final = 4
"""Threads of the processor that one worker reads on, at most: more of them wait for each other.

Source: guess
"""

LIMIT_S: Final = 300.0
"""Seconds that work on any film may take, however short: the pose model opened on a cold, busy
machine included.

Source: guess
"""

LIMIT_S_PER_MB: Final = 60.0
"""Seconds more for each million bytes of film. Well-packed film holds 10 s in them, and a slow
machine that does other things besides takes ten times as long for it as the usual one.

Source: guess
"""

QUIET_S: Final = 600.0
"""Seconds in which no picture of a film need be decoded. Whatever is done with a film once it is
decoded takes seconds, on the slowest machine a minute or two.

Source: guess
"""

QUIET_S_PER_MB: Final = 0.25
"""Seconds more for each million bytes of film: first of all a film is read once to know it by its
content, and a slow share gives 4 MB a second.

Source: guess
"""

LIMIT_GRACE_S: Final = 60.0
"""Seconds after its limit by which a worker must have ended itself, its start included.

Source: guess
"""

KILL_S: Final = 10.0
"""Seconds within which a worker that is killed is gone, and what watched it has noticed.

Source: guess
"""

TICK_S: Final = 0.5
"""Seconds within which Ctrl-C is heard, and within which a worker notices that its parent is gone.

Source: guess
"""

ANSWER_S: Final = 15.0
"""Seconds within which a scheduler must answer, and have a worker.

Source: guess
"""

NO_WORKER_S: Final = 120.0
"""Seconds without any worker of a scheduler that can be used after which a check ends. One that
died is started again by its nanny within ten; on a busy machine it takes as long again to load.

Source: guess
"""


def limit_s(path: Path) -> float:
    """The seconds that work on a film may take: generous, and more for a larger one."""
    return LIMIT_S + LIMIT_S_PER_MB * _megabytes(path)


def quiet_s(path: Path) -> float:
    """The seconds in which no picture of a film need be decoded: after that it is stuck, however
    much of its limit is left."""
    return QUIET_S + QUIET_S_PER_MB * _megabytes(path)


def _megabytes(path: Path) -> float:
    try:
        return path.stat().st_size / 1e6
    except OSError:
        return 0.0


def duration_words(seconds: float) -> str:
    """Seconds as people say them: "40 seconds", "6 minutes", "3 hours"."""
    if seconds < 90:
        amount, unit = seconds, "second"
    elif seconds < 5400:
        amount, unit = seconds / 60, "minute"
    else:
        amount, unit = seconds / 3600, "hour"
    return f"{amount:.0f} {unit}{'' if round(amount) == 1 else 's'}"
