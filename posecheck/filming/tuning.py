"""Constants of grading film and of the limits of what is measured, with their sources."""

from __future__ import annotations

from typing import Final

# -- limits beyond which nothing is measured -----------------------------------------------------

MIN_HEIGHT_PX: Final = 100
"""Pixels of a player's height in the picture, at least. A knee of a smaller player is two pixels
wide. From 130 to 200 px down to 100 to 130 the error grows by a quarter, and the quantiles that the
stance net leaves widen with it, so that they hold as often; below, errors grow fast.

Source: measured, STANCE_CARD.md
"""

BENT_DEG: Final = 30.0
"""Degrees from which on knees are read bent: runners and stances then err differently, and each
have intervals of their own.

Source: definition
"""

MOST_APART: Final = 2.0
"""Two independent readings further apart than this, in units of what their 90 % intervals allow
for, contradict each other: 3.3 standard deviations.

Source: guess
"""

MIN_SEEN_SHARE: Final = 0.5
"""Share of a window's frames in which the stance must be seen, or known by a hidden step.

Source: guess
"""

MIN_SEEN_BESIDE_HIDDEN: Final = 0.3
"""Share of a window's frames in which the stance must be seen beside those of a hidden step.

Source: guess (the least of the windows that ``HIDDEN_OFF`` was found on)
"""

HIDDEN_STEP_S: Final = 0.35
"""Seconds from sighting to sighting for which one who runs past another is hidden by him, at most:
about a step of a run, too short to break down and to run upright again.

Source: guess (the longest that ``HIDDEN_OFF`` was found on)
"""

AROUND_HIDDEN_S: Final = 0.2
"""Seconds before and after a hidden step that stand in for it: the rest of a stride.

Source: guess
"""

AROUND_HIDDEN_FRAMES: Final = 3
"""Frames seen on either side of a hidden step, at least.

Source: guess
"""

MIN_SCORE: Final = 0.5
"""Mean probability that hips, knees and ankles are seen, at least.

Source: guess
"""

MAX_BLUR: Final = 0.05
"""Width of a player's edges, in his heights, at most. As filmed, edges of the sample clips are 0.01
wide; at 0.04 knees are read 4 degrees too straight; beyond 0.05 single reps shift by as much as
their interval, and some readings are far wrong although the pose model's scores are high.

Source: measured, FILM_CARD.md
"""

MAX_BURNT: Final = 0.3
"""Share of a player that is burnt out, at most. Up to 0.1 the error of knee bend does not grow;
from 0.25 on it is doubled.

Source: measured, FILM_CARD.md
"""

MIN_LIGHT: Final = 0.02
"""Median brightness of a player, 0 to 1, at least. Down to 0.03 the error of knee bend does not
grow; at 0.02 half of all frames are lost.

Source: measured, FILM_CARD.md
"""

MIN_RATE_HZ: Final = 10.0
"""Frames per second, at least. On the sample clips with frames left out all intervals hold down to
10 a second; at 7.5 that of the braking distance holds the truth in 7 reps of 13.

Source: guess
"""

# -- film that plays slower than life -------------------------------------------------------------

SLOW_STEPS_HZ: Final = 2.0
"""Steps a second of a run, at least. Runs are made with 2.4 or more; film at half the speed of life
shows the sample clips' with 1.4 to 1.6.

Source: guess
"""

LONG_STEP_M: Final = 1.2
"""Metres of a step from which on both feet leave the ground: the reach of two straight legs, and
more than anybody's step who walks.

Source: guess
"""

RUN_STEPS_HZ: Final = 2.9
"""Steps a second of a run, about: a film's speed of play is reckoned from it, to a half or so.

Source: published, Cavanagh and Kram 1989 (from memory)
"""

RUNS_SHARE: Final = 0.5
"""Share of his greatest speed above which a player's steps are looked at: slower than that he sets
off or stops.

Source: chosen, insensitive between 0.4 and 0.7
"""

PART_OVER_S: Final = (1.4, 2.4)
"""Seconds of film over which a part that may play slowly is looked at: one step at a quarter of the
speed of life takes the one, one at an eighth of it the other.

Source: guess
"""

PART_STEP_S: Final = 0.1
"""Seconds between two such parts.

Source: guess
"""

PART_SEEN_SHARE: Final = 0.85
"""Share of a part's frames in which his legs and his place must be known.

Source: guess
"""

PART_SPEED_SHARE: Final = 0.65
"""Share of a rep's greatest speed above which no part of it is slow: film that plays at half the
speed of life shows half of it.

Source: guess
"""

PART_TOP_SHARE: Final = 0.85
"""Share of a rep's greatest speed that is reached nowhere in a part that is slow: who is nearly as
fast at its beginning, and slower and slower after that, brakes.

Source: guess
"""

PART_MOVES_MPS: Final = 0.25
"""Metres a second below which a player stands, and takes no steps by which to know anything.

Source: guess
"""

PART_EVEN: Final = ((2.2, 1.3), (3.5, 0.5))
"""Metres a second, and the most by which the speed may vary in a part as a share of its mean, up to
that speed. Who brakes from a run takes a long step or two at speeds between the two.

Source: guess (no development rep at the speed of life has a part as even at the second speed)
"""

