"""Check one clip: the stages in order, each handing plain values to the next.

    clip ─ frames ─ players ─ keypoints ─ ground ─ rep ─ measures

Judging is not here: a result is the same whatever the thresholds are.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from posecheck import __version__
from posecheck.practice import Practice
from posecheck.result import ClipResult

if TYPE_CHECKING:
    from posecheck.keypoints.pose import PoseReader


@dataclass(frozen=True)
class Settings:
    """What a run may choose that changes measures.

    Attributes:
        model: pose model variant, "lite", "full" or "heavy".
        models_folder: a folder of one's own with the model bundles, None for the user's cache.
        reach_m: ground distance to the attacker that counts as arrival.
    """

    model: str = "full"
    models_folder: Path | None = None
    reach_m: float = 1.8

    def digest(self) -> str:
        """SHA-256 over everything that could change a measure, hexadecimal.

        Where the model lies does not matter, only which it is.
        """
        told = dataclasses.asdict(self) | {"version": __version__}
        del told["models_folder"]
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def measure_clip(
    path: Path, practice: Practice, settings: Settings, reader: PoseReader
) -> ClipResult:
    """Measure every rep in a clip.

    Raises:
        ClipError: the clip cannot be measured; says why.
    """
    raise NotImplementedError
