"""Constants of the prior of a phone and of following the background, with their sources."""

from __future__ import annotations

from typing import Final

# -- how a phone is held and what it sees --------------------------------------------------------

PHONE_FOCAL: Final = 0.78
"""Focal length over the longer side of the picture, median: 65 degrees across. The main cameras of
phones have 24 to 28 mm on 36 mm film, which is 0.67 to 0.78, and video shows a tenth or so less of
the scene than photographs.

Source: guess
"""

PHONE_FOCAL_LOG_SD: Final = 0.13
"""Standard deviation of its logarithm among main cameras: 24 to 28 mm, with and without the part of
the picture that stabilising cuts off.

Source: guess
"""

OTHER_FOCAL: Final = 1.2
"""Median focal length over the longer side when it is not the main camera at 1x: mostly zoomed in.

Source: guess
"""

OTHER_FOCAL_LOG_SD: Final = 0.65
"""Standard deviation of its logarithm: from an ultra-wide lens (0.5x, 0.39) to 5x (3.9), each
within two.

Source: guess
"""

OTHER_FOCAL_SHARE: Final = 0.6
"""Share of films that are not filmed by the main camera at 1x. Whoever stands behind a field zooms
in; nobody has counted.

Source: guess
"""

FOCAL_PER_35MM: Final = 0.030
"""Focal length over the longer side, for each millimetre of the focal length on film 36 mm wide.
That is measured along the diagonal (Apple's documentation of nominalFocalLengthIn35mmFilm), 43.3
mm, of a sensor of 4 to 3 whose diagonal is 1.25 times its longer side: 1.25 / 43.3 = 0.029; video
shows a little less of the scene than photographs.

Source: published, Apple, AVCaptureDevice.nominalFocalLengthIn35mmFilm (the last step is a guess)
"""

TAGGED_FOCAL_LOG_SD: Final = 0.08
"""Standard deviation of its logarithm when a film's own tag or a person gives that: stabilising
cuts off up to a sixth of the picture, and tags are whole millimetres.

Source: guess
"""

STATED_FOCAL_LOG_SD: Final = 0.10
"""The same when somebody states what the phone's screen showed, such as 2x: main cameras differ.

Source: guess
"""

STATED_WRONG_SHARE: Final = 0.05
"""Share of films whose stated or tagged lens was not the one in use: zoomed on, or a copied line.

Source: guess
"""

SURE_RANGE: Final = 0.3
"""Width of the range of a focal length, over itself, up to which the range is not written out.

Source: common practice
"""

CONTRADICTION_SDS: Final = 3.0
"""Standard deviations by which marked points and a stated or tagged lens may differ before that is
said.

Source: guess
"""

PHONE_ROLL_SD_DEG: Final = 2.5
"""Standard deviation in degrees of the roll about the line of sight: people notice a horizon that
is more crooked.

Source: guess
"""

PHONE_TILT_DEG: Final = 8.0
"""Degrees by which the camera looks down, median, when it films a field from a hand or a tripod.

Source: guess
"""

PHONE_TILT_SD_DEG: Final = 8.0
"""Standard deviation of the tilt in degrees.

Source: guess
"""

PHONE_HEIGHT_M: Final = 2.2
"""Metres of the lens over the ground, median: a little over head height, and sometimes a stand.

Source: guess
"""

PHONE_HEIGHT_LOG_SD: Final = 0.5
"""Standard deviation of its logarithm: 0.8 to 6 m lie within two.

Source: guess
"""

SEARCH_SDS: Final = 5.0
"""Standard deviations from the medians within which a camera is searched for: any focal length,
roll up to 12.5 degrees, tilt from 32 up to 48 down, heights of 0.2 to 27 m.

Source: guess
"""

ABSURD_SDS: Final = 6.0
"""Standard deviations from the median beyond which a height over the ground is an error of the
marks: below 0.1 m or above 44 m, from a phone on a bag to the top of a stand.

Source: guess
"""

FOCAL_STARTS: Final = (0.4, 0.57, 0.78, 1.05, 1.45, 2.0, 2.8, 3.9)
"""Focal lengths over the longer side from which a search starts: 103 to 15 degrees across, 0.5x to
5x, each four tenths longer than the one before.

Source: common practice
"""

TURNING_GRID: Final = 5
"""Rows and columns of points at which homographies are compared.

Source: common practice
"""

TURNING_SD_SHARE: Final = 0.0008
"""Standard deviation, as a share of the picture's longer side, of where a homography of the
background puts a point: half a pixel of the small picture in which it is followed.

Source: guess
"""

TURNING_SLIP: Final = 0.015
"""The same as a share of how far the picture has moved: a hand moves the camera as well as turning
it, rows are exposed one after the other, lenses bend.

Source: guess
"""

