"""The arrival picture says which moment it shows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from factories import make_rep_result

from posecheck.pages.arrival_picture import moment_shown


@pytest.mark.parametrize(
    ("after_s", "words"),
    [
        (0.0, "arrival"),
        (0.01, "arrival"),
        (-0.0667, "0.07 s before arrival"),
        (0.1, "0.10 s after arrival"),
    ],
)
def test_the_moment_in_words(after_s: float, words: str) -> None:
    rep = make_rep_result()
    assert rep.rep.arrival_s is not None
    assert moment_shown(replace(rep, picture_t_s=rep.rep.arrival_s + after_s)) == words
