"""Use a film without decoding it first, which costs as much as reading all of its pictures."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from posecheck.maths.stopwatch import Stage, stage
from posecheck.video.as_stored import NotAsStored
from posecheck.video.clip import Clip, open_clip

Result = TypeVar("Result")


def use_clip(path: Path, slow_motion: float | None, use: Callable[[Clip], Result]) -> Result:
    """Do something with a film whose packets are believed.

    Args:
        path: the file.
        slow_motion: as :func:`open_clip` takes it.
        use: reads the film. When that shows that it decodes otherwise than its packets say, the
            film is opened by decoding it, and this is called once more.

    Returns:
        What ``use`` gave.

    Raises:
        UnreadableClip: as :func:`open_clip`.
    """
    try:
        with stage(Stage.OPENING):
            clip = open_clip(path, slow_motion, as_stored=True)
        return use(clip)
    except NotAsStored:
        with stage(Stage.OPENING):
            clip = open_clip(path, slow_motion)
        return use(clip)
