"""Constants of metres on the ground, with their sources."""

from __future__ import annotations

from typing import Final

# -- the camera from marked points ---------------------------------------------------------------

MIN_MARKS: Final = 4
"""Fewest marked points that a camera is fitted to: four points determine a homography.

Source: definition
"""

MARK_SD_SHARE: Final = 2.0 / 1920
"""Standard deviation of a mark, as a share of the picture's longer side: 2 px in 1080p film.

Source: guess
"""

CONE_SD_M: Final = 0.06
"""Standard deviation in metres of a cone's place from where the layout says, laid out with a tape.

Source: common practice
"""

PAINT_SD_M: Final = 0.02
"""The same of a painted line or a goal post.

Source: common practice
"""

MAX_MISS_SDS: Final = 4.0
"""Standard deviations: a mark further from where it is expected makes the fit useless. Chance alone
would refuse one practice in five hundred (six marks, two directions).

Source: guess
"""

MIN_LEVERAGE_LEFT: Final = 1e-4
"""Share of a mark's miss that other marks must determine for it to count; less is rounding, as when
the mark alone determines what the others leave open.

Source: common practice
"""

MIN_SPREAD_M: Final = 0.4
"""Metres (standard deviation) by which marks must spread across their main direction.

Source: guess
"""

MAX_LOG_ASPECT: Final = 0.01
"""Logarithm by which the shapes of two pictures may differ and still count as the same shape.

Source: guess
"""

SOFT_MISS_SDS: Final = 2.0
"""Standard deviations from which on a mark's miss counts linearly rather than squared (soft L1).

Source: guess
"""

STARTS_KEPT: Final = 4
"""Cameras that a fit is started from: the nearest to the marks of one for each focal length tried.

Source: guess
"""

SAME_LOG_FOCAL: Final = 0.02
"""Logarithm by which the focal lengths of two fits may differ and still be the same fit.

Source: common practice
"""

LOOSELY: Final = 2.0
"""How many times wider than a phone's usual tilt and height those are taken when points are marked:
they only keep four marks from a camera that nobody could have held. The tilt also when players
stand for points: how high the camera is and how far off they are already says how far down they are
seen, up to 40 degrees from a stand.

Source: guess
"""

LEAST_DEPTH_M: Final = 0.05
"""Metres in front of the camera, at least, at which points are projected while a camera is searched
for: points that swing behind it must cost much, not fail.

Source: guess
"""

# -- the camera from players ---------------------------------------------------------------------

UNKNOWN_STATURE_M: Final = (1.68, 0.10)
"""Mean and standard deviation of stature in metres when neither age nor sex is known: the charts
from 14 years up, both sexes, have 1.70 and 0.09, and younger ones play too.

Source: published, Kuczmarski et al., CDC growth charts, Vital Health Stat 11(246), 2002 (memory)
"""

ANKLE_TO_EAR: Final = 0.847
"""Length of the line from ankle over knee, hip and shoulder to the ear, as a share of stature, as
the landmarks have it. By Drillis and Contini (1966, as given in Winter, Biomechanics and Motor
Control of Human Movement, from memory) the ankle is at 0.039 and the eyes at 0.936 of stature, so
0.897 apart; the landmarks of bodies of known stature give less, 0.83 in the median and 0.88 for one
in ten.

Source: guess
"""

POSTURE_TALL_SD: Final = 0.03
"""Standard deviation of how tall somebody looks, as a share: bent and turned limbs.

Source: guess
"""

PROPORTIONS_SD: Final = 0.02
"""Standard deviation of the logarithm by which somebody's ankle-to-ear line is longer than his
stature says, all through a clip.

Source: guess
"""

TILT_TAKEN_OUT: Final = 0.43
"""Power of the cosine of how far the camera looks down on somebody by which he looks taller, in the
landmarks, than his height is projected: the pose model's own body is tilted by about so much of it.
Of 238 players on rendered film, looked down on by up to 37 degrees, 0.43 with an error of 0.06.

Source: guess (the figure of rendered film)
"""

FEET_SD_SHARE: Final = 0.0015
"""Standard deviation of how tall somebody looks that comes from the landmarks, as a share of the
picture's longer side.

Source: guess
"""

SOFT_LOOKS_SDS: Final = 1.0
"""Standard deviations from which on somebody who looks too short or too tall counts linearly rather
than squared: limbs turned to the camera, landmarks astray.

Source: guess
"""

