"""Constants of reading a body, with their sources."""

from __future__ import annotations

from typing import Final

FEATURE_LIMIT_SDS: Final = 4.0
"""Standard deviations from their mean at which features are clipped: beyond what a net has learned
from, its output is meaningless.

Source: guess
"""

UPRIGHT_DROP: Final = 0.12
"""Hips lower than standing by this share of their standing height, or by more, do not show how high
they are when the player stands.

Source: guess
"""

HIP_LANDMARK_SD: Final = 0.025
"""Standard deviation of the hips' height that comes from where the pose model puts the hips, as a
share of the height: 0.02, the median on rendered bodies whose place is known, and a little more.

Source: guess
"""

PLACE_SHARE: Final = 0.5
"""Share of the place's standard deviation that counts for the hips' drop: part of that error lasts
all through the clip and so shifts the standing height by as much. Found on rendered clips.

Source: guess
"""

LOWER_SD: Final = 0.03
"""Standard deviation of how low the hips are, as a share of their standing height, at which it
counts half.

Source: guess
"""
