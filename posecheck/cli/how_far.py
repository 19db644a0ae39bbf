"""How far a check is: clips, seconds of film, and about how long it still takes.

What is left is reckoned by seconds of film, as clips differ in length. Within the clip in hand the
frames that its worker has gone through count, against those that finished clips took for a second
of film.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Column

from posecheck.cli.printing import counted, say
from posecheck.cli.tuning import FIRST_SAID_S, MOST_OF_A_CLIP, SAID_EVERY_S, UNKNOWN_FILM_S
from posecheck.errors import ClipError
from posecheck.pipeline.limits import duration_words


class HowFar:
    """Shows how far a check is: a bar on a terminal, elsewhere a line now and then.

    Args:
        console: to show it on.
        clips: of the check.
    """

    def __init__(self, console: Console, clips: Iterable[Path] = ()) -> None:
        self._console = console
        self._film_s: dict[Path, float] = {}
        self._done: set[Path] = set()
        self._frames: dict[Path, dict[object, int]] = {}
        self._measured_s = self._measured_frames = 0.0
        self._began = time.monotonic()
        self._say_at = self._began + FIRST_SAID_S
        self._bar = Progress(
            TextColumn("{task.description}", table_column=Column(no_wrap=True)),
            BarColumn(bar_width=None),
            console=console,
            expand=True,
            transient=True,
            disable=not console.is_terminal,
        )
        self._task = self._bar.add_task("", total=None)
        self.add(clips)

    def __enter__(self) -> Self:
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def add(self, clips: Iterable[Path]) -> None:
        """Clips that are to be done as well."""
        for clip in clips:
            self._film_s.setdefault(clip, film_seconds(clip))
        self.show()

    def finished(self, clip: Path, measured: bool) -> None:
        """A clip is done with.

        Args:
            clip: which.
            measured: whether its film was gone through for that.
        """
        self.add([clip])
        self._done.add(clip)
        frames = sum(self._frames.pop(clip, {}).values())
        if measured:
            self._measured_s += self._film_s[clip]
            self._measured_frames += frames
        self.show()

    def frames(self, clip: Path, frames: int, part: object = None) -> None:
        """How many frames of a clip in hand a worker has gone through so far.

        Args:
            clip: which.
            frames: so far.
            part: which part of it, where several workers are at it.
        """
        if clip in self._film_s and clip not in self._done:
            self._frames.setdefault(clip, {})[part] = frames

    @property
    def done(self) -> int:
        """How many clips are done with."""
        return len(self._done)

    @property
    def all(self) -> int:
        """How many clips there are, as far as known yet."""
        return len(self._film_s)

    @property
    def to_come(self) -> int:
        """How many are not done with."""
        return self.all - self.done

    @property
    def words(self) -> str:
        """For example "5 of 13 clips, 0:22 of 0:56 of film, about 3 minutes left"."""
        total_s, done_s = sum(self._film_s.values()), self._seconds_done()
        words = f"{self.done} of {counted(self.all, 'clip')}"
        words += f", {_clock(done_s)} of {_clock(total_s)} of film"
        left_s = self._left_s(total_s - done_s)
        if left_s is None:
            frames = sum(self._in_hand().values())
            return f"{words}, {frames} frames" if frames else words
        return f"{words}, about {duration_words(left_s)} left"

    def show(self) -> None:
        """Bring what is shown up to date."""
        if self._console.is_terminal:
            self._bar.update(
                self._task,
                completed=self._seconds_done(),
                total=sum(self._film_s.values()) or None,
                description=self.words,
            )
        elif time.monotonic() > self._say_at and self.to_come:
            self._say_at = time.monotonic() + SAID_EVERY_S
            say(self._console, f"{self.words}.")

    def _seconds_done(self) -> float:
        return sum(self._film_s[clip] for clip in self._done) + self._in_hand_s()

    def _in_hand_s(self) -> float:
        """Seconds of film that the frames so far of clips in hand are worth."""
        if not self._measured_frames:
            return 0.0
        worth_s = self._measured_s / self._measured_frames
        return sum(
            min(frames * worth_s, MOST_OF_A_CLIP * self._film_s[clip])
            for clip, frames in self._in_hand().items()
        )

    def _in_hand(self) -> dict[Path, int]:
        """How many frames of each clip in hand workers have gone through."""
        return {clip: sum(parts.values()) for clip, parts in self._frames.items()}

    def _left_s(self, film_left_s: float) -> float | None:
        """Seconds until all is done, None before the first clip was measured."""
        if not self._measured_s:
            return None
        took_s = time.monotonic() - self._began
        return film_left_s * took_s / (self._measured_s + self._in_hand_s())


def _clock(seconds: float) -> str:
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


def film_seconds(clip: Path) -> float:
    """How long a clip plays by what its file says; a usual length when that cannot be read."""
    from posecheck.video.film import read_header

    try:
        return read_header(clip).played_s or UNKNOWN_FILM_S
    except ClipError:
        return UNKNOWN_FILM_S