UNSEEN_MISS_SDS: Final = 10.0
"""Standard deviations that somebody counts as missing his height when the camera tried does not see
him at all.

Source: guess
"""

READINGS_A_PERSON: Final = 8.0
"""Independent readings that all frames of one person count as together, at most.

Source: guess
"""

MIN_STANDING_SCORE: Final = 0.5
"""Score of the landmarks that stature is read from, at least.

Source: guess
"""

SOLE_M: Final = 0.045
"""Metres from the ground to the landmarks of heel and toe while a foot stands.

Source: guess
"""

MIN_FEET_DIP_DEG: Final = 3.0
"""Degrees below the horizon of all feet, at least, in the camera that the fit is started from.

Source: guess
"""

ZOOM_QUANTILES: Final = (0.05, 0.95)
"""Quantiles of a clip's focal lengths taken for the ends of its zoom, since some frames are
followed badly.

Source: guess
"""

FITTED_VIEWS: Final = 60
"""Views of people from which on only every second, third and so on is fitted to: neighbours show
the same.

Source: guess
"""

FOCALS_TRIED: Final = (0.33, 4.5)
"""Least and greatest focal length over the longer side that is tried: 0.4x to 6x.

Source: guess
"""

N_FOCALS: Final = 20
"""Focal lengths tried between them: each a seventh longer than the one before.

Source: chosen, insensitive between 16 and 40
"""

NEAR_SDS: Final = (-2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0)
"""Standard deviations from the likely focal length at which more are tried.

Source: common practice
"""

TURNING_FOCALS: Final = 60
"""Focal lengths between the same two at which the camera's turning is looked at.

Source: common practice
"""

LEAST_FOCAL_STEP: Final = 0.02
"""Logarithm by which neighbouring focal lengths that are tried differ, about, at least.

Source: common practice
"""

REP_SPEED_MPS: Final = 4.7
"""Metres per second of a closeout's fastest second, median: 5.1 of long ones and 4.2 of short ones
on rendered film.

Source: guess
"""

REP_SPEED_LOG_SD: Final = 0.22
"""Standard deviation of its logarithm: from a jog at 3 to a sprint at 8 m/s lie within two.

Source: guess
"""

REP_APART_M: Final = 9.5
"""Metres between the defender, inside, and the attacker on his cone, median: cones are 9 to 14 m
out, and short closeouts, from 5 m on, are practised too.

Source: common practice
"""

REP_APART_LOG_SD: Final = 0.28
"""Standard deviation of its logarithm.

Source: guess
"""

REP_UNUSUAL: Final = 0.05
"""Density, over the logarithm of speed or distance, of clips that are nothing like a rep.

Source: guess
"""

BEGINNING_S: Final = 0.5
"""Seconds at the beginning of a clip in which nobody has gone far yet.

Source: guess
"""

SPEED_OVER_S: Final = 1.0
"""Seconds over which the fastest speed is looked for: shorter ones show the errors of the feet.

Source: guess
"""

MIN_SPEED_FRAMES: Final = 8
"""Frames in them, at least.

Source: guess
"""

NINE_IN_TEN_SDS: Final = 1.645
"""Standard deviations within which nine of ten values of a normal distribution lie.

Source: definition
"""

TURNING_DECIDES_SD: Final = 0.2
"""Standard deviation of the logarithm of the focal length that the camera's turning leaves, at
most, for the lens to be called known from it.

Source: guess
"""

# -- how well a camera knows lengths -------------------------------------------------------------

LINE_M: Final = 4.0
"""Metres of the lines whose lengths are examined: about the stretch over which speeds and braking
are read.

Source: guess
"""

PARAMETER_STEP: Final = 1e-5
"""Step of the camera's parameters for numerical derivatives of lengths.

Source: common practice
"""

LEAST_WEIGHT: Final = 1e-3
"""Probability of a camera below which it is left out when lengths are examined.

Source: common practice
"""

UNSEEN_LOG_SD: Final = 1.0
"""Standard deviation of the logarithm of a length that another camera does not see on the ground.

Source: guess
"""

# -- readings of one frame -----------------------------------------------------------------------

MIN_LANDMARK_SCORE: Final = 0.4
"""Score of a landmark that a place is read from, at least.

Source: guess
"""

LANDMARK_SD_SHARE: Final = 0.010
"""Standard deviation of one landmark as a share of the player's height in the picture.

Source: guess
"""

HIPS_AHEAD_M: Final = 0.035
"""Metres in front of the joints, in the direction the player faces, at which the pose model puts
the hips: 0.03 to 0.04 on rendered bodies, whether they stand, run or brake.

Source: measured, GROUND_CARD.md
"""

