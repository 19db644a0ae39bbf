"""How good the film of a rep is, in words a coach can act on.

What is *too poor* is not measured; what is *usable* widens the error bars.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Grade(StrEnum):
    """What a film, or one side of it, is good for."""

    GOOD = "good"
    USABLE = "usable"
    """Measured, with wider error bars."""
    TOO_POOR = "too poor"
    """Not measured: can't tell."""


_BY_GRADE = list(Grade)


class Aspect(StrEnum):
    """What is looked at, in a coach's words."""

    SIZE = "size"
    VIEW = "view"
    HEIGHT = "height of the phone"
    """It says how well the film shows where players are, and nothing of how they stand."""
    SHARPNESS = "sharpness"
    RATE = "frames a second"
    LEGS = "legs in sight"
    LIGHT = "light"
    STEADINESS = "steadiness"
    SPEED = "speed of play"
    SLOW_PART = "slow motion in part"


ADVICE = {
    Aspect.SIZE: "film from nearer",
    Aspect.VIEW: "film from the side",
    Aspect.HEIGHT: "film from higher up, overhead or from the stands",
    Aspect.SHARPNESS: "press on the defender so that the phone focuses there, and film in more "
    "light",
    Aspect.RATE: "set the phone to 60 frames a second",
    Aspect.LEGS: "film from where nobody stands in front of the defender",
    Aspect.LIGHT: "hold the sun behind you",
    Aspect.STEADINESS: "hold the phone still or use a tripod",
    Aspect.SPEED: "write in practice.toml how many times slower than life the film plays",
    Aspect.SLOW_PART: "take the slow motion out on the phone and copy the clip again",
}
"""What would help a whole practice."""


@dataclass(frozen=True)
class Graded:
    """One side of a film.

    Attributes:
        aspect: which.
        grade: how good.
        found: what was found ("he is 150 px tall at arrival").
        fix: one sentence on what would improve the filming, empty when good.
    """

    aspect: Aspect
    grade: Grade
    found: str
    fix: str


@dataclass(frozen=True)
class FilmQuality:
    """How good the film of a rep is.

    Attributes:
        aspects: every side that could be looked at; none for a rep measured before film was
            graded.
    """

    aspects: tuple[Graded, ...] = ()

    @property
    def grade(self) -> Grade | None:
        """The worst of all, None when nothing was graded."""
        return max((each.grade for each in self.aspects), key=_BY_GRADE.index, default=None)

    @property
    def limits(self) -> tuple[Graded, ...]:
        """What is not good, the worst first."""
        short = [each for each in self.aspects if each.grade is not Grade.GOOD]
        return tuple(sorted(short, key=lambda each: -_BY_GRADE.index(each.grade)))


NOT_GRADED = FilmQuality()


@dataclass(frozen=True)
class Help:
    """Over many reps: how often the film was good enough, and what would help most.

    Attributes:
        enough: reps whose film is not too poor.
        of: reps graded.
        advice: the one change of filming, None when every film is good.
        helps: how many reps it would help.
    """

    enough: int
    of: int
    advice: str | None
    helps: int

    @property
    def words(self) -> str:
        """Both in a line."""
        reps = f"{self.of} rep{'' if self.of == 1 else 's'}"
        line = f"The film is good enough for {self.enough} of {reps}."
        if self.advice is None:
            return line
        return f"{line} What would help most ({self.helps} of {self.of}): {self.advice}."


def most_help(qualities: Iterable[FilmQuality]) -> Help | None:
    """What to say of the film of many reps; None when none of them was graded."""
    graded = [quality for quality in qualities if quality.aspects]
    if not graded:
        return None
    short = [each for quality in graded for each in quality.limits]

    def weight(aspect: Aspect) -> tuple[int, int]:
        grades = [each.grade for each in short if each.aspect is aspect]
        return len(grades), grades.count(Grade.TOO_POOR)

    aspect = max(Aspect, key=weight)
    return Help(
        enough=sum(quality.grade is not Grade.TOO_POOR for quality in graded),
        of=len(graded),
        advice=ADVICE[aspect] if short else None,
        helps=weight(aspect)[0],
    )
