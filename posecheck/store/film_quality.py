"""A film's grades as JSON: a list of its aspects."""

from __future__ import annotations

import json
from dataclasses import asdict

from posecheck.filming.quality import Aspect, FilmQuality, Grade, Graded


def quality_to_json(quality: FilmQuality) -> str:
    """Grades as text."""
    return json.dumps([asdict(each) for each in quality.aspects])


def quality_from_json(text: str) -> FilmQuality:
    """The opposite of :func:`quality_to_json`."""
    return FilmQuality(
        tuple(
            Graded(Aspect(each["aspect"]), Grade(each["grade"]), each["found"], each["fix"])
            for each in json.loads(text)
        )
    )
