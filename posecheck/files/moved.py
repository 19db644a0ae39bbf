"""Paths within plain values, as another machine sees them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any


def with_paths(value: Any, move: Callable[[Path], Path]) -> Any:
    """The same value with every path in it moved.

    Args:
        value: a path, a dataclass, a function with its arguments bound, or a tuple, list or
            dictionary of such; in anything else there are no paths.
        move: gives a path's new place.
    """
    if isinstance(value, Path):
        return move(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        old = {each.name: getattr(value, each.name) for each in dataclasses.fields(value)}
        new = {name: with_paths(each, move) for name, each in old.items()}
        changed = {name: each for name, each in new.items() if each is not old[name]}
        return dataclasses.replace(value, **changed) if changed else value
    if isinstance(value, partial):
        bound = with_paths((value.args, value.keywords), move)
        return partial(value.func, *bound[0], **bound[1])
    if type(value) in (tuple, list):
        items = [with_paths(each, move) for each in value]
        same = all(new is old for new, old in zip(items, value, strict=True))
        return value if same else type(value)(items)
    if type(value) is dict:
        return {key: with_paths(each, move) for key, each in value.items()}
    return value


def from_to(here: Path, there: Path) -> Callable[[Path], Path]:
    """What moves paths below one folder to the same place below another, and leaves others."""

    def move(path: Path) -> Path:
        return there / path.relative_to(here) if path.is_relative_to(here) else path

    return move


def whole(path: Path) -> Path:
    """A path that means the same from every folder; the last name may be a link."""
    return path.parent.resolve() / path.name if path.name else path.resolve()
