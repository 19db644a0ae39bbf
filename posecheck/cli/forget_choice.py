"""Whom or what ``posecheck forget`` forgets: chosen from what is on record, nothing removed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import CUTS_FOLDER
from posecheck.habits.season import PlayerId
from posecheck.pages.player_page import player_file
from posecheck.practice.cuts import FilmCuts, Stretch
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record
from posecheck.web.links import SHARING_FILE, Links

Clip = tuple[Path, str]
"""A clip's file and digest."""


@dataclass(frozen=True)
class Whom:
    """Who or what is forgotten, in words and as it is looked for afterwards.

    Attributes:
        words: as printed.
        names: of the player, as every practice writes it; none when no player is.
        others: names that stay though his is part of them.
        whole: whole practices.
    """

    words: str
    names: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    whole: bool = False


@dataclass(frozen=True)
class Chosen:
    """What goes of one practice.

    Attributes:
        record: its database.
        practice: as described now.
        clips: that go.
        players: the same player as this practice's roster has him, none when no player goes.
        others: players whose own files show one of the clips.
        films: long films of which everything goes.
        stretches: of other long films, cut out as clips that go.
        whole: all of the results go.
    """

    record: Path
    practice: Practice
    clips: tuple[Clip, ...]
    players: tuple[Player, ...] = ()
    others: tuple[Player, ...] = ()
    films: tuple[FilmCuts, ...] = ()
    stretches: tuple[tuple[FilmCuts, tuple[Stretch, ...]], ...] = ()
    whole: bool = False

    @property
    def folder(self) -> Path:
        """Of the results."""
        return self.record.parent.resolve()

    @property
    def digests(self) -> list[str]:
        """Of everything that goes."""
        return [*(digest for _, digest in self.clips), *(film.digest for film in self.films)]

    @property
    def words(self) -> str:
        """The practice, as printed."""
        return f"{self.practice.name}  {self.practice.folder}"

    def numbered(self) -> Iterator[Path]:
        """What goes by the player's number and is still there: his file, and a list of links that
        has him."""
        shared = Links.read(self.folder).shared() if (self.folder / SHARING_FILE).exists() else ()
        for player in self.players:
            if player_file(self.folder, player).exists():
                yield player_file(self.folder, player)
            if player.number in shared:
                yield self.folder / SHARING_FILE


def all_of(records: Sequence[Path]) -> tuple[Whom, tuple[Chosen, ...]]:
    """Whole practices."""
    chosen = []
    for path in records:
        with Record(path) as record:
            for practice in record.practices():
                chosen.append(Chosen(path, practice, tuple(record.clips(practice)), whole=True))
    names = ", ".join(each.practice.name for each in chosen)
    return Whom(names, whole=True), tuple(chosen)


def of_player(records: Sequence[Path], said: str) -> tuple[Whom, tuple[Chosen, ...]]:
    """Every clip in which a player defends or attacks.

    Args:
        records: to look in.
        said: his number or his name.

    Raises:
        UsageError: nobody goes by it, or several do.
    """
    found: list[tuple[Path, Practice, tuple[Clip, ...]]] = []
    for path in records:
        with Record(path) as record:
            found += [(path, each, tuple(record.clips(each))) for each in record.practices()]
    everybody = [player for _, practice, _ in found for player in practice.players.values()]
    meant = _meant(said, everybody)
    written = tuple(dict.fromkeys(player.name for player in everybody if _id(player) in meant))
    others = tuple({player.name for player in everybody if _id(player) not in meant})
    chosen = tuple(
        _chosen(
            path,
            practice,
            tuple(clip for clip in clips if _shows(practice, clip[0], meant)),
            tuple(player for player in practice.players.values() if _id(player) in meant),
        )
        for path, practice, clips in found
    )
    of_him = next(player for player in everybody if _id(player) in meant)
    return Whom(of_him.display_name, written, others), chosen


