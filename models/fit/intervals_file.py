"""``intervals.toml`` with fitted values in place of those that were there."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from models.fit.ground_intervals import Source
from models.fit.stance_intervals import Factors
from posecheck.filming.conditions import Group
from posecheck.measures.intervals import Spread


def with_stance(text: str, factors: Mapping[str, Mapping[Group, Factors]]) -> str:
    """The file's text with these factors of the stance; comments stay.

    Raises:
        ValueError: the text has not exactly one place for a measure.
    """
    for key, by_group in factors.items():
        lines = "".join(
            f"{group} = [{', '.join(f'{np.ceil(100 * each) / 100:.2f}' for each in pair)}]\n"
            for group, pair in by_group.items()
        )
        place = rf"(\[stance\.{key}\]\n)(?:\w.*\n)+"
        text = _replaced(text, place, lines, f"the stance's {key}")
    return text


def with_ground(text: str, spreads: Mapping[str, Mapping[Source, Spread]]) -> str:
    """The file's text with these factors and floors of ground measures; the others stay.

    Raises:
        ValueError: the text has not exactly one place for a measure from a source.
    """
    for key, by_source in spreads.items():
        for source, spread in by_source.items():
            line = f"{source} = {{ factor = {spread.factor:g}, floor = {spread.floor:g} }}"
            place = rf"(\[ground\.{key}\]\n(?:\w.*\n)*?){source} = \{{.*\}}"
            text = _replaced(text, place, line, f"{key} from {source}")
    return text


def _replaced(text: str, place: str, line: str, called: str) -> str:
    text, times = re.subn(place, rf"\g<1>{line}", text)
    if times != 1:
        raise ValueError(f"intervals.toml has not one place for {called} but {times}")
    return text
