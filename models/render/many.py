"""Render many numbered clips into a folder, several at a time, those that are there left alone."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

Render = Callable[[Path, int], None]
"""Renders one clip by number into a folder; skips it when it is there."""


def render_many(prog: str, described: str | None, render: Render, clips: int) -> None:
    """Read the command line and render what is missing, so many clips by default."""
    parser = argparse.ArgumentParser(prog=prog, description=described)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--clips", type=int, default=clips)
    parser.add_argument("--first", type=int, default=0, help="number of the first clip")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    numbers = list(range(given.first, given.first + given.clips))
    shares = [numbers[i :: given.workers] for i in range(given.workers)]
    with ProcessPoolExecutor(given.workers, mp_context=get_context("spawn")) as pool:
        for job in [pool.submit(_work, render, given.folder, share) for share in shares]:
            job.result()


def _work(render: Render, folder: Path, numbers: list[int]) -> None:
    import cv2
    import torch

    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    for number in numbers:
        try:
            render(folder, number)
        except ValueError as error:  # a body that cannot take the stance asked for
            print(f"{number:03d} left out: {error}", flush=True)
