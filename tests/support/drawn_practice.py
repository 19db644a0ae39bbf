"""A made-up practice with the files that are drawn of it: stills of the size they have, clips."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.annotated import ClipTimes, annotated_name
from posecheck.pages.stills import Drawn, Still, Stills, still_name, write_drawn
from posecheck.pages.tuning import CELL_PX, CELLS_S, THUMB_PX

FRAMES_S = tuple(n / 30 for n in range(150))


@cache
def picture(size_px: tuple[int, int], seed: int) -> bytes:
    """A JPEG of soft noise, about as many bytes as a picture of a player on grass."""
    width, height = size_px
    noise = np.random.default_rng(seed).integers(0, 255, (height // 2, width // 2, 3), np.uint8)
    soft = cv2.GaussianBlur(cv2.resize(noise, size_px, interpolation=cv2.INTER_CUBIC), (0, 0), 1.9)
    done, data = cv2.imencode(".jpg", soft, [cv2.IMWRITE_JPEG_QUALITY, 85])
    assert done
    return data.tobytes()


def draw(folder: Path, reps: Sequence[tuple[ClipResult, RepResult]], clip: bytes = b"film") -> None:
    """Put the drawings of reps into an output folder."""
    for name in ("stills", "clips"):
        (folder / name).mkdir(exist_ok=True)
    for seed, (result, rep) in enumerate(reps):
        (folder / "clips" / annotated_name(result, rep)).write_bytes(clip)
        sizes = {"-thumb": THUMB_PX} | {f"-{n}": CELL_PX for n in range(1, len(CELLS_S) + 1)}
        files = {which: still_name(result, rep, which) for which in sizes}
        for which, file in files.items():
            (folder / file).write_bytes(picture(sizes[which], seed % 7))
        stills = Stills(
            tuple(
                Still(files[f"-{n}"], offset_s, *CELL_PX) for n, offset_s in enumerate(CELLS_S, 1)
            ),
            Still(files["-thumb"], 0.0, *THUMB_PX),
        )
        times = ClipTimes(
            start_s=0.5,
            arrival_s=2.0,
            slow_from_s=3.6,
            duration_s=5.0,
            frame_times_s=FRAMES_S,
            film_times_s=FRAMES_S,
        )
        write_drawn(folder, result, rep, Drawn("made up", len(clip), times, stills))
