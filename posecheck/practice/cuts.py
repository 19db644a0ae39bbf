"""Long films cut into reps: what was found in each, and what the coach set instead, which wins.

What was found is kept by ``found_cuts.py``, what the coach set by ``set_cuts.py``. Whatever happens
is said in seconds of the film as it plays.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from posecheck.practice.tuning import SAME_STRETCH_SHARE

SET_BY_COACH = "set by hand"
"""Reason of a stretch that the coach set."""


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
        damage: how much of it cannot be read and what to do, one sentence; empty when all can.
    """

    film: str
    digest: str
    duration_s: float
    settings_key: str
    stretches: tuple[Stretch, ...]
    camera_changes_s: tuple[float, ...]
    found: tuple[Stretch, ...]
    damage: str = ""

    def as_set(self, set_by_coach: Iterable[SetStretch]) -> tuple[Stretch, ...]:
        """The stretches with what the coach has set by now; those that were cut out know it."""
        cut_out = {times_of(each): each.cut for each in self.stretches}
        return tuple(
            replace(each, cut=cut_out.get(times_of(each)))
            for each in as_set(self.found, set_by_coach)
        )

    def moved(self, set_by_coach: Iterable[SetStretch]) -> list[tuple[Stretch, Stretch]]:
        """What was cut out and is so no longer, since the coach moved its start or end: each with
        the rep that stands in its place and is still to be cut out."""
        now = self.as_set(set_by_coach)
        kept = {each.cut for each in now}
        to_cut = [each for each in now if each.kind is StretchKind.REP and each.cut is None]
        pairs = []
        for old in self.stretches:
            if old.cut is None or old.cut in kept:
                continue
            before = times_of(old)
            like = [new for new in to_cut if _same(before, times_of(new))]
            if like:
                pairs.append((old, max(like, key=lambda new: _overlap_s(before, times_of(new)))))
        return pairs


def as_set(found: Iterable[Stretch], set_by_coach: Iterable[SetStretch]) -> tuple[Stretch, ...]:
    """What holds of a film: what the coach set, and what was found elsewhere.

    Times found by another scan are slightly other ones, so things go together by overlap: what the
    coach set stands in place of all that overlaps with it, or else of what overlaps most with that
    which was found when he set it. A found stretch that only touches it is shortened; one that is
    left no length, to the millisecond, is none.

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
    return tuple(sorted([*filter(_lasts, kept), *own], key=times_of))


def times_of(stretch: Stretch | SetStretch) -> tuple[float, float]:
    """Start and end to the millisecond, as they are written."""
    return round(stretch.from_s, 3), round(stretch.to_s, 3)


def _lasts(stretch: Stretch) -> bool:
    from_s, to_s = times_of(stretch)
    return from_s < to_s


def _overlap_s(one: tuple[float, float], other: tuple[float, float]) -> float:
    return min(one[1], other[1]) - max(one[0], other[0])


def _same(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether two stretches are the same thing with slightly other times."""
    shorter_s = min(one[1] - one[0], other[1] - other[0])
    return _overlap_s(one, other) > SAME_STRETCH_SHARE * shorter_s


def _replaced(his: SetStretch, found: tuple[Stretch, ...]) -> list[int]:
    """In place of which of the found stretches one stands that the coach set."""
    under = [at for at, each in enumerate(found) if _same(times_of(his), times_of(each))]
    if under or his.found is None:
        return under
    before = his.found
    like = [at for at, each in enumerate(found) if _same(before, times_of(each))]
    return sorted(like, key=lambda at: _overlap_s(before, times_of(found[at])))[-1:]


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
