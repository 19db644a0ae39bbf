"""Write players' own files, and say what to look at before one is handed over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from pathlib import Path

from rich.console import Console

from posecheck.agreement.said import agrees
from posecheck.cli.exit_codes import ExitCode
from posecheck.cli.printing import counted, progress_bar, say
from posecheck.errors import ClipError, UsageError
from posecheck.habits.season import PlayerId, read_season
from posecheck.judging.ruling import CoachRuling, Ruling
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Verdict
from posecheck.measures.result import ClipResult
from posecheck.pages.own_change import changes_of
from posecheck.pages.own_clip import OwnFilm
from posecheck.pages.own_films import films_of
from posecheck.pages.player_page import OwnView, write_player_page
from posecheck.pages.rep_view import view_rep
from posecheck.pipeline.read import open_reader
from posecheck.pipeline.settings import Settings
from posecheck.players.detector import FindsPeople
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record

BEFORE_HANDING_OVER = (
    "Look at a file before you hand it over: it shows whoever was taken for the defender. Share a "
    "player only his own, with consent."
)


def write_files(
    record: Record,
    practice: Practice,
    number: int | None,
    settings: Settings,
    earlier: Sequence[Path] = (),
) -> ExitCode:
    """Write the file of one player, or of every player who has a rep.

    Args:
        record: of the practice.
        practice: whose roster.
        number: of the player, None for everybody.
        settings: name the pose model that finds who else is in the picture.
        earlier: practices, or folders of them, to say what changed since.

    Raises:
        UsageError: there is no such player, or no rep of him.
        RecordError: a file cannot be written.
    """
    console = Console()
    results = list(record.results(practice))
    chosen = _chosen(practice, results, number)
    faults: list[str] = []
    changed = _changed(record, practice, results, earlier, faults)
    written: list[tuple[Player, Path, int]] = []
    with ExitStack() as stack, progress_bar(console) as progress:
        reader = _opened_once(stack, settings)
        clips = sum(len(own) for own in chosen.values())
        task = progress.add_task("Clips", total=clips)
        for player, own in chosen.items():
            views: list[OwnView] = []
            for result in own:
                views += _views(record, practice, result, reader, faults)
                progress.advance(task)
            not_measured = sum(result.fault is not None for result in own)
            since = changed.get(PlayerId.of(player))
            path = write_player_page(practice, player, views, not_measured, record.folder, since)
            written.append((player, path, len(views)))
    for fault in faults:
        say(console, fault)
    for player, path, reps in written:
        size = path.stat().st_size / 1e6
        say(console, f"{player.display_name}: {counted(reps, 'rep')}, {size:.1f} MB: {path}")
    say(console, BEFORE_HANDING_OVER)
    return ExitCode.SOME_FAILED if faults else ExitCode.ALL_MEASURED


def _changed(
    record: Record,
    practice: Practice,
    results: Sequence[ClipResult],
    earlier: Sequence[Path],
    faults: list[str],
) -> dict[PlayerId, tuple[str, ...]]:
    if not earlier:
        return {}
    kept = (record.thresholds(result.clip_digest) for result in results)
    limits = next((each for each in kept if each is not None), DEFAULT_THRESHOLDS)
    season = read_season([record.folder, *earlier], lambda practice, record: limits)
    faults += season.faults
    return changes_of(season, practice, limits)


def _chosen(
    practice: Practice, results: Sequence[ClipResult], number: int | None
) -> dict[Player, list[ClipResult]]:
    """Players with the results of their own clips; only those with a rep that was measured."""
    own: dict[Player, list[ClipResult]] = {}
    for result in results:
        player = practice.notes_for(result.path).defender
        if player is not None and number in (None, player.number):
            own.setdefault(player, []).append(result)
    own = {player: clips for player, clips in own.items() if any(clip.reps for clip in clips)}
    if own:
        return dict(sorted(own.items(), key=lambda item: item[0].number))
    if number is None:
        raise UsageError(
            f"{practice.folder}: no rep has a defender who is named; say who is in which "
            "clip with posecheck names."
        )
    if number not in practice.players:
        known = ", ".join(map(str, sorted(practice.players))) or "nobody"
        raise UsageError(f"{number}: nobody on the roster wears this number; it has {known}.")
    raise UsageError(
        f"{practice.players[number].display_name}: no rep of his is on record; say in which "
        "clips he defends with posecheck names."
    )


def _views(
    record: Record,
    practice: Practice,
    result: ClipResult,
    reader: Callable[[], FindsPeople],
    faults: list[str],
) -> list[OwnView]:
    films: Sequence[OwnFilm | None] = [None] * len(result.reps)
    try:
        films = films_of(record, practice, result, list(result.reps), reader)
    except ClipError as error:
        faults.append(str(error))
    verdicts = record.verdicts(result.clip_digest)
    limits = record.thresholds(result.clip_digest) or DEFAULT_THRESHOLDS
    rulings = record.rulings(practice)
    views = []
    for rep, film in zip(result.reps, films, strict=True):
        judged = (result, rep, verdicts[rep.number])
        view = view_rep(rep.number, practice, judged, limits, record.folder)
        ruled = rulings.get((result.clip_digest, rep.number))
        views.append(OwnView(view, film, _of_now(verdicts[rep.number], ruled)))
    return views


def _of_now(verdict: Verdict, ruled: CoachRuling | None) -> Ruling | None:
    """What a ruling says of the call that stands now, which need not be the one it was about."""
    agreed = None if ruled is None else agrees(verdict, ruled)
    return None if agreed is None else Ruling.RIGHT if agreed else Ruling.WRONG


def _opened_once(stack: ExitStack, settings: Settings) -> Callable[[], FindsPeople]:
    opened: list[FindsPeople] = []

    def reader() -> FindsPeople:
        if not opened:
            opened.append(stack.enter_context(open_reader(settings)))
        return opened[0]

    return reader
