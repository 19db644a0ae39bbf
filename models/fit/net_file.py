"""A net as a file: the same bytes for the same net, and in it what it was made from."""

from __future__ import annotations

import zipfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import numpy as np

from models.data.stills import Cast
from models.files import digest_of
from models.recipe import Recipe
from posecheck.body.net import BodyNet, arrays_of

EPOCH = (1980, 1, 1, 0, 0, 0)
"""The earliest date an archive can hold: when a net was made does not go into its bytes."""


def made_from(net: BodyNet, casts: Sequence[Cast], rows: Sequence[Path], recipe: Recipe) -> BodyNet:
    """The net, with what it was made from."""
    bodies = Counter(cast.album for cast in casts)
    pictures: Counter[str] = Counter()
    for cast in casts:
        pictures[cast.album] += len(cast)
    return replace(
        net,
        made_from={
            "recipe": recipe.digest("fit"),
            "rows": digest_of(rows),
            "torch": version("torch").partition("+")[0],
            "bodies": dict(sorted(bodies.items())),
            "pictures": dict(sorted(pictures.items())),
        },
    )


def write_net(path: Path, net: BodyNet) -> None:
    """Write a net as ``numpy.load`` reads it."""
    scratch = path.with_suffix(".part")
    with zipfile.ZipFile(scratch, "w") as box:
        for name, values in arrays_of(net).items():
            entry = zipfile.ZipInfo(f"{name}.npy", EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            with box.open(entry, "w") as file:
                np.lib.format.write_array(file, np.asarray(values), allow_pickle=False)
    scratch.replace(path)
