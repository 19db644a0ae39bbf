"""One check at a time in a folder of results."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from posecheck.errors import RecordError
from posecheck.files.names import LOCK_FILE


@contextmanager
def one_at_a_time(
    folder: Path, wait: Callable[[], object] | None = None, or_another: bool = False
) -> Iterator[None]:
    """Hold a folder of results for the block; made if need be.

    The operating system holds the lock and lets go of it when the process ends, however it ends:
    a run that was killed blocks nobody.

    Args:
        folder: of the results.
        wait: called again and again while another process holds it, to wait a moment; what it
            raises ends the waiting. None to wait for nobody.
        or_another: whether results might as well go into another folder.

    Raises:
        RecordError: the folder cannot be written to, or is held and nobody waits.
    """
    from filelock import FileLock, Timeout

    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / LOCK_FILE)
        while True:
            try:
                lock.acquire(timeout=0)
            except Timeout:
                if wait is None:
                    raise RecordError(
                        f"{folder}: a check is running in this folder; let it finish or stop it "
                        "with Ctrl-C, then run the same command again."
                    ) from None
                wait()
            else:
                break
    except (OSError, NotImplementedError) as error:
        remedy = "change its permissions" + (" or name another with --out" if or_another else "")
        raise RecordError(
            f"{folder}: it cannot be written to ({getattr(error, 'strerror', None) or error}); "
            f"{remedy}."
        ) from error
    try:
        yield
    finally:
        lock.release()