TURNING_FRAMES: Final = 30
"""Frames of a clip that are looked at, about.

Source: common practice
"""

TURNING_FARTHEST_SHARE: Final = 0.35
"""Share of the picture's longer side by which frames that are looked at have moved, at most.

Source: chosen, insensitive between 0.25 and 0.4
"""

TURNING_STEPS: Final = 5
"""Gauss-Newton steps to the turn and zoom of a frame; a turn of 40 degrees has converged by then.

Source: common practice
"""

LEAST_COSINE: Final = 0.05
"""Cosine of the angle off the line of sight, at least, while the turn of a frame is searched for.

Source: common practice
"""

TURNING_READINGS: Final = 2.0
"""Readings that all frames of a clip count as together: their errors are much the same.

Source: guess
"""

LEAST_STRAIGHTENING: Final = 0.2
"""Share of its distance from the middle, as seen, over the one without distortion, at least: no
lens of a phone bends more, and farther out the model means nothing.

Source: guess
"""

BEND_SD: Final = 0.015
"""Standard deviation of how far distortion moves a point at the edge of the picture's longer side,
as a share of its distance from the middle, before points were marked: film of a phone is
straightened.

Source: guess
"""

# -- following the background; pixels are those of the small grey picture, longer side 640 --------

STILL_PX: Final = 0.3
"""Pixels: a background point that moved less has not moved. Optical flow on compressed film wobbles
by about a tenth of a pixel.

Source: guess
"""

STILL_SHARE: Final = 0.7
"""The camera stands still when this share of the background's points has not moved. Under a real
pan all of them move; leaves, shadows and players not yet found move under a still camera.

Source: guess
"""

STILL_CORNER_PX: Final = 0.6
"""Pixels: a fitted homography that moves the picture's corners, where it is least certain, by less
than this is no motion.

Source: guess
"""

CELL_ROWS: Final = 4
"""Rows of cells over which the background's points are spread.

Source: guess
"""

CELL_COLUMNS: Final = 5
"""Columns of cells over which the background's points are spread.

Source: guess
"""

POINTS_PER_CELL: Final = 10
"""Background points in one cell, at most.

Source: guess
"""

FLOW_WINDOW_PX: Final = (15, 15)
"""Width and height in pixels of the window that optical flow compares.

Source: guess
"""

FLOW_LEVELS: Final = 3
"""Pyramid levels of the optical flow above the picture itself.

Source: common practice
"""

FLOW_STEPS: Final = 20
"""Iterations of the optical flow on each level, at most.

Source: common practice
"""

FLOW_STEP_PX: Final = 0.01
"""Pixels: an iteration of the optical flow that moves a point by less is the last.

Source: common practice
"""

POINTS_IN_A_GLANCE: Final = 50
"""Background points looked at to see whether the camera still stands still.

Source: guess
"""

MIN_FLOW_TEXTURE: Final = 1e-3
"""Smallest eigenvalue, over the window's pixels, of the brightness gradient that optical flow may
work on (``minEigThreshold`` of cv2.calcOpticalFlowPyrLK).

Source: guess
"""

MIN_CORNER: Final = 4e-4
"""Smaller eigenvalue of the brightness gradient (cv2.cornerMinEigenVal) at a background point, at
least: four times what noise of two grey levels makes on a blank wall.

Source: guess
"""

CORNER_QUALITY: Final = 0.05
"""The same over the strongest corner of its cell, at least.

Source: guess
"""

CORNER_SPACING_PX: Final = 8
"""Pixels between two background points, at least.

Source: guess
"""

MIN_POINTS: Final = 12
"""Fewest points that a motion is read from: three times what a homography needs.

Source: guess
"""

INLIER_PX: Final = 1.0
"""Pixels: a point agrees with a homography when its reprojection error is no larger.

Source: guess
"""

MIN_INLIER_SHARE: Final = 0.3
"""Share of the points in view that must agree for a frame to count as registered.

Source: guess
"""

MIN_SPREAD_SHARE: Final = 0.15
"""Share of the picture's area that agreeing points must span to determine the eight numbers of a
homography; points that span less determine a similarity.

Source: guess
"""

REPLACE_SHARE: Final = 0.5
"""A new key frame is taken when a smaller share of the old one's points agrees.

Source: guess
"""

MAX_ZOOM: Final = 1.15
"""A new key frame is taken when the picture is larger or smaller than the old one by this factor.

Source: guess
"""

MAX_KEYS: Final = 24
"""Key frames kept, at most: bounds the memory.

Source: guess
"""

KEYS_TRIED: Final = 2
"""Other key frames that a frame is registered to when the present one does not serve.

Source: guess
"""
