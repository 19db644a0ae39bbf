"""The focal length that a phone writes into its film.

Apple documents the key ``com.apple.quicktime.camera.focal_length.35mm_equivalent``: text such as
"50.00mm", metadata of the video track that the camera made (AVMetadataKey,
quickTimeMetadataKeyCameraFocalLength35mmEquivalent; the spelling of the key itself is as found in
films). Phones have been seen to write it as a whole number and for the whole file; that, and EXIF's
``FocalLengthIn35mmFormat`` as editing programs carry it over, is from memory. The key
``...camera.lens_model`` gives the focal length of the lens itself, which says nothing without the
size of the sensor, and is not read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from posecheck.video.tuning import TAGGED_35MM_RANGE

_KEYS = ("camera.focal_length.35mm_equivalent", "focallengthin35mmformat")


def tagged_focal_35mm(tags: Mapping[str, str]) -> float | None:
    """Focal length on film 36 mm wide, millimetres.

    Args:
        tags: of file and track, by key.

    Returns:
        None when no tag gives one, or it cannot be one.
    """
    for key, value in tags.items():
        number = re.match(r"\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*$", value)
        if key.lower().endswith(_KEYS) and number:
            focal = float(number[1])
            if TAGGED_35MM_RANGE[0] <= focal <= TAGGED_35MM_RANGE[1]:
                return focal
    return None
