"""Long films cut into reps: what was found in each, and what the coach set instead.

What was found lies in the output folder, ``cuts/`` with one JSON file for each film. What the coach
set on the page of long films is kept in the practice's folder, ``cuts.toml``, and wins::

    [[stretches]]
    film = "film-01.mp4"
    from_s = 872.4                 # seconds of the film
    to_s = 880.9
    kind = "rep"                   # or "none": no rep
    found = [873.1, 880.2]         # what it stands in place of; left out where nothing was found

Whatever happens is said in seconds of the film as it plays.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from pathlib import Path, PurePath
from typing import Any

from posecheck.errors import SettingsError
from posecheck.files.names import CUTS_FILE, CUTS_FOLDER, in_order
from posecheck.files.toml_table import TomlTable, read_toml, toml_text
from posecheck.files.whole_file import write_whole
from posecheck.practice.practice import key_of
from posecheck.practice.tuning import SAME_STRETCH_SHARE
from posecheck.printable import printable

SET_BY_COACH = "set by hand"
"""Reason of a stretch that the coach set."""

_HEADING = """\
# Where reps of long films begin and end, set on the page of long films (`posecheck serve`).
# It goes before what posecheck finds there; delete this file to go back to that.
"""


class StretchKind(StrEnum):
    """What a stretch of a long film holds."""

    REP = "rep"
    UNSURE = "unsure"
    NONE = "none"


class SetBy(StrEnum):
    """Who said so."""

    POSECHECK = "posecheck"
    COACH = "coach"


@dataclass(frozen=True)
class Stretch:
    """A part of a long film.

    Attributes:
        from_s, to_s: its start and end, seconds of the film.
        kind: what it holds.
        why: the reason, one sentence for people to read.
        cut: path in the folder ``cuts/``, POSIX form, of the clip that was cut out from start to
            end, None when none was.
        set_by: who said so.
    """

    from_s: float
    to_s: float
    kind: StretchKind
    why: str = ""
    cut: str | None = None
    set_by: SetBy = SetBy.POSECHECK


@dataclass(frozen=True)
class SetStretch:
    """A part of a long film as the coach set it.

    Attributes:
        from_s, to_s: its start and end, seconds of the film.
        kind: a rep, or none.
        found: start and end of what it stands in place of, None when nothing was found there.
    """

    from_s: float
    to_s: float
    kind: StretchKind
    found: tuple[float, float] | None = None


@dataclass(frozen=True)
class FilmCuts:
    """A long film cut into reps.

    Attributes:
        film: its key in the practice, see :meth:`posecheck.practice.practice.Practice.clip_key`.
        digest: of its content.
        duration_s: its length.
        settings_key: of code and settings that found the stretches.
        stretches: as they were last checked, in order of time: those found with what the coach had
            set by then in place of them, each with the clip that was cut out.
        camera_changes_s: moments at which the film goes on from another place.
        found: what was found before the coach said anything, in order of time.
    """

    film: str
    digest: str
    duration_s: float
    settings_key: str
    stretches: tuple[Stretch, ...]
    camera_changes_s: tuple[float, ...]
    found: tuple[Stretch, ...]

    def as_set(self, set_by_coach: Iterable[SetStretch]) -> tuple[Stretch, ...]:
        """The stretches with what the coach has set by now; those that were cut out know it."""
        cut_out = {_times(each): each.cut for each in self.stretches}
        return tuple(
            replace(each, cut=cut_out.get(_times(each)))
            for each in as_set(self.found, set_by_coach)
        )


def as_set(found: Iterable[Stretch], set_by_coach: Iterable[SetStretch]) -> tuple[Stretch, ...]:
    """What holds of a film: what the coach set, and what was found elsewhere.

    Times found by another scan are slightly other ones, so things go together by overlap: what the
    coach set stands in place of all that overlaps with it, or else of what overlaps most with that
    which was found when he set it. A found stretch that only touches it is shortened.

    Args:
        found: stretches of one film.
        set_by_coach: of the same film.

    Returns:
        Stretches in order of time, no two of which overlap where those given did not.
    """
    found, his = tuple(found), tuple(set_by_coach)
    replaced = {at for each in his for at in _replaced(each, found)}
    kept = [_beside(one, his) for at, one in enumerate(found) if at not in replaced]
    own = [
        Stretch(each.from_s, each.to_s, each.kind, SET_BY_COACH, None, SetBy.COACH) for each in his
    ]
    left = [each for each in kept if each.from_s < each.to_s]
    return tuple(sorted([*left, *own], key=_times))


# -- what was found ------------------------------------------------------------------------------


def cuts_path(folder: Path, digest: str) -> Path:
    """The file that says what was found in a film; names of films can be anything, so it goes by
    content.

    Args:
        folder: of the results.
        digest: of the film.
    """
    return folder / CUTS_FOLDER / f"{digest[:32]}.json"


def write_cuts(folder: Path, cuts: FilmCuts) -> Path:
    """Keep what was found in a film, in place of what was kept of it before.

    Args:
        folder: of the results.
        cuts: of the film.

    Returns:
        The file.

    Raises:
        RecordError: it cannot be written.
    """
    facts = asdict(cuts)
    stored = {
        "film": facts["film"],
        "digest": facts["digest"],
        "duration_s": facts["duration_s"],
        "settings": facts["settings_key"],
        "stretches": facts["stretches"],
        "cuts_between_s": facts["camera_changes_s"],
        "found": facts["found"],
    }
    path = cuts_path(folder, cuts.digest)
    write_whole(path, lambda file: file.write(json.dumps(stored, indent=1).encode("utf-8")))
    return path


def read_cuts(folder: Path) -> tuple[FilmCuts, ...]:
    """What was found in each long film, in order of the films' names.

    A damaged file counts as none: the next check makes it again.

    Args:
        folder: of the results.
    """
    kept = map(_read, sorted((folder / CUTS_FOLDER).glob("*.json")))
    return tuple(sorted((each for each in kept if each), key=lambda each: in_order(each.film)))


def cuts_of(folder: Path, digest: str) -> FilmCuts | None:
    """What was found in one film; None when nothing is kept of it, or the file is damaged."""
    kept = _read(cuts_path(folder, digest))
    return kept if kept is not None and kept.digest == digest else None


def cut_files(folder: Path) -> list[Path]:
    """The clips that were cut out of long films as reps and are there, by film and time.

    Args:
        folder: of the results.
    """
    named = (
        folder / CUTS_FOLDER / each.cut
        for cuts in read_cuts(folder)
        for each in cuts.stretches
        if each.kind is StretchKind.REP and each.cut is not None
    )
    return [path for path in named if path.is_file()]


def _read(path: Path) -> FilmCuts | None:
    try:
        stored: dict[str, Any] = json.loads(path.read_bytes())
        return FilmCuts(
            film=str(stored["film"]),
            digest=str(stored["digest"]),
            duration_s=float(stored["duration_s"]),
            settings_key=str(stored["settings"]),
            stretches=tuple(map(_stretch, stored["stretches"])),
            camera_changes_s=tuple(map(float, stored["cuts_between_s"])),
            found=tuple(map(_stretch, stored["found"])),
        )
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _stretch(stored: Mapping[str, Any]) -> Stretch:
    return Stretch(
        from_s=float(stored["from_s"]),
        to_s=float(stored["to_s"]),
        kind=StretchKind(stored["kind"]),
        why=str(stored["why"]),
        cut=None if stored["cut"] is None else str(stored["cut"]),
        set_by=SetBy(stored["set_by"]),
    )


# -- what the coach set --------------------------------------------------------------------------


def write_set(folder: Path, by_film: Mapping[str, Iterable[SetStretch]]) -> Path:
    """Write ``cuts.toml``, in place of the one that was there.

    Args:
        folder: of the practice.
        by_film: what the coach set, by the film's key.

    Returns:
        The file.

    Raises:
        SettingsError: a film's name is no text, which TOML cannot hold.
        RecordError: it cannot be written.
    """
    lines = [_HEADING]
    for film, stretches in sorted(by_film.items()):
        if any("\ud800" <= char <= "\udfff" for char in film):
            raise SettingsError(
                f"{printable(film)}: this name is no text that can be kept; rename the film."
            )
        for each in sorted(stretches, key=_times):
            lines += ["[[stretches]]", f"film = {toml_text(film)}"]
            lines += [f"from_s = {each.from_s:.3f}", f"to_s = {each.to_s:.3f}"]
            lines += [f'kind = "{each.kind}"']
            if each.found is not None:
                lines += [f"found = [{each.found[0]:.3f}, {each.found[1]:.3f}]"]
            lines += [""]
    path = folder / CUTS_FILE
    write_whole(path, lambda file: file.write("\n".join(lines).encode("utf-8")))
    return path


def read_set(folder: Path) -> dict[str, tuple[SetStretch, ...]]:
    """What the coach set, by the film's key; nothing where there is no ``cuts.toml``.

    Raises:
        SettingsError: the file cannot be used.
    """
    path = folder / CUTS_FILE
    if not path.exists():
        return {}
    top = read_toml(path)
    top.allow("stretches")
    by_film: dict[str, tuple[SetStretch, ...]] = {}
    for table in top.tables("stretches"):
        table.allow("film", "from_s", "to_s", "kind", "found")
        film = table.text("film")
        if not film:
            table.refuse("film", "is missing", "give the film's file name")
        key = key_of(PurePath(film))
        by_film[key] = (*by_film.get(key, ()), _set_stretch(table))
    return by_film


def _set_stretch(table: TomlTable) -> SetStretch:
    from_s, to_s = table.number("from_s", 0), table.number("to_s", 0)
    if from_s is None or to_s is None:
        table.refuse("", "is not whole", "give from_s and to_s")
    if not from_s < to_s:
        table.refuse("to_s", f"is {to_s:g}, not after from_s", "give the end of the stretch")
    kind = table.choice("kind", [StretchKind.REP, StretchKind.NONE])
    if kind is None:
        table.refuse("kind", "is missing", 'give "rep" or "none"')
    found = table.point("found") if "found" in table.values else None
    return SetStretch(from_s, to_s, StretchKind(kind), found)


# -- times ---------------------------------------------------------------------------------------


def _times(stretch: Stretch | SetStretch) -> tuple[float, float]:
    """Start and end to the millisecond, as they are written."""
    return round(stretch.from_s, 3), round(stretch.to_s, 3)


def _overlap_s(one: tuple[float, float], other: tuple[float, float]) -> float:
    return min(one[1], other[1]) - max(one[0], other[0])


def _same(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether two stretches are the same thing with slightly other times."""
    shorter_s = min(one[1] - one[0], other[1] - other[0])
    return _overlap_s(one, other) > SAME_STRETCH_SHARE * shorter_s


def _replaced(his: SetStretch, found: tuple[Stretch, ...]) -> list[int]:
    """In place of which of the found stretches one stands that the coach set."""
    under = [at for at, each in enumerate(found) if _same(_times(his), _times(each))]
    if under or his.found is None:
        return under
    before = his.found
    like = [at for at, each in enumerate(found) if _same(before, _times(each))]
    return sorted(like, key=lambda at: _overlap_s(before, _times(found[at])))[-1:]


def _beside(one: Stretch, his: tuple[SetStretch, ...]) -> Stretch:
    """A found stretch without what the coach set at its edges; shortened, it is to be cut again."""
    from_s, to_s = one.from_s, one.to_s
    for each in his:
        if each.from_s <= from_s < each.to_s:
            from_s = each.to_s
        elif each.from_s < to_s <= each.to_s:
            to_s = each.from_s
    if (from_s, to_s) == (one.from_s, one.to_s):
        return one
    return replace(one, from_s=from_s, to_s=to_s, cut=None)
