"""The practice: its plan, its roster, its layout, and which clip shows whom."""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePath

from posecheck.camera.lens import Lens
from posecheck.files.cut_name import cut_name
from posecheck.files.names import in_order
from posecheck.maths.units import Units
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.plan import Plan
from posecheck.practice.roster import Player
from posecheck.practice.stature import Stature
from posecheck.printable import printable


@dataclass(frozen=True)
class Practice:
    """One practice as described in ``practice.toml``, ``points.toml`` and ``clips.toml``.

    Attributes:
        folder: where it lies.
        name, club, date: for the page; date None when not stated.
        layout: known points, empty when not stated.
        plan: by spot, empty when not stated.
        players: the roster by number.
        views: the camera positions by name.
        notes: by clip path relative to the folder, POSIX form.
        named_in_file: the clips whose defender ``practice.toml`` names.
        unknown: by clip, the number of a defender nobody has named, see :meth:`with_clips`.
        slow_motion: how many times slower than life the clips play, None when not stated.
        lens: that films, None when not stated.
        stature: of players whose own height is not on the roster, None when not stated.
        units: in which figures are written for this practice.
        whole_picture: annotated clips show the whole picture, and do not follow the players.
    """

    folder: Path
    name: str
    club: str = ""
    date: dt.date | None = None
    layout: Layout = field(default_factory=Layout)
    plan: Mapping[str, Plan] = field(default_factory=dict)
    players: Mapping[int, Player] = field(default_factory=dict)
    views: Mapping[str, View] = field(default_factory=dict)
    notes: Mapping[str, ClipNotes] = field(default_factory=dict)
    named_in_file: frozenset[str] = frozenset()
    unknown: Mapping[str, int] = field(default_factory=dict)
    slow_motion: float | None = None
    lens: Lens | None = None
    stature: Stature | None = None
    units: Units = Units.METRES
    whole_picture: bool = False

    def with_clips(self, clips: Iterable[Path]) -> Practice:
        """The practice with its nameless defenders numbered.

        Numbered in order of the files are those whom ``practice.toml`` does not name. Who is named
        later, on the page of ``posecheck names``, leaves his number free, so that the others keep
        theirs.

        Args:
            clips: all of the practice.
        """
        keys = sorted({self.clip_key(clip) for clip in clips}, key=in_order)
        keys = [key for key in keys if not {key, film_of(key)} & self.named_in_file]
        return replace(self, unknown={key: number for number, key in enumerate(keys, start=1)})

    def lens_for(self, clip: Path) -> Lens | None:
        """The lens that the coach states for a clip, None when not stated."""
        return self.notes_for(clip).lens or self.lens

    def slow_motion_for(self, clip: Path) -> float | None:
        """How many times slower than life a clip plays as the coach states it, None when not."""
        return self.notes_for(clip).slow_motion or self.slow_motion

    def notes_for(self, clip: Path) -> ClipNotes:
        """The coach's notes on a clip; a clip outside the folder has none.

        What is said of a long film holds for every rep cut out of it, unless something else is said
        of the rep itself; a moment in the film is one in the cut that holds it.
        """
        return self.noted(self.clip_key(clip))

    def noted(self, key: str) -> ClipNotes:
        """The same by the clip's name in :attr:`notes`."""
        notes = self.notes.get(key, ClipNotes())
        if (cut := cut_name(key)) is not None and cut.film in self.notes:
            film = self.notes[cut.film]
            times = film.slow_motion or self.slow_motion or 1.0
            of_film = film.within(cut.from_s, cut.to_s, times)
            if cut.place > 1:
                of_film = replace(of_film, view=None)  # known points were set in the first place
            notes = notes.over(of_film)
        return replace(notes, unknown=self.unknown.get(key)) if notes.defender is None else notes

    def clip_key(self, clip: Path) -> str:
        """A clip's name in :attr:`notes`."""
        return key_of(self.relative(clip))

    def shown_name(self, clip: Path) -> str:
        """A clip's name as people read it: its place in the folder, or the film and the time."""
        cut = cut_name(self.clip_key(clip))
        return printable(self.relative(clip).as_posix() if cut is None else cut.shown)

    def relative(self, clip: Path) -> Path:
        """A clip's path relative to the folder, absolute when it lies outside."""
        return relative_to(self.folder, clip)


def relative_to(folder: Path, clip: Path) -> Path:
    """A clip's path relative to a practice's folder, absolute when it lies outside."""
    # A clip may be a link: the folder it is listed in counts, not the one it points to.
    absolute = clip.parent.resolve() / clip.name
    return absolute.relative_to(folder) if absolute.is_relative_to(folder) else absolute


def film_of(key: str) -> str:
    """The key of the film that a clip was cut out of, its own when it is no cut."""
    cut = cut_name(key)
    return key if cut is None else cut.film


def key_of(path: PurePath) -> str:
    """A clip's name in :attr:`Practice.notes`, from its path relative to the folder."""
    # Some systems store an accent as a character of its own; typed text has both in one.
    return unicodedata.normalize("NFC", path.as_posix())
