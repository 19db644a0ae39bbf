"""What goes along with a check: clips drawn on as they are measured, the page as it grows."""

from __future__ import annotations

import datetime as dt
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console

from posecheck.cli.printing import say, say_failure
from posecheck.cli.tuning import PAGE_AT_LEAST_EVERY_S, PAGE_EVERY_S, PAGE_SHARE
from posecheck.errors import PosecheckError, SettingsError
from posecheck.files.failure_log import log_failure
from posecheck.judging.thresholds import Thresholds
from posecheck.pipeline import judge as judging
from posecheck.pipeline.batch import Checked, Source
from posecheck.pipeline.judge import Rejudged
from posecheck.pipeline.sides import turn_to_spots
from posecheck.pipeline.tasks import Task, TookTooLong, WorkerDied
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record


class Along:
    """Drawing and pages of one check; the workers that measure also draw.

    Args:
        record: of the practice.
        practice: whose clips.
        limits: to judge by.
        console: says what could not be drawn.
    """

    def __init__(
        self, record: Record, practice: Practice, limits: Thresholds, console: Console
    ) -> None:
        self.record, self.practice, self.limits = record, practice, limits
        self.console = console
        self.drawn = True
        """False when drawing itself failed, and not for a fault of some clip."""
        self._to_draw: deque[str] = deque()
        self._seen: set[str] = set()
        self._strips: list[Task] = []
        self._all_due = False
        self._pages = True
        self._stale = False
        self._written_at = time.monotonic()
        self._pause_s = 0.0

    def add(self, checked: Checked) -> None:
        """A clip is done with: what it wants drawn is due."""
        if checked.result is not None and checked.source is not Source.UNREADABLE:
            self._due(checked.result.clip_digest)
        self._stale = True

    # -- work for the workers ----------------------------------------------------------------------

    def next_task(self, last: bool) -> Task | None:
        """The next thing to draw; at last those too that were measured earlier."""
        from posecheck.pages.draw_tasks import drawing_of, strips_of

        if last and not self._all_due:
            self._all_due = True
            with self._explained():
                self._strips += strips_of(self.record, self.practice)
            with self._explained():
                for path, digest in self.record.clips(self.practice, taken_away=False):
                    if path.exists():  # else it leaves the page
                        self._due(digest)
        while self._to_draw:
            with self._explained():
                result = self.record.load(self._to_draw.popleft())
                if (task := drawing_of(self.record, self.practice, result)) is not None:
                    return task
        return self._strips.pop() if self._strips else None

    @contextmanager
    def _explained(self) -> Iterator[None]:
        """What fails in the block is said, and costs nothing else."""
        try:
            yield
        except PosecheckError as error:
            say(self.console, str(error))
        except Exception as error:
            self._failed(error)

    def done(self, task: Task, outcome: object) -> None:
        """A clip was drawn on, or could not be."""
        self._stale = True
        if isinstance(outcome, WorkerDied):
            outcome = [
                f"{task.path.name}: it could not be drawn on, its worker was stopped from outside "
                "twice; run the same command again."
            ]
        elif isinstance(outcome, TookTooLong):
            outcome = [
                f"{task.path.name}: drawing on it was given up twice, {outcome}; copy it from the "
                "phone again."
            ]
        if isinstance(outcome, BaseException):
            self._failed(outcome)
        elif isinstance(outcome, list):
            for fault in outcome:
                say(self.console, fault)

    def _due(self, digest: str) -> None:
        if digest not in self._seen:
            self._seen.add(digest)
            self._to_draw.append(digest)

    def _failed(self, error: BaseException) -> None:
        if self.drawn:
            say_failure("The clips could not be drawn on", error, self.record.folder, self.console)
        self.drawn = False

    # -- pages -------------------------------------------------------------------------------------

    def write_if_due(self, done: int, to_come: int | None) -> None:
        """Write the page of what is done so far, now and then.

        Args:
            done: clips that are done with.
            to_come: those that are not, None when not known.
        """
        waited_s = time.monotonic() - self._written_at
        due = waited_s > self._pause_s if self._stale else waited_s > PAGE_AT_LEAST_EVERY_S
        if due and self._pages:
            self.write(done, to_come)

    def write(self, done: int, to_come: int | None) -> None:
        """Write the page of what is done so far; it says so."""
        from posecheck.pages.publish import write_page
        from posecheck.pages.running import Running

        started = time.monotonic()
        try:
            practice, _ = self.judge()
            running = Running(done, to_come, dt.datetime.now())
            write_page(self.record, practice, self.limits, running=running)
        except Exception as error:
            # The one at the end says it to whoever looks; until then clips are measured on.
            self._pages = False
            log_failure(self.record.folder, "The page could not be written yet", error)
        self._stale = False
        self._written_at = time.monotonic()
        self._pause_s = max(PAGE_EVERY_S, (self._written_at - started) / PAGE_SHARE)

    def judge(self) -> tuple[Practice, list[Rejudged]]:
        """Judge everything on record by the practice as it is described now, and keep that.

        What was on record may have been judged by another plan or by other limits, and names may
        be set on a page while the check runs.

        Raises:
            RecordError: the record cannot be read or written.
        """
        clips = [path for path, _ in self.record.clips(self.practice)]
        try:
            practice = read_practice(self.practice.folder)
        except SettingsError:  # half edited
            practice = self.practice
        practice = practice.with_clips(clips)
        turn_to_spots(self.record, practice)
        rejudged = judging.rejudge(self.record, practice, self.limits)
        judging.keep(self.record, rejudged, self.limits)
        return practice, rejudged
