"""What is said of the film of a whole practice."""

from __future__ import annotations

import pytest

from posecheck.filming.quality import (
    ADVICE,
    NOT_GRADED,
    Aspect,
    FilmQuality,
    Grade,
    Graded,
    most_help,
)


def film(**short: Grade) -> FilmQuality:
    """Good in size, view and light, but for what is said."""
    return FilmQuality(
        tuple(
            Graded(Aspect[name], short.get(name, Grade.GOOD), "", "")
            for name in ("SIZE", "VIEW", "LIGHT")
        )
    )


U, P = Grade.USABLE, Grade.TOO_POOR


@pytest.mark.parametrize(
    ("films", "words"),
    [
        ([film()], "The film is good enough for 1 of 1 rep."),
        ([film(), film(), NOT_GRADED], "The film is good enough for 2 of 2 reps."),
        (
            [film(SIZE=P), film(VIEW=U), film(VIEW=U, SIZE=U), film(VIEW=U)],
            "The film is good enough for 3 of 4 reps. What would help most (3 of 4): film from "
            "the side.",
        ),
        # Among equals the one that keeps more reps from being measured.
        (
            [film(SIZE=U), film(LIGHT=P)],
            "The film is good enough for 1 of 2 reps. What would help most (1 of 2): hold the "
            "sun behind you.",
        ),
    ],
)
def test_how_many_are_good_enough_and_what_helps_most(films: list[FilmQuality], words: str) -> None:
    found = most_help(films)
    assert found is not None
    assert found.words == words


def test_nothing_is_said_of_film_that_was_never_graded() -> None:
    assert most_help([NOT_GRADED]) is None


def test_there_is_advice_for_everything_that_is_looked_at() -> None:
    assert set(ADVICE) == set(Aspect)
