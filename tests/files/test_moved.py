"""Paths within plain values, as another machine sees them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from posecheck.files.moved import from_to, whole, with_paths


@dataclass(frozen=True)
class Leaf:
    path: Path
    name: str = "leaf"


@dataclass(frozen=True)
class Tree:
    leaf: Leaf
    leaves: tuple[Leaf, ...]
    places: dict[str, Path]
    numbers: np.ndarray
    maybe: Path | None = None


def test_every_path_within_is_moved_and_nothing_else() -> None:
    numbers = np.arange(3)
    tree = Tree(
        Leaf(Path("/a/b")), (Leaf(Path("/a")), Leaf(Path("/x"))), {"p": Path("/a/c")}, numbers
    )
    moved = with_paths(tree, from_to(Path("/a"), Path("/mnt/a")))
    assert moved.leaf == Leaf(Path("/mnt/a/b"))
    assert moved.leaves == (Leaf(Path("/mnt/a")), Leaf(Path("/x")))
    assert moved.places == {"p": Path("/mnt/a/c")}
    assert moved.numbers is numbers
    assert moved.maybe is None
    back = with_paths(moved, from_to(Path("/mnt/a"), Path("/a")))
    assert (back.leaf, back.leaves, back.places) == (tree.leaf, tree.leaves, tree.places)


def test_what_holds_no_path_stays_the_same_object() -> None:
    value = ("text", (1, 2), np.zeros(2))
    assert with_paths(value, lambda path: Path("/elsewhere")) is value


def test_bound_arguments_of_a_function_are_moved() -> None:
    move = from_to(Path("/a"), Path("/z"))
    bound = with_paths(partial(max, Leaf(Path("/a/b")), key=Path("/a")), move)
    assert bound.func is max
    assert (bound.args, bound.keywords) == ((Leaf(Path("/z/b")),), {"key": Path("/z")})


def test_a_whole_path_means_the_same_from_every_folder(tmp_path: Path) -> None:
    """The folder's links are followed, a clip that is a link itself stays what it is called."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    (tmp_path / "real" / "clip.mp4").symlink_to("other.mp4")
    real = tmp_path.resolve() / "real"
    assert whole(tmp_path / "link" / "clip.mp4") == real / "clip.mp4"
    assert whole(tmp_path / "link" / ".." / "real" / "a.mp4") == real / "a.mp4"
    assert whole(Path("a.mp4")) == Path.cwd() / "a.mp4"
