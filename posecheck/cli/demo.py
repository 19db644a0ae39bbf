"""The sample practice that comes with a checkout of the repository."""

from __future__ import annotations

from pathlib import Path

import posecheck
from posecheck.errors import UsageError
from posecheck.files.names import PRACTICE_FILE


def sample_practice_folder() -> Path:
    """Where the sample practice lies.

    Raises:
        UsageError: posecheck was installed without it.
    """
    folder = Path(posecheck.__file__).parent.parent / "sample_clips"
    if not (folder / PRACTICE_FILE).exists():
        raise UsageError(
            "The sample practice is not installed with posecheck; clone the repository and run "
            "posecheck demo from the checkout, or check clips of your own."
        )
    return folder
