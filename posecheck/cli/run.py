"""A check from start to end: measure, judge, say how it goes, write the page."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from posecheck.cli.along import Along
from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.how_far import HowFar
from posecheck.cli.printing import (
    counted,
    plan_table,
    rep_name,
    say,
    say_failure,
    say_films,
    say_rep,
    summary,
)
from posecheck.cli.stopping import Stopping
from posecheck.errors import UsageError
from posecheck.files.names import KEYPOINTS_FOLDER, PRACTICE_FILE, RECORD_FILE
from posecheck.files.one_at_a_time import one_at_a_time
from posecheck.files.places import there
from posecheck.files.results_folder import place_for_results, to_be_named
from posecheck.files.whole_file import remove_left_over
from posecheck.filming.quality import most_help
from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult, refused
from posecheck.pipeline import judge as judging
from posecheck.pipeline.batch import Checked, Source, check_clips
from posecheck.pipeline.capacity import free_bytes, processors, workers_at_once
from posecheck.pipeline.films import FollowTask, WatchTask
from posecheck.pipeline.judge import Rejudged
from posecheck.pipeline.measure_task import MeasureTask
from posecheck.pipeline.moved_edges import carry_over
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Task, Workers
from posecheck.pose.model_files import pose_model_path
from posecheck.practice.practice import Practice
from posecheck.printable import as_typed
from posecheck.store.earlier_film import is_earlier
from posecheck.store.finding import folders_with_clips
from posecheck.store.record import Record
from posecheck.video.folder import find_clips


@dataclass(frozen=True)
class Run:
    """What is checked, how, by which limits, and where the results go.

    ``limits_said`` is printed first, where limits are not the usual ones. Of the clips that are
    found ``only`` some may be meant, by their absolute paths, and ``more`` may come while the check
    runs. ``workers`` do the work where this machine does not.
    """

    practice: Practice
    settings: Settings
    limits: Thresholds
    folder: Path
    limits_said: str = ""
    only: Collection[Path] | None = None
    workers: Workers | None = None
    more: Callable[[], Sequence[Path]] = tuple

    def check(self, paths: Sequence[Path], jobs: int | None = None, afresh: bool = False) -> int:
        """Check clips and say how it goes.

        Args:
            paths: clips, or folders of them.
            jobs: how many at once, None for one for each processor.
            afresh: measure also what is on record.

        Returns:
            The exit code.

        Raises:
            PosecheckError: what is no clip's fault.
        """
        console = Console()
        clips = find_clips(paths, lambda sentence: say(console, sentence))
        if self.only is None:
            self._say_what_is_missing(clips, console)
        else:
            clips = [clip for clip in clips if clip.absolute() in self.only]
            if not clips:
                return ExitCode.ALL_MEASURED
        if not clips:
            say(console, f"There are no clips in {', '.join(map(str, paths))}.")
            return ExitCode.NOTHING_USABLE
        place_for_results(self.folder)
        # Before any work: a model that cannot be had is best known at once.
        pose_model_path(self.settings.model, self.settings.models_folder, self.settings.reader)
        if self.limits_said:
            say(console, self.limits_said)
        try:
            with (
                Stopping() as stopping,
                one_at_a_time(self.folder, self._until_free(stopping, console), or_another=True),
                Record(self.folder / RECORD_FILE, make=True) as record,
            ):
                _refuse_another_practice(record, self.practice)
                remove_left_over(self.folder)
                practice = carry_over(self.practice, record, clips)
                known = [path for path, _ in record.clips(practice)]
                practice = practice.with_clips([*known, *clips])
                run = dataclasses.replace(self, practice=practice)
                return run._check(paths, clips, record, jobs, afresh, stopping, console)
        except KeyboardInterrupt:
            say(console, "Stopped at once; what is done is kept, run the same command to go on.")
            return ExitCode.STOPPED

    def _until_free(self, stopping: Stopping, console: Console) -> Callable[[], None]:
        """What to do while another check holds the output folder."""
        said: list[bool] = []

        def wait() -> None:
            if not said:
                say(
                    console,
                    f"Another check is running in {self.folder}; this one waits until it has "
                    "ended, and then measures what is left.",
                )
                said.append(True)
            stopping.wait()

        return wait

    def _check(
        self,
        paths: Sequence[Path],
        clips: Sequence[Path],
        record: Record,
        jobs: int | None,
        afresh: bool,
        stopping: Stopping,
        console: Console,
    ) -> int:
        done: list[Checked] = []
        along = Along(record, self.practice, self.limits, console)
        how_far = HowFar(console, clips)
        stopped = False
        before = {digest for _, digest in record.clips(self.practice, taken_away=False)}
        try:
            self._measure(clips, record, jobs, afresh, done, along, how_far, stopping)
        except KeyboardInterrupt:
            stopped = True
        practice, rejudged = along.judge()
        _say_taken_away(record, practice, before, console)
        results = [each.result for each in done if each.result is not None]
        judged = _of(results, rejudged)
        if not stopped:
            now = dataclasses.replace(self, practice=practice)  # it knows clips cut out meanwhile
            now._say_summary(done, judged, console)
        written = not record.clips(practice) or publish_page(record, practice, self.limits, console)
        if stopped or stopping.asked:
            say(
                console,
                f"Stopped: {how_far.done} of {counted(how_far.all, 'clip')} are done and kept; "
                "run the same command to go on.",
            )
            return ExitCode.STOPPED
        if self.only is None:
            self._say_how_to_name(paths, judged, console)
        if not (along.drawn and written):
            return ExitCode.FAILED
        if not judged:
            return ExitCode.NOTHING_USABLE
        failed = any(result.fault is not None for result in results)
        return ExitCode.SOME_FAILED if failed else ExitCode.ALL_MEASURED

    def _measure(
        self,
        clips: Sequence[Path],
        record: Record,
        jobs: int | None,
        afresh: bool,
        done: list[Checked],
        along: Along,
        how_far: HowFar,
        stopping: Stopping,
    ) -> None:
        with how_far:

            def on_result(checked: Checked) -> None:
                self._judge_and_say(checked, record, along.console)
                done.append(checked)
                along.add(checked)
                how_far.finished(checked.path, checked.source in (Source.MEASURED, Source.NO_REP))
                stopping.heed()  # many that are on record pass by without a tick

            def on_frames(task: Task, frames: int) -> None:
                if isinstance(task, FollowTask):
                    how_far.frames(task.path, frames, task.part_s)
                elif isinstance(task, MeasureTask | WatchTask):
                    how_far.frames(task.path, frames)

            def on_tick() -> None:
                stopping.heed()
                how_far.show()
                along.write_if_due(how_far.done, how_far.to_come)

            settings = dataclasses.replace(
                self.settings, keypoints_folder=self.folder / KEYPOINTS_FOLDER
            )
            check_clips(
                clips,
                self.practice,
                settings,
                record,
                1 if self.workers else jobs or _workers(along.console),
                on_result,
                afresh=afresh,
                on_tick=on_tick,
                besides=along,
                workers=self.workers,
                on_frames=on_frames,
                more=self.more,
                on_more=how_far.add,
            )

    def _judge_and_say(self, checked: Checked, record: Record, console: Console) -> None:
        result = checked.result
        if checked.copy_of is not None:
            names = [self.practice.relative(path) for path in (checked.path, checked.copy_of)]
            say(console, f"{names[0].as_posix()}: the same film as {names[1].as_posix()}.")
        elif result is not None and result.fault is not None:
            say(console, result.fault_in(self.practice.units))
        elif result is not None and checked.source is Source.MEASURED:
            verdicts = judging.judge_clip(record, self.practice, result, self.limits)
            player = self.practice.notes_for(checked.path).defender_name
            for rep, verdict in zip(result.reps, verdicts, strict=True):
                name = rep_name(self.practice, checked.path, rep.number, len(verdicts) == 1)
                say_rep(console, name, player, verdict)

    def _say_what_is_missing(self, clips: Iterable[Path], console: Console) -> None:
        here = {self.practice.clip_key(clip) for clip in clips}
        others = sorted(set(self.practice.notes) - here)
        gone = [file for file in others if not os.path.lexists(self.practice.folder / file)]
        if gone:
            say(console, f"Not there, though {PRACTICE_FILE} names it: {', '.join(gone)}.")
        outside = [file for file in others if Path(file).is_absolute() and file not in gone]
        if outside:
            say(
                console,
                f"Not in the practice's folder, though {PRACTICE_FILE} names it: "
                f"{', '.join(outside)}.",
            )

    def _say_how_to_name(
        self, paths: Sequence[Path], judged: Sequence[Rejudged], console: Console
    ) -> None:
        notes = [self.practice.notes_for(each.rep.clip) for each in judged]
        unnamed = sum(each.defender is None for each in notes)
        if not unnamed:
            return
        folder = to_be_named(self.practice.folder, self.folder)
        # As it was typed, where the practice itself was named.
        given = next((path for path in paths if path.resolve() == folder), folder)
        say(
            console,
            f"Nobody is named in {counted(unnamed, 'rep')}. To say who it is: posecheck names "
            f"{as_typed(given)}",
        )

    def _say_summary(
        self, done: Sequence[Checked], judged: Sequence[Rejudged], console: Console
    ) -> None:
        say_films(console, self.practice, self.folder, [each.path for each in done])
        known = sum(each.source is Source.ON_RECORD for each in done)
        if known:
            say(console, f"{counted(known, 'clip')} measured before.")
        forgotten = sum(each.source is Source.FORGOTTEN for each in done)
        if forgotten:
            say(
                console,
                f"{counted(forgotten, 'clip')} passed over, forgotten on request; posecheck forget "
                "with --clip NAME --again takes that back.",
            )
        if judged:
            console.print(summary(self.practice, judged))
            against_plan = plan_table(self.practice, judged, self.limits)
            if against_plan is not None:
                console.print(against_plan)
        results = [each.result for each in done if each.result is not None]
        film = most_help(rep.quality for result in results for rep in result.reps)
        if film is not None:
            say(console, film.words)
        for sentence, in_clips in refused(results).items():
            names = ", ".join(map(self.practice.shown_name, in_clips))
            say(console, f"{sentence} ({names})")
        faults = sum(result.fault is not None for result in results)
        if faults:
            say(console, f"{faults} of {counted(len(results), 'clip')} could not be measured.")


def _workers(console: Console) -> int:
    """One for each processor; says so where memory lasts for fewer."""
    wanted, free = processors(), free_bytes()
    lasts = workers_at_once(wanted, free)
    if lasts < wanted:
        say(
            console,
            f"{counted(lasts, 'clip')} at once and not {wanted}: {free / 1e9:.1f} GB of memory are "
            "free; --jobs says otherwise.",
        )
    return lasts


def publish_page(record: Record, practice: Practice, limits: Thresholds, console: Console) -> bool:
    """Write the page and say where it is; False, with a sentence on why, when that failed."""
    from posecheck.pages.publish import write_page

    try:
        page = write_page(record, practice, limits, lambda fault: say(console, fault))
    except Exception as error:
        say_failure("The page could not be written", error, record.folder, console)
        return False
    say(console, f"The page: {page}")
    return True


def _refuse_another_practice(record: Record, practice: Practice) -> None:
    """One folder of results is one practice's: players' own files go by jersey number.

    Raises:
        UsageError: another practice's results lie there.
    """
    others = folders_with_clips(record)
    if practice.folder in others:
        return
    for other in others:
        if there(other):  # else it is this one that was moved
            raise UsageError(
                f"{record.folder}: it holds the results of the practice in {other}; name another "
                "folder with --out."
            )


def _say_taken_away(
    record: Record, practice: Practice, before: Collection[str], console: Console
) -> None:
    """``before``: digests of the clips that were there last time."""
    from posecheck.pages.publish import take_away

    name_taken = [
        path for path, digest in record.clips(practice) if digest in before and is_earlier(path)
    ]
    gone = [practice.shown_name(path) for path in (*name_taken, *take_away(record, practice))]
    if gone:
        say(
            console,
            f"No longer there: {', '.join(gone)}; off the page until it is back, its figures stay "
            "on record.",
        )


def _of(results: Iterable[ClipResult], rejudged: Iterable[Rejudged]) -> list[Rejudged]:
    digests = {result.clip_digest for result in results}
    return [each for each in rejudged if each.rep.clip_digest in digests]
