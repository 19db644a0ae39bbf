"""How a clip is measured: what a record keeps of it beside the measures."""

from __future__ import annotations

from pathlib import Path

from posecheck.files.version import installed_version
from posecheck.measures.result import Provenance
from posecheck.pipeline.keys import measures_key, measures_key_by, models_used
from posecheck.pipeline.settings import Settings
from posecheck.pose.model_files import variants
from posecheck.practice.practice import Practice
from posecheck.reps.tuning import REACH_M


def provenance(settings: Settings, practice: Practice, clip: Path) -> Provenance:
    """How a clip is measured by this code with these settings."""
    return Provenance(
        version=installed_version(),
        model=models_used(settings),
        model_digest=variants()[settings.model].digest(settings.reader),
        settings_digest=measures_key(settings, practice, clip),
    )


def measured_as_now(made: Provenance, practice: Practice, clip: Path) -> bool:
    """True when a clip was measured by the code, the usual reach and the notes of today.

    The pose model it was measured with is taken as it was, whether or not it is set up here.
    """
    return made.settings_digest == measures_key_by(made.model, REACH_M, practice, clip)
