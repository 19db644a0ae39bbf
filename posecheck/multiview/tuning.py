"""Constants of measuring with several phones, with their sources."""

from __future__ import annotations

from typing import Final

# -- landmarks as several phones see them --------------------------------------------------------

LANDMARK_SD_M: Final = 0.025
"""Standard deviation in metres, across the line of sight, of a landmark from where another phone
sees the same point of the body: what the fit starts from; the reprojection error then shows what it
is in a given rep.

Source: guess
"""

ERRORS_LAST_S: Final = 0.25
"""Seconds over which the error of a landmark stays the same: readings nearer in time count as one.

Source: guess
"""

MIN_SCORE: Final = 0.3
"""Score of a landmark, at least, for it to take part in a calibration or a triangulation.

Source: guess
"""

SOFT_SDS: Final = 1.5
"""Standard deviations from which on a reprojection error counts linearly rather than squared.

Source: guess
"""

FIT_FRAMES: Final = 60
"""Moments at which cameras are fitted to the players, at most.

Source: chosen, insensitive between 40 and 100
"""

MAX_MISS_M: Final = 0.12
"""Metres of reprojection error, at the player, from which on a view is left out of a triangulated
point: a limb's thickness, so another limb was read.

Source: guess
"""

SWAP_COST: Final = 4.0
"""What it costs to take left and right for exchanged in a frame of one film, where half the square
of a standard deviation costs 1: eight to one against it for each.

Source: guess
"""

LIMB_SPEED_MPS: Final = 3.0
"""Metres a second at which a limb moves against the body, standard deviation: between the legs of a
runner and a waiting player's.

Source: guess
"""

MOST_SQUARES: Final = 16.0
"""Squared standard deviations that one landmark counts at most, so that a single wrong one does not
name a whole leg.

Source: guess
"""

# -- synchronising -------------------------------------------------------------------------------

LAG_STEP_S: Final = 0.02
"""Seconds between the shifts at which movements are compared.

Source: common practice
"""

MIN_OVERLAP_S: Final = 1.0
"""Seconds that two films must share, at least.

Source: guess
"""

MIN_LIKENESS: Final = 0.15
"""Correlation of the movements in two films, at least, for them to show the same rep.

Source: guess
"""

LAGS_TRIED: Final = 5
"""How many of the best shifts are tried on the geometry: a run looks alike one stride later.

Source: guess
"""

LAG_APART_S: Final = 0.12
"""Seconds by which shifts that are tried differ at least.

Source: guess
"""

SOUND_STEP_S: Final = 0.002
"""Seconds of sound that one value of its loudness stands for.

Source: common practice
"""

SOUND_SHARPNESS: Final = 1.6
"""The best shift of two sound tracks must fit this many times better than any other one more than
0.1 s away.

Source: guess
"""

SOUND_APART_S: Final = 0.1
"""Seconds between shifts of sound that count as different.

Source: guess
"""

SOUND_SD_S: Final = 0.03
"""Standard deviation in seconds of a shift read from sound: 10 m further to the microphone delay it
by 0.03 s.

Source: common practice
"""

# -- cameras -------------------------------------------------------------------------------------

ESSENTIAL_MISS: Final = 0.006
"""Distance from the epipolar line, in focal lengths, up to which a landmark agrees with a relative
pose: 6 cm on a player 10 m away.

Source: guess
"""

ESSENTIAL_TRUST: Final = 0.999
"""Probability that the search for a relative pose has hit on a sample without a wrong landmark.

Source: common practice
"""

FOCAL_STARTS_SDS: Final = (-1.0, 0.0, 1.0, 2.4)
"""Standard deviations from the median of the focal lengths from which a relative pose is tried.

Source: guess
"""

LOW_FOOT_SD_M: Final = 0.04
"""Standard deviation in metres of the lower foot's height over the ground while it stands.

Source: guess
"""

UPRIGHT_SD_DEG: Final = 5.0
"""Standard deviation in degrees of the line from ankles to shoulders of a waiting attacker from the
vertical.

Source: guess
"""

CHAIN_SD: Final = 0.03
"""Relative standard deviation of a stature read from the triangulated length from ankle to ear.

Source: guess
"""

GAUGE_SD: Final = 1e-3
"""Standard deviation in metres and radians of what no film shows, such as the direction of the axes
where no point of the field is known: fixes it without any influence on anything else.

Source: definition
"""

MIN_ANGLE_DEG: Final = 25.0
"""Degrees between the lines of sight of two phones to the player, at least: below it depth is three
times as far off as at a right angle.

Source: guess
"""

MAX_ANGLE_DEG: Final = 160.0
"""Degrees at most: phones that face each other do not see depth either.

Source: guess
"""

MAX_TYPICAL_MISS_M: Final = 0.06
"""Metres of reprojection error at the player, median over landmarks and frames, above which nothing
is triangulated.

Source: guess
"""

MAX_LIMB_SPREAD: Final = 0.15
"""Relative spread over the rep of the length of thighs and shanks above which the triangulation
counts as failed.

Source: guess
"""