FEET_LAST_S: Final = 0.15
"""Seconds over which readings from the feet err together, within a step; they count as one reading.
Up to 0.3 s little changes.

Source: measured, GROUND_CARD.md
"""

FEET_LASTING_SD_M: Final = 0.018
"""Standard deviation in metres of how high over the ground the line of sight to somebody's feet is
read to pass, all through a clip: his shoes, and how the pose model sees them. The lower the camera
and the farther away he is, the more of his place it takes.

Source: guess (1.8 cm about a mean of 1.5 cm, of 73 attackers on rendered film of another kind)
"""

LIFT_S: Final = 0.004
"""Seconds: times speed, how much higher the feet of runners are than single pictures show, which
reveal less reliably than speed that somebody runs. 0.012 m at more than 3 m/s on clips.

Source: chosen, insensitive between 0.003 and 0.005
"""

LOWEST_DIP: Final = 0.02
"""Tangent of the angle below the horizon from which on a line of sight gives a range.

Source: guess
"""

LANDMARK_LASTS_S: Final = 0.07
"""Seconds over which landmarks of neighbouring frames err together; they count as one reading.

Source: guess
"""

SIZE_NOISE: Final = 1.5
"""Standard deviation of the reading of size from frame to frame, in landmark errors over the length
of a thigh.

Source: guess
"""

THIGH_M: Final = 0.42
"""Metres: typical length of the segments that size is read from; only sets its error.

Source: guess
"""

LARGEST_SEGMENTS: Final = 3
"""Segments, of six, that size is read from: the least foreshortened.

Source: guess
"""

BUILD_QUANTILE: Final = 0.9
"""Quantile over the clip of a segment's apparent length that is taken for its true length.

Source: guess
"""

LEAST_HEIGHT_SHARE: Final = 0.5
"""Height of a player in the picture, over its median in the clip, at least, when the error of his
landmarks is worked out.

Source: guess
"""

# -- a track on the ground -----------------------------------------------------------------------

MAX_BEARING_GAP_S: Final = 0.5
"""Seconds: longer stretches without a bearing stay empty. Half a second taken out of 46 development
runs leaves speed and place in its middle as near as before, and as often inside their error bars.

Source: chosen, insensitive between 0.3 and 0.6
"""

ACCELERATION_SD_MPS2: Final = 4.0
"""Standard deviation of a player's acceleration in m/s^2; 8 is two of these.

Source: guess
"""

ALONG_SD_MPS2: Final = 5.0
"""The same along his way of one who runs: he sets out and brakes at 4 to 7.

Source: guess
"""

ASIDE_SD_MPS2: Final = 1.5
"""The same across his way: a path bowed by 0.7 m over 8 m asks for 2 at 5 m/s.

Source: guess
"""

FREELY_MPS: Final = 2.0
"""Metres per second at which a way counts half: who walks or chops his feet goes any way.

Source: guess
"""

ACCELERATION_LASTS_S: Final = 0.5
"""Seconds for which an acceleration lasts (time constant).

Source: guess
"""

POSTURE_SD: Final = 0.03
"""Standard deviation of how much larger or smaller than true a posture makes the body look, as a
share: over 0.3 s and more 0.022 in the median of 73 rendered runs, 0.033 root mean square.

Source: guess (between the two figures)
"""

POSTURE_LASTS_S: Final = 0.5
"""Seconds for which a posture lasts (time constant).

Source: guess
"""

BUILD_SD: Final = 0.3
"""Standard deviation of the first guess of the body's size, as a share; the feet determine it
better.

Source: guess
"""

START_SD: Final = 3.0
"""Standard deviation of a player's place in metres, and of his speed in m/s, before the first
frame.

Source: guess
"""

LASTING_SD_M: Final = 0.08
"""Standard deviation in metres that no averaging removes: where on body and shoe the landmarks sit.

Source: guess
"""

NEAREST_M: Final = 0.5
"""Metres from the camera, at least: nobody is filmed from nearer.

Source: guess
"""

TAIL_SDS: Final = 2.0
"""Readings that lie this many standard deviations from the last pass count half (Cauchy's weight),
far ones hardly: landmarks that jump to another player must not pull.

Source: guess
"""

PASSES: Final = 3
"""Passes of the smoother. The size of the body is learned from the place, and the place from the
size; both have converged by then.

Source: guess
"""
