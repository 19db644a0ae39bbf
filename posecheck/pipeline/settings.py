"""What a run may choose."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from posecheck.pose.reader_choice import Reader, usual_reader


@dataclass(frozen=True)
class Settings:
    """What a run may choose.

    Attributes:
        model: pose model variant, "lite", "full" or "heavy".
        models_folder: a folder of one's own with the model bundles, None for the user's cache.
        reach_m: ground distance to the attacker that counts as arrival.
        keypoints_folder: where keypoints are kept from run to run, None to keep none.
        reader: what runs the pose model.
        threads: of the processor, on which a worker reads; they change no figure.
    """

    model: str = "full"
    models_folder: Path | None = None
    reach_m: float = 1.8
    keypoints_folder: Path | None = None
    reader: Reader = field(default_factory=usual_reader)
    threads: int = 1
