"""Ctrl-C that is heard where it does no harm, and at once when it comes a second time."""

from __future__ import annotations

import signal
import threading
import time
from types import FrameType
from typing import Any, Self

from posecheck.pipeline.limits import TICK_S


class Stopping:
    """For its block, the first request to stop is noted and the second one obeyed at once.

    Ctrl-C is such a request, and so is what a system sends to services and to programs whose
    terminal is closed.
    """

    def __init__(self) -> None:
        self.asked = False
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
                number = getattr(signal, name, None)
                # One that is ignored stays so: nohup and a shell's background rely on it.
                if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
                    self._before[number] = signal.signal(number, self._on_signal)
        return self

    def __exit__(self, *_: object) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def heed(self) -> None:
        """Stop here, if that was asked.

        Raises:
            KeyboardInterrupt: it was.
        """
        if self.asked:
            raise KeyboardInterrupt

    def wait(self, seconds: float = TICK_S) -> None:
        """Wait so long, or until asked to stop.

        Raises:
            KeyboardInterrupt: it was asked.
        """
        end = time.monotonic() + seconds
        self.heed()
        while (left := end - time.monotonic()) > 0:
            time.sleep(min(left, TICK_S))
            self.heed()

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
