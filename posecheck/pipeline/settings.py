"""What a run may choose."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Settings:
    """What a run may choose.

    Attributes:
        model: pose model variant, "lite", "full" or "heavy".
        models_folder: a folder of one's own with the model bundles, None for the user's cache.
        reach_m: ground distance to the attacker that counts as arrival.
        keypoints_folder: where keypoints are kept from run to run, None to keep none.
    """

    model: str = "full"
    models_folder: Path | None = None
    reach_m: float = 1.8
    keypoints_folder: Path | None = None
