"""Which films of several phones show the same rep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.places import existing
from posecheck.video.folder import find_clips


@dataclass(frozen=True)
class Pairing:
    """Films that belong together.

    Attributes:
        takes: for each rep one film of each phone, in the order of the phones.
        by: "name" or "order".
        alone: films that no other phone has a match for.
    """

    takes: tuple[tuple[Path, ...], ...]
    by: str
    alone: tuple[Path, ...]


def pair_films(places: Sequence[Path]) -> Pairing:
    """Match the films of several phones: by name, else by order when each has as many.

    Args:
        places: for each phone its folder, or one film.

    Raises:
        UsageError: fewer than two phones, a folder without films, two films of one name, or
            neither names nor numbers agree.
    """
    if len(places) < 2:
        raise UsageError(
            f"{', '.join(map(str, places)) or 'no folder'}: one phone alone gives no truth; name "
            "the folders of two phones or more that filmed the same reps."
        )
    for place in places:
        existing(place, "folder or film")
    films = [find_clips([place]) for place in places]
    for place, found in zip(places, films, strict=True):
        if not found:
            raise UsageError(f"{place}: there is no film in it; check the name.")
    by_name = [_by_name(place, found) for place, found in zip(places, films, strict=True)]
    shared = [name for name in by_name[0] if all(name in each for each in by_name[1:])]
    if shared:
        matched = {path for name in shared for path in (each[name] for each in by_name)}
        alone = [path for found in films for path in found if path not in matched]
        takes = tuple(tuple(each[name] for each in by_name) for name in shared)
        return Pairing(takes, "name", tuple(alone))
    if len({len(found) for found in films}) == 1:
        return Pairing(tuple(zip(*films, strict=True)), "order", ())
    counts = ", ".join(f"{place}: {len(f)}" for place, f in zip(places, films, strict=True))
    raise UsageError(
        f"The films of the phones match neither by name nor by number ({counts}); give the films "
        "of a rep the same name in each folder."
    )


def _by_name(place: Path, films: Sequence[Path]) -> dict[str, Path]:
    found: dict[str, Path] = {}
    for path in films:
        name = path.stem.casefold()
        if name in found:
            raise UsageError(
                f"{place}: two films are called {path.stem}; give each a name of its own."
            )
        found[name] = path
    return found
