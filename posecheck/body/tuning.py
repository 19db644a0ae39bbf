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

Source: common practice
"""

STATURE_LOG_SD: Final = 0.06
"""Standard deviation of the logarithm of the stature, boys and tall men among them. With 0.03
knees of rendered film are 0.5 degrees worse, with 0.1 the same.

Source: guess
"""

SEGMENT_LOG_SD: Final = 0.05
"""Standard deviation of the logarithm of a segment's share of the stature. 0.03 makes no
difference on the film at hand.

Source: guess
"""

LANDMARK_SD: Final = 0.015
"""Standard deviation of a landmark in the picture, as a share of the player's height there. On one
real man and on rendered bodies it is 0.011, with long tails.

Source: guess
"""

LANDMARK_LASTS_S: Final = 0.2
"""Seconds for which a landmark's error persists: pictures closer in time say nothing new.

Source: guess
"""

TAIL: Final = 4.0
"""Degrees of freedom of Student's t, by which landmarks far off the fit lose weight.

Source: common practice
"""

DEPTH_SD: Final = 0.4
"""Standard deviation of a segment's slope towards the camera as the pose model gives it, as a share
of its length: the sign is right more often than the size.

Source: chosen, insensitive between 0.25 and 0.6 (knees of rendered and of real film)
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
thigh: 9 cm, as on rendered bodies.

Source: guess
"""

PLANTED_MPS: Final = 0.4
"""Speed in the picture, turned into metres by the player's height, at which a foot counts half as
planted. At 0.8 a foot that swings slowly counts as standing; at 0.3 little changes.

Source: guess
"""

PLANTED_SD_M: Final = 0.04
"""Standard deviation of the height over the ground of a foot that stands, metres.

Source: chosen, insensitive between 0.03 and 0.06
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

PLANTED_GROUND_SD_M: Final = 0.03
"""Standard deviation of the height of what a player stands on, over the camera's ground, metres.

Source: guess
"""

FIT_DRAWS: Final = 48
"""Bodies drawn at random from what a fit leaves open, by which standard deviations are read.

Source: guess
"""

LEAST_FIT_FRAMES: Final = 8
"""Fewer frames are not fitted.

Source: guess
"""

FIT_STEPS: Final = 25
"""Steps of Levenberg's and Marquardt's method at most.

Source: guess
"""

FIT_DAMPING: Final = 1e-3
"""Its damping to begin with, as a share of the diagonal.

Source: guess
"""

LEAST_FIT_GAIN: Final = 1e-3
"""Share of the cost at which a step's gain ends the fit.

Source: guess
"""

FIT_BEND_SDS: Final = 3.0
"""The fit's bend of the straighter leg, the smaller of two uncertain angles, comes out too small:
by 14 degrees where knees are bent 54 to 66. Its standard deviation, which does not know that,
counts as so many times as large. With 1 knees of rendered film are read 4.5 degrees off, with this
4.2; on a real man it makes no difference.

Source: chosen, insensitive between 2 and 4 (4.2 degrees at either)
"""

STRAIGHT_LEG_DEG: Final = 5.0
"""Angle at the knee between the lines to hip and ankle when a leg is straight, degrees: on one real
man who stands straight, by landmarks triangulated from four cameras. The rendered bodies have 9 to
14 between their joint centres.

Source: guess
"""

# -- steps a second ------------------------------------------------------------------------------

LEAST_STEPS: Final = 3.0
"""Steps that a stretch of time must hold for their rate to be read.

Source: guess
"""

LEAST_STEPS_SHARE: Final = 0.4
"""Share of what knees and ankles do against each other that a step rate must explain. On the sample
clips it explains 0.43 to 0.84.

Source: guess
"""

TWICE_SHARE: Final = 0.12
"""What is left at twice the rate, over what is explained by it, from which on the rate is that of
strides. On the sample clips it is 0 to 0.03 where it is the steps' and 0.45 to 0.8 where not.

Source: guess
"""

MOST_STEPS_HZ: Final = 8.0
"""Steps a second that are looked for, at most: feet that chop make five or six.

Source: guess
"""

STEPS_GRID: Final = 0.05
"""Rates that are tried, in cycles over the whole stretch.

Source: chosen, insensitive between 0.02 and 0.2
"""

BOUNCE_OVER_S: Final = 1.2
"""Seconds over which a trunk's going up and down is looked at: three steps of a run, two of a walk.

Source: chosen, insensitive between 1.0 and 1.5
"""

BOUNCE_EVERY_S: Final = 0.1
"""Seconds from one such stretch to the next.

Source: common practice
"""

BOUNCE_SEEN_SHARE: Final = 0.8
"""Share of the frames of such a stretch in which he must be seen.

Source: guess
"""

LEAST_BOUNCES: Final = 2.0
"""Times that a trunk goes up and down in such a stretch, at least, for a rate: those of a walk must
be among the rates tried, or what is left of a walk is taken for a run.

Source: chosen, insensitive between 1.8 and 2.2
"""

LEAST_BOUNCE_SHARE: Final = 0.6
"""Share of what a trunk does up and down that a rate must explain. Of 500 captured walks seen from
the front or behind, with landmarks as noisy as they are, 2 reach it at the rate of a run, while all
captured runs do.

Source: chosen, insensitive between 0.5 and 0.65
"""

LEVEL_SHARE: Final = 0.2
"""Share of the frames of a run in which a shank is at least so level: a fifth, so that a landmark
that jumps for a frame or two decides nothing.

Source: chosen, insensitive between 0.1 and 0.25
"""

LEAVING_SHARE: Final = 0.04
"""Share by which a player's trunk becomes smaller in the picture through a run if he goes away.

Source: guess
"""

LEVEL_NEARING: Final = 0.25
"""Greatest drop from knee to ankle in those frames, in trunk lengths, of a player running nearer.
Measured on captured movement over half a second, seen from 0 to 14° above, with the pose model's
noise added: 1 walk in 40 and 7 runs in 8 stay below it.

Source: chosen, insensitive between 0.2 and 0.3
"""

LEVEL_LEAVING: Final = 0.45
"""The same for a player running away, whose ankle lies lower in the picture: 1 walk in 90 and 4
runs in 5 stay below it.

Source: chosen, insensitive between 0.4 and 0.5
"""

LEAST_SWING_FRAMES: Final = 6
"""Frames in which he must be seen for that.

Source: guess
"""