BODY_TURN_SD_DEG: Final = 15.0
"""Standard deviation in degrees of how two cameras are turned against each other by the pose
model's bodies in metres alone: 8 and 13 degrees off on film of a real man.

Source: guess
"""

BODY_TURN_SOFT_M: Final = 0.1
"""Metres by which a landmark of one body may miss the other's before it counts less.

Source: guess
"""

BODY_TURN_PASSES: Final = 10
"""Passes of the turn by bodies, each weighted by the one before.

Source: common practice
"""

UNLIKELY_COST: Final = 0.02
"""What a squared standard deviation from what is expected of focal length and turn costs, where a
landmark off its epipolar line costs 1: weighs only between poses that fit about as well.

Source: guess
"""

LEAST_COMMON: Final = 100
"""Landmarks that two films must show at the same moments, at least: five frames of a whole body.

Source: guess
"""

MOVEMENT_SD_S: Final = 0.05
"""Standard deviation in seconds of a shift read from movement, before it is fitted with cameras.

Source: guess
"""

NAMING_ROUNDS: Final = 3
"""Times that exchanged limbs are looked for and the cameras started again, at most.

Source: chosen, insensitive between 2 and 5
"""

# -- stance --------------------------------------------------------------------------------------

STRAIGHT_KNEE_DEG: Final = 5.0
"""Degrees that a straight leg reads by the triangulated landmarks of hip, knee and ankle, which do
not lie on the joints' axes: 2 to 9 on four rendered reps, 5 to 10 on a real man.

Source: guess
"""

THIGHS_APART: Final = 1.1
"""Distance of the thighs' tops over that of the landmarks of the hips: 1.1 and 1.2 on two rendered
reps with cameras known exactly.

Source: guess
"""

HIPS_HZ: Final = 2.0
"""Frequency above which the movement of the hips over the ground is smoothed away. On four rendered
reps with cameras known exactly speeds are off by 0.06 to 0.14 m/s at 2, by 0.08 to 0.17 at 3, and
by 0.14 to 0.21 at 7; lower ones would take a braking for longer than it is.

Source: guess
"""

STANCE_FLOOR_SD: Final = {
    "left_knee_deg": 4.0,
    "right_knee_deg": 4.0,
    "knee_bend_deg": 4.0,
    "trunk_lean_deg": 2.5,
    "hip_drop": 0.03,
    "hand_reach": 0.13,
    "hand_height": 0.06,
    "base_width": 0.3,
}
"""Standard deviation, by key in its unit, that no film from several places takes off: where the
pose model sees a joint is not where the joint is, and it is off alike from all sides. Set by eye so
that on four rendered reps and a real man about nine in ten of the frames lie in their intervals, of
knees more (97 %).

Source: guess
"""

SDS_OF_90: Final = 1.645
"""Half the width of a 90 % interval in standard deviations of a normal distribution.

Source: definition
"""

LEAST_OF_WINDOW: Final = 0.5
"""Share of the frames of a stretch of time that several phones must show together for a stance to
be read over it.

Source: guess
"""

PLACE_FLOOR_SD_M: Final = 0.04
"""Standard deviation in metres of the hips' place that several phones leave: the landmarks of the
hips are not in the joints.

Source: guess
"""

SPEED_FLOOR_SD_MPS: Final = 0.1
"""The same of their speed, metres per second.

Source: guess
"""

FIT_TOLERANCE: Final = 1e-5
"""Relative change of cost or parameters at which the fit of the cameras has arrived.

Source: chosen, insensitive between 1e-6 and 1e-4
"""

MOST_STEPS: Final = 60
"""Steps of the fit of the cameras, at most.

Source: guess
"""

LIMB_SD: Final = 0.1
"""Relative standard deviation of the length of a limb in one frame.

Source: guess
"""

WORTH_OF_LANDMARK: Final = 0.5
"""Cost that a landmark saves when two films show it together: of two shifts of the clock under
which lines of sight meet alike, the one is right under which more of the films agrees.

Source: chosen, insensitive between 0.4 and 1.5
"""

LEAST_OF_BEST_LIKENESS: Final = 0.6
"""Share of the best shift's likeness that another must have to be tried on the geometry.

Source: guess
"""

TRIAL_STEP_S: Final = 0.07
"""Seconds between the moments at which cameras are fitted while shifts are tried.

Source: guess
"""

MOST_OF_BEST_SAVING: Final = 0.85
"""Share of the best shift's saving that the next best one may have; above it the films do not show
which is right.

Source: guess
"""

MOST_SAMPLES: Final = 300
"""Random samples from which a relative pose is sought, at most.

Source: guess
"""

LENGTH_SD: Final = 0.06
"""Relative standard deviation of a limb's length, from landmark to landmark, which lie on the body
and not in its joints.

Source: guess
"""

UNSEEN_SD_M: Final = 1.0
"""Metres by which the place of a landmark that was not seen is open.

Source: definition
"""
