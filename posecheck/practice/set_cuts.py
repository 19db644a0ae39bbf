"""What the coach set of long films on their page: ``cuts.toml`` in the practice's folder::

[[stretches]]
film = "film-01.mp4"
from_s = 872.4                 # seconds of the film
to_s = 880.9
kind = "rep"                   # or "none": no rep
found = [873.1, 880.2]         # what it stands in place of; left out where nothing was found
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path, PurePath

from posecheck.errors import SettingsError
from posecheck.files.names import CUTS_FILE
from posecheck.files.toml_table import TomlTable, read_toml, toml_text
from posecheck.files.whole_file import write_whole
from posecheck.practice.cuts import SetStretch, StretchKind, times_of
from posecheck.practice.practice import key_of
from posecheck.printable import printable

_HEADING = """\
# Where reps of long films begin and end, set on the page of long films (`posecheck serve`).
# It goes before what posecheck finds there; delete this file to go back to that.
"""


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
        for each in sorted(stretches, key=times_of):
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
