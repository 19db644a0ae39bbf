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

STATURE_M: Final = 1.75
"""Stature that a body is taken to have where its size is not known. Angles hardly depend on it.

Source: common practice, no source
"""

STATURE_LOG_SD: Final = 0.03
"""Standard deviation of the logarithm of the stature: narrower than people are, since a body that
may shrink pays for its own jerky movement by moving closer to the camera.

Source: chosen on rendered film; 0.02 to 0.06 makes no difference to slopes
"""

SEGMENT_LOG_SD: Final = 0.05
"""Standard deviation of the logarithm of a segment's share of the stature.

Source: guess; 0.03 makes no difference on the film at hand
"""

LANDMARK_SD: Final = 0.015
"""Standard deviation of a landmark in the picture, as a share of the player's height there. Measured
1.1 % on one real man and on rendered bodies, with long tails.

Source: guess
"""

LANDMARK_LASTS_S: Final = 0.2
"""Seconds for which a landmark's error persists: pictures closer in time say nothing new.

Source: guess
"""

TAIL: Final = 4.0
"""Degrees of freedom of Student's t, by which landmarks far off the fit lose weight.

Source: common practice, no source
"""

DEPTH_SD: Final = 0.4
"""Standard deviation of a segment's slope towards the camera as the pose model gives it, as a share
of its length: the sign is right more often than the size. Between 0.25 and 0.6 the knees of
rendered and real film hardly differ.

Source: chosen on rendered film
"""

SQUARE_SD: Final = 0.2
"""Standard deviation of the cosine between the trunk and the lines of hips and shoulders.

Source: guess
"""

HINGE_SD: Final = 0.02
"""Standard deviation by which a knee may lie behind the line from hip to ankle, as a share of the
thigh: knees do not bend forwards.

Source: guess
"""

KNEE_ASIDE_SD: Final = 0.23
"""Standard deviation of how far a knee lies beside the plane of leg and foot, as a share of the
thigh; measured on rendered bodies, 9 cm.

Source: chosen on rendered film
"""

PLANTED_MPS: Final = 0.8
"""Speed in the picture, turned into metres by the player's height, at which a foot counts half as
planted.

Source: guess
"""

PLANTED_SD_M: Final = 0.04
"""Standard deviation of the height over the ground of a foot that stands, metres. Between 0.03 and
0.06: tighter is better on rendered film, looser on a real man on a beam.

Source: chosen on rendered film
"""

PLANTED_SD_MPS: Final = 0.5
"""Standard deviation of the speed of a foot that stands, metres a second.

Source: guess
"""

SOLE_M: Final = 0.03
"""Height of the landmarks of heel and toe over the ground when the foot stands, metres.

Source: guess
"""

WINDOW_S: Final = 1.0
"""Seconds before and after the moment asked for that are fitted together.

Source: guess
"""

FIT_SPACING_S: Final = 0.05
"""Seconds between the frames that are fitted; those in between are interpolated.

Source: guess
"""