def of_clips(records: Sequence[Path], said: Sequence[str]) -> tuple[Whom, tuple[Chosen, ...]]:
    """Clips by their names, with or without ending; the name of a long film means all that was cut
    out of it.

    Raises:
        UsageError: no clip goes by a name, or several do.
    """
    known: dict[str, dict[str, list[tuple[Path, Practice, Clip]]]] = {}
    for path in records:
        with Record(path) as record:
            for practice in record.practices():
                films = _films_of_cuts(path.parent.resolve())
                for clip in record.clips(practice):
                    meant = films.get(clip[0], practice.relative(clip[0]).as_posix())
                    place = f"{practice.folder}/{meant}" if len(records) > 1 else meant
                    shown = Path(meant)
                    for name in {meant, shown.name, shown.stem, str(clip[0]), place}:
                        known.setdefault(name, {}).setdefault(place, []).append(
                            (path, practice, clip)
                        )
    chosen: dict[tuple[Path, Path], list[Clip]] = {}
    whole_films: set[str] = set()
    practices: dict[tuple[Path, Path], Practice] = {}
    for name in said:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            remedy = f"did you mean {near[0]}?" if near else "the page lists all that are."
            raise UsageError(f"{name}: no clip of this name is on record; {remedy}")
        if len(known[name]) > 1:
            raise UsageError(
                f"{name}: {len(known[name])} clips go by this name; name one of "
                f"{', '.join(known[name])}."
            )
        for path, practice, clip in next(iter(known[name].values())):
            practices[path, practice.folder] = practice
            if name != str(clip[0]):
                whole_films.add(_films_of_cuts(path.parent.resolve()).get(clip[0], ""))
            chosen.setdefault((path, practice.folder), []).append(clip)
    return Whom(", ".join(said)), tuple(
        _chosen(path, practices[path, folder], tuple(dict.fromkeys(clips)), films=whole_films)
        for (path, folder), clips in chosen.items()
    )


# -- small steps -----------------------------------------------------------------------------------


def _chosen(
    record: Path,
    practice: Practice,
    clips: tuple[Clip, ...],
    players: tuple[Player, ...] = (),
    films: Collection[str] = (),
) -> Chosen:
    folder = record.parent.resolve()
    defenders = (practice.notes_for(path).defender for path, _ in clips)
    others = {each.number: each for each in defenders if each is not None and each not in players}
    shown = tuple(each for each in others.values() if player_file(folder, each).exists())
    inside = {path for path, _ in clips if path.is_relative_to(folder)}
    stretches = tuple(
        (cuts, own)
        for cuts in read_cuts(folder)
        if cuts.film not in films
        and (own := tuple(each for each in cuts.stretches if _cut_path(folder, each) in inside))
    )
    whole = tuple(cuts for cuts in read_cuts(folder) if cuts.film in films)
    return Chosen(record, practice, clips, players, shown, whole, stretches)


def _films_of_cuts(folder: Path) -> dict[Path, str]:
    """By the clip that was cut out, the long film it is from."""
    cut_out = {
        _cut_path(folder, stretch): cuts.film
        for cuts in read_cuts(folder)
        for stretch in cuts.stretches
    }
    return {path: film for path, film in cut_out.items() if path is not None}


def _cut_path(folder: Path, stretch: Stretch) -> Path | None:
    return None if stretch.cut is None else folder / CUTS_FOLDER / stretch.cut


def _id(player: Player) -> PlayerId:
    return PlayerId.of(player)


def _shows(practice: Practice, clip: Path, meant: set[PlayerId]) -> bool:
    notes = practice.notes_for(clip)
    seen = [each for each in (notes.defender, notes.attacker) if each is not None]
    return any(_id(each) in meant for each in seen)


def _meant(said: str, everybody: Sequence[Player]) -> set[PlayerId]:
    """Who goes by a number or a name.

    Raises:
        UsageError: nobody does, or of a number several.
    """
    if said.isdecimal():
        meant = {_id(player): player.name for player in everybody if player.number == int(said)}
        if len(meant) > 1:
            raise UsageError(
                f"Number {said} goes by {len(meant)} names: {', '.join(meant.values())}; name one "
                "of them instead."
            )
    else:
        name = PlayerId.of(Player(0, said)).name
        meant = {_id(player): player.name for player in everybody if _id(player).name == name}
    if not meant:
        known = ", ".join(sorted({player.display_name for player in everybody})) or "nobody"
        raise UsageError(
            f"{said}: nobody on the roster goes by this; it has {known}. Who was taken off it is "
            "forgotten by his clips, with --clip, or put back on it first."
        )
    return set(meant)
