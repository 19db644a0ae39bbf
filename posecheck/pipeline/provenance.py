"""How a clip is measured: what a record keeps of it beside the measures."""

from __future__ import annotations

from pathlib import Path

from posecheck.files.version import installed_version
from posecheck.measures.result import Provenance
from posecheck.pipeline.keys import measures_key, models_used
from posecheck.pipeline.settings import Settings
from posecheck.pose.model_files import variants
from posecheck.practice.practice import Practice


def provenance(settings: Settings, practice: Practice, clip: Path) -> Provenance:
    """How a clip is measured by this code with these settings."""
    return Provenance(
        version=installed_version(),
        model=models_used(settings),
        model_digest=variants()[settings.model].bundle_sha256,
        settings_digest=measures_key(settings, practice, clip),
    )
