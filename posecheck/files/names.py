"""Names of the files and folders that posecheck reads and writes."""

from __future__ import annotations

PRACTICE_FILE = "practice.toml"
"""What the coach writes about a practice, in its folder."""

POINTS_FILE = "points.toml"
"""Views and marks as set with ``posecheck points``."""

OUTPUT_FOLDER = "checked"
"""Where results go inside a practice's folder unless another place is named."""

KEYPOINTS_FOLDER = "keypoints"
"""In an output folder: the landmarks of each clip."""

RECORD_FILE = "record.sqlite"
"""In an output folder: the record. A folder that holds one is an output folder."""
