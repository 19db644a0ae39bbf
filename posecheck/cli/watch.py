"""A check that waits for clips and takes them as they are copied in."""

from __future__ import annotations

import dataclasses
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.printing import counted, say
from posecheck.cli.season import Check, season_code
from posecheck.cli.stopping import Stopping
from posecheck.cli.tuning import LOOK_EVERY_S, LOOK_SHARE, QUIET_S, TAKEN_ANYWAY_S
from posecheck.errors import UsageError
from posecheck.files.places import existing_folder
from posecheck.video.ending import has_its_end
from posecheck.video.folder import find_clips


def watch(check: Check, folders: Sequence[Path]) -> int:
    """Check clips as they come, until Ctrl-C.

    Args:
        check: how.
        folders: where they are copied to.

    Returns:
        The exit code: how clips went, when it was stopped while it waited.

    Raises:
        UsageError: not a folder.
        PosecheckError: what is no clip's fault.
    """
    console = Console()
    for folder in folders:
        if folder.is_file():
            raise UsageError(f"{folder}: --watch wants a folder that clips are copied into.")
        existing_folder(folder)
    arriving = Arriving(folders, lambda sentence: say(console, sentence))
    come = Come(arriving)
    codes: list[int] = []
    waiting = False
    with Stopping() as stopping:
        try:
            while True:
                if clips := come.take():
                    code = dataclasses.replace(check, only=frozenset(clips), more=come.take)(
                        folders
                    )
                    codes.append(code)
                    if code == ExitCode.STOPPED:
                        return code
                    waiting = False
                elif not waiting:
                    n = len(arriving.unfinished)
                    more = f" {counted(n, 'clip')} not yet whole." if n else ""
                    say(console, f"Waiting for clips; Ctrl-C ends it.{more}")
                    waiting = True
                stopping.wait(arriving.pause_s)
        except KeyboardInterrupt:
            say(console, "Stopped while waiting for clips; the page is up to date.")
            return season_code(codes) if codes else ExitCode.NOTHING_USABLE


class Come:
    """The clips that have come and are not yet taken by a check.

    Args:
        arriving: says which they are.
    """

    def __init__(self, arriving: Arriving) -> None:
        self._arriving = arriving
        self._waiting: dict[Path, None] = {}
        self._look_at = -math.inf

    def take(self, asked_for: Callable[[Path], bool] = lambda clip: True) -> list[Path]:
        """Those that are asked for; they are not given again. May be called as often as one likes.

        Args:
            asked_for: of a clip, by its absolute path; the others wait.
        """
        if time.monotonic() >= self._look_at:
            self._waiting |= dict.fromkeys(self._arriving.whole())
            self._look_at = time.monotonic() + self._arriving.pause_s
        taken = [clip for clip in self._waiting if asked_for(clip)]
        for clip in taken:
            del self._waiting[clip]
        return taken


@dataclass
class _Seen:
    """A file as it was when it last changed."""

    size: int
    changed_ns: int
    since: float
    given: bool = False


class Arriving:
    """Clips of folders, each given once when it is whole, and again when it has changed.

    A file is whole when nothing has changed in it for some seconds and it opens with its end there.
    One that stays as it is without ever being so is given too, after a while: a check says what is
    wrong with it.

    Folders are looked through again and again: that works on every kind of disk and network.

    Args:
        folders: where clips are copied to.
        on_remark: called with a sentence on what is passed over, once each.
    """

    def __init__(
        self,
        folders: Sequence[Path],
        on_remark: Callable[[str], object] = lambda sentence: None,
    ) -> None:
        self._folders = folders
        self._on_remark = on_remark
        self._said: set[str] = set()
        self._seen: dict[Path, _Seen] = {}
        self.pause_s = LOOK_EVERY_S
        """How long to wait until the next look: longer where a look takes long."""

    @property
    def unfinished(self) -> list[Path]:
        """Files that are there and not yet whole."""
        return [path for path, seen in self._seen.items() if not seen.given]

    def whole(self) -> list[Path]:
        """The clips that have become whole since the last look, absolute."""
        started = time.monotonic()
        found = {path.absolute() for path in find_clips(self._folders, self._remark)}
        for gone in self._seen.keys() - found:
            del self._seen[gone]
        given = []
        for path in sorted(found):
            try:
                state = path.stat()
            except OSError:
                continue  # gone meanwhile
            seen = self._seen.get(path)
            if seen is None or (seen.size, seen.changed_ns) != (state.st_size, state.st_mtime_ns):
                self._seen[path] = _Seen(state.st_size, state.st_mtime_ns, time.monotonic())
                continue
            quiet_s = time.monotonic() - seen.since
            if not seen.given and quiet_s >= QUIET_S:
                seen.given = quiet_s >= TAKEN_ANYWAY_S or has_its_end(path)
                if seen.given:
                    given.append(path)
        self.pause_s = max(LOOK_EVERY_S, (time.monotonic() - started) / LOOK_SHARE)
        return given

    def _remark(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._on_remark(sentence)