SLOW_STEP_S_M: Final = 0.6
"""Length of a step over steps a second, metre seconds, from which on nobody steps like that, by the
speed that he surely has. In 122 development reps at the speed of life it is 0.5 at most; slowed
four times in part, 98 in 100 runs and 77 in 100 arrivals have more.

Source: chosen, insensitive between 0.55 and 0.65
"""

# -- what is good film ---------------------------------------------------------------------------

GOOD_HEIGHT_PX: Final = 200
"""Pixels of a player's height in the picture from which on errors fall slowly with size.

Source: measured, STANCE_CARD.md
"""

GOOD_VIEW_DEG: Final = (45.0, 135.0)
"""Degrees, 0 seen from the front and 180 from behind, between which a player is seen well. Nearer
to either end a lean and hands held out point at the camera and show only by being foreshortened.

Source: guess
"""

GOOD_DIP_DEG: Final = 6.0
"""Degrees by which the phone looks down at a player's feet. Feet read a little too high or too low
put him too far away or too near, by their error over the tangent of this angle: on development film
two centimetres, at 6 degrees 0.2 m. ACCURACY.md has arrivals and speeds by this angle.

Source: guess
"""

GOOD_RATE_HZ: Final = 25.0
"""Frames per second. At a closing speed of 6 m/s, players move more than 25 cm between the frames
of a slower film.

Source: guess
"""

GOOD_BLUR: Final = 0.02
"""Width of a player's edges, in his heights. The sample clips have 0.008 to 0.015; blurred to
0.023, their knee bend shifts by 2 degrees on average.

Source: measured, FILM_CARD.md
"""

SHARP_PX: Final = 2.0
"""Pixels: an edge no wider is as sharp as pixels can show, however small the player.

Source: guess
"""

GOOD_LIGHT: Final = 0.05
"""Median brightness of a player, 0 to 1.

Source: guess
"""

GOOD_BURNT: Final = 0.1
"""Share of a player that may be burnt out: white kit in the sun clips a little without harm.

Source: measured, FILM_CARD.md
"""

GOOD_SCORE: Final = 0.7
"""Mean probability that hips, knees and ankles are seen.

Source: guess
"""

GOOD_SEEN_SHARE: Final = 0.8
"""Share of the frames from start to end in which the defender's legs should be read.

Source: guess
"""

FULL_HD_PX: Final = 1080
"""Pixels of the shorter side of the picture that every phone can film.

Source: common practice
"""

# -- sides a player is seen from -----------------------------------------------------------------

FRONT_TO_DEG: Final = 45.0
"""Degrees, 0 from the front and 180 from behind, up to which a player is seen from the front. The
intervals of the stance are fitted for each side.

Source: guess
"""

SIDE_TO_DEG: Final = 105.0
"""The same up to which he is seen from the side. From there a leg shows its bend in the picture,
and readings are closer to the truth than the margins of the stance net.

Source: guess
"""

# -- how a player looks --------------------------------------------------------------------------

LOOKED_AT_PX: Final = 200
"""Pixels: a taller player is shrunk to this height, since the pose model does not see him larger
either.

Source: guess
"""

LIMB_WIDTH: Final = 0.14
"""Width of the band around each limb that counts as the player, in his heights: wide enough to hold
the outline of legs and trunk.

Source: guess
"""

SMOOTHING_SD_PX: Final = 1.2
"""Standard deviation in pixels of the smoothing that removes grain before edges are measured.

Source: guess
"""

MIN_STEEPNESS: Final = 0.3
"""Slope of an edge that counts, over the player's steepest, at least.

Source: guess
"""

STEEPEST_QUANTILE: Final = 0.99
"""Quantile of the slopes that is taken for the player's steepest.

Source: guess
"""

LEVEL_SLOPE_SHARE: Final = 0.5
"""Slope along an edge, over the slope across it, at most: edges at a slant look wider than they
are.

Source: guess
"""

MIN_EDGES: Final = 8
"""Edge pixels in one direction that its blur is read from, at least.

Source: guess
"""

MIN_CUTOUT_PX: Final = 8
"""Pixels of either side of the part of the picture that holds the player, at least.

Source: guess
"""

CLIPPED_LEVEL: Final = 250
"""Brightness, of 255, from which on a pixel's light is no longer known.

Source: guess
"""

# -- pictures of the arrival ---------------------------------------------------------------------

PICTURE_WIDTH_PX: Final = 1920
"""Pixels of the width of the arrival picture, at most: the players fill only a part of it.

Source: guess
"""

JPEG_QUALITY: Final = 88
"""Quality of the arrival picture, of 100.

Source: common practice
"""

LOOK_STEP_S: Final = 0.1
"""Seconds between two pictures in which the defender's look is measured.

Source: guess
"""

LOOK_AROUND_S: Final = (-0.1, 1.0)
"""Seconds from arrival between which it is measured: the windows in which a stance is read.

Source: guess
"""

PICTURE_WITHIN_S: Final = 0.1
"""Seconds from arrival within which the picture of it may be taken: the body changes little.

Source: guess
"""

DRAWN_APART: Final = 0.1
"""Share of his height in the picture by which two models' readings of a landmark may differ and the
landmark still be drawn.

Source: guess (of the sample clips' knees and ankles 98 % are, and half of those 0.12 off are not)
"""
