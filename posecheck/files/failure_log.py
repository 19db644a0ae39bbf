"""The log of an output folder: what happened inside when posecheck itself failed."""

from __future__ import annotations

import datetime as dt
import traceback
from contextlib import suppress
from pathlib import Path

from posecheck.files.names import LOG_FILE
from posecheck.files.version import installed_version


def log_failure(folder: Path, what: str, error: BaseException) -> Path:
    """Add a failure to an output folder's log.

    Args:
        folder: the output folder.
        what: the clip or the step that failed.
        error: as raised; its traceback is written in full.

    Returns:
        The log's path.
    """
    log = folder / LOG_FILE
    now = dt.datetime.now().astimezone().isoformat(timespec="seconds")
    # Where there is no room left for a log, the failure itself is said all the same.
    with suppress(OSError), log.open("a", encoding="utf-8", errors="backslashreplace") as file:
        file.write(f"{now} posecheck {installed_version()} {what}\n")
        file.writelines(traceback.format_exception(error))
        file.write("\n")
    return log
