"""Starred reps: a list on the terminal, a list as a file, one film."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.printing import counted, say
from posecheck.errors import UsageError
from posecheck.files.names import CLIPS_FOLDER, OUTPUT_FOLDER
from posecheck.judging.rules import rule_name
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.annotated import annotated_name
from posecheck.pages.rep_view import view_rep
from posecheck.pages.star_film import Starred, write_star_film, write_star_list
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def show_stars(
    record: Record,
    practice: Practice,
    numbers: tuple[int, ...] | None,
    film: Path | None,
    listed: Path | None,
) -> ExitCode:
    """Say which reps are starred, and write film and list where they are asked for.

    Args:
        record: of the practice.
        practice: whose reps.
        numbers: of reps on the practice's page in the order wanted, instead of the starred ones.
        film: where the film goes, None for none.
        listed: where the list goes, None for none.

    Raises:
        UsageError: no rep is starred, one that is named is not there, or a file would take the
            place of another than an earlier film or list.
        UnreadableClip: an annotated clip is gone or broken.
        RecordError: a file cannot be written.
    """
    console = Console()
    reps = _chosen(record, practice, numbers)
    for rep in reps:
        say(console, f"{rep.title}: {rep.sentence}")
    if listed is not None:
        write_star_list(reps, listed)
        say(console, f"The list: {listed}")
    if film is not None:
        write_star_film(reps, film)
        say(console, f"The film of {counted(len(reps), 'rep')}: {film}")
        say(console, "It shows the players: with their consent, and inside the team.")
    return ExitCode.ALL_MEASURED


def _chosen(record: Record, practice: Practice, numbers: tuple[int, ...] | None) -> list[Starred]:
    every, starred = {}, []
    stars = set(record.stars(practice))
    number = 0
    for result in record.results(practice):
        verdicts = record.verdicts(result.clip_digest)
        limits = record.thresholds(result.clip_digest) or DEFAULT_THRESHOLDS
        for rep in result.reps:
            number += 1
            judged = (result, rep, verdicts[rep.number])
            view = view_rep(number, practice, judged, limits, record.folder)
            flag = next(iter(view.verdict.flags), None)
            every[number] = Starred(
                number=number,
                player=view.player,
                spot=view.spot,
                call=view.call.value,
                fault="" if flag is None else rule_name(flag.rule),
                sentence=view.sentence,
                clip=record.folder / CLIPS_FOLDER / annotated_name(result, rep),
            )
            if (result.clip_digest, rep.number) in stars:
                starred.append(every[number])
    if numbers is None:
        if not starred:
            # The folder as it was given, of the practice or of its results.
            results = record.path.parent
            folder = results.parent if results.name == OUTPUT_FOLDER else results
            raise UsageError(
                f"{folder}: no rep is starred; star some on the page that posecheck serve opens "
                "(stars set on a page opened as a file stay in the browser), or name them with "
                "--reps 2,5,9."
            )
        return starred
    if gone := [each for each in numbers if each not in every]:
        raise UsageError(
            f"There is no rep {gone[0]} on the page; it holds {counted(len(every), 'rep')}."
        )
    return [every[each] for each in numbers]
