"""Constants of finding known points in the picture, with their sources."""

from __future__ import annotations

from typing import Final

import numpy as np

# -- one picture of a clip -----------------------------------------------------------------------

MEDIAN_FRAMES: Final = 9
"""Frames of a clip, spread over it, whose median holds nobody who runs.

Source: guess
"""

LONGER_SIDE_PX: Final = 1920
"""Pixels of the longer side, at most. Larger film is shrunk: a cone is no better seen, and nine
frames of 4K are a lot of memory.

Source: guess
"""

MAX_BEYOND: Final = np.array([1.0, 0.25])
"""Widths and heights of the picture that a turning camera may add on each side.

Source: guess
"""

STRIP_PX: Final = 128
"""Rows worked on at a time, to keep memory low.

Source: guess
"""

LEAST_SCALE: Final = 1e-6
"""Homogeneous coordinate of a picture's corner, at least, when it is mapped to the first frame.

Source: guess
"""

WHOLE_PX: Final = 2
"""Pixels beyond the first frame up to which a camera counts as not having turned.

Source: guess
"""

# -- coloured blobs ------------------------------------------------------------------------------

MIN_CHROMA: Final = 40.0
"""Chroma of a cone in CIE Lab, at least: skin reaches 35, shadows and navy cloth about the same.

Source: guess
"""

MIN_FROM_GROUND: Final = 28.0
"""Distance of a cone's colour from the ground's in CIE Lab's a and b, at least; grass varies by
about 6.

Source: guess
"""

MAX_FROM_GROUND: Final = 18.0
"""Distance from the ground's colour in CIE Lab's a and b within which a pixel is ground.

Source: guess
"""

MIN_GROUND_AROUND: Final = 0.3
"""Share of the pixels around a cone's foot that must be ground.

Source: guess
"""

GROUND_PART: Final = 0.6
"""Lower part of the picture whose median colour is the ground's.

Source: guess
"""

MIN_WIDTH_PX: Final = 5
"""Pixels of a cone's width, at least: smaller blobs are specks.

Source: guess
"""

MAX_WIDTH: Final = 0.12
"""Width of a cone over the picture's width, at most.

Source: guess
"""

HEIGHT_OVER_WIDTH: Final = (0.2, 2.2)
"""Height of a cone over its width: from a flat disc to a tall cone.

Source: guess
"""

MIN_FILL: Final = 0.3
"""Share of its box that a cone fills, at least: a triangle fills half, a cord or a ring hardly any.

Source: guess
"""

MIN_POST_SLIMNESS: Final = 5.0
"""Height of a goal post over its width, at least.

Source: guess
"""

MIN_POST_PX: Final = 20
"""Pixels of a goal post's height, at least.

Source: guess
"""

WHOLE_FOOT_SD_PX: Final = 1.0
"""Standard deviation in pixels of the foot of a cone that is seen whole; film halves the resolution
of colour.

Source: guess
"""

CUT_FOOT_SD_PX: Final = 4.0
"""The same of a cone that the picture's edge cuts.

Source: guess
"""

POST_FOOT_SD_PX: Final = 1.5
"""The same of a goal post.

Source: guess
"""

MORE_FOOT_SD_PX: Final = 1.0
"""Pixels added to all of these.

Source: guess
"""

# -- cost of an assignment -----------------------------------------------------------------------

MAX_BLOBS: Final = 10
"""Blobs that are tried, at most: of more, only the widest.

Source: guess
"""

CONE_WIDTH_M: Final = 0.20
"""Metres of a cone's width, median: from a beaker to a traffic cone.

Source: common practice
"""

CONE_WIDTH_LOG_SD: Final = 0.5
"""Standard deviation of the logarithm of a cone's width.

Source: common practice
"""

SAME_WIDTH_LOG_SD: Final = 0.12
"""The same among the cones of one practice, without the error of pixels and edges.

Source: guess
"""

WIDTH_SD_PX: Final = 2.0
"""Standard deviation in pixels of a cone's width in the picture.

Source: guess
"""

POST_HEIGHT_LOG_SD: Final = 0.08
"""Standard deviation of the logarithm of a goal post's height in the picture.

Source: guess
"""

MISSING_COST: Final = 4.0
"""Cost of a cone that should be in the picture but is not: somebody occludes it, or it was not laid
out.

Source: guess
"""

UNEXPLAINED_COST: Final = 5.0
"""Cost of a blob that is no cone of the layout: by chance there are few of them anywhere, and
hardly ever one where a cone is expected.

Source: guess
"""

MIN_DEPTH_M: Final = 0.5
"""Metres in front of the camera from which on a cone should be in the picture.

Source: guess
"""

SHOWN_MARGIN: Final = 0.02
"""Margin around a cone that must be in the picture too for the cone to count as missing, over the
picture's width.

Source: guess
"""

# -- the search for assignments ------------------------------------------------------------------

MIN_ASSIGNED: Final = 4
"""Points that a camera is calibrated by, at least, as many as marks by hand.

Source: definition
"""

LEAST_HEIGHT_M: Final = 0.05
"""Metres of the camera over the ground, at least, when its logarithm is taken during the search.

Source: guess
"""

MAX_AWAY_M: Final = 60.0
"""Metres from the middle of the goal line to the camera, at most.

Source: guess
"""

MIN_TRIANGLE_M2: Final = 1.0
"""Square metres of twice the area of three points that a rough camera is fitted to, at least.

Source: guess
"""

MAX_WIDTH_RATIO: Final = 2.2
"""Ratio of the widest to the narrowest of three cones for a rough camera to be kept.

Source: guess
"""

ROUGH_NEAR: Final = 0.06
"""Distance over the picture's width within which a blob may be the cone that a rough camera expects
there.

Source: guess
"""

REFINED_NEAR_SDS: Final = 4.0
"""The same for a refined camera, in standard deviations.

Source: guess
"""

FIRST_STEPS: Final = 6
"""Gauss-Newton steps of the first two refinements.

Source: guess
"""

LAST_STEPS: Final = 10
"""Gauss-Newton steps of the last refinement.

Source: guess
"""

PARAMETER_SCALE: Final = np.array([0.1, 0.05, 0.05, 0.05, 0.5, 0.5, 0.5])
"""Typical size of a change of the camera's seven parameters.

Source: guess
"""

KEPT_ASSIGNMENTS: Final = 40
"""Assignments whose painted lines are examined, at most.

Source: guess
"""

# -- painted lines -------------------------------------------------------------------------------

LINE_WIDTH_M: Final = 0.05
"""Metres of a painted line's width: two inches, as creases are painted.

Source: published, NCAA Men's Lacrosse Rules, Rule 1, from memory
"""

LINE_STEP_PX: Final = 12.0
"""Pixels along a line between two samples; nearer ones would see the same grass.

Source: guess
"""

LINE_REACH_PX: Final = 5.0
"""Pixels, in a picture 1920 wide, within which a line may lie from where a fitted camera expects
it.

Source: guess
"""

LEAST_REACH_PX: Final = 2.0
"""The same at least, in smaller pictures.

Source: guess
"""

MIN_CONTRAST: Final = 7.0
"""Lightness of paint over the grass on both its sides, in CIE Lab's L, at least; single blades
reach 4.

Source: guess
"""

MIN_LINE_PX: Final = 0.6
"""Pixels of a line's width in the picture, at least: a narrower one is too faint to count, there or
not.

Source: guess
"""

HIT: Final = 1.0
"""Evidence of one sample that shows a bright ridge. Paint shows one in four samples of five, grass
in one of twelve; the logarithms of the ratios are 2.3 and -1.5, halved since neighbouring samples
are alike.

Source: guess
"""

MISS: Final = -0.7
"""Evidence of one sample that shows none.

Source: guess
"""

MOST_FOR_CREASE: Final = 14.0
"""Evidence of a crease, at most.

Source: guess
"""

MOST_AGAINST_CREASE: Final = -7.0
"""Evidence against a crease, at most. Less than for one, because practice is also held without
paint.

Source: guess
"""

MOST_FOR_FIELD: Final = 10.0
"""Evidence of the field's other lines, at most, which count only when they are there: fields
differ.

Source: guess
"""

MIN_SAMPLES: Final = 5
"""Samples of a line that count as evidence, at least.

Source: guess
"""

# -- when an assignment is trusted ---------------------------------------------------------------

CLEARLY: Final = 7.0
"""Logarithm by which the best assignment must be likelier than the next one: a thousandfold.

Source: guess
"""

THAN_CHANCE: Final = 14.0
"""Logarithm by which it must be likelier, beyond the number of possible assignments of as many
cones, than that the cones stand anywhere. Of some hundred drawn fields with cones at random the
luckiest reached 13.5.

Source: guess
"""

MAX_WORST_SDS: Final = 3.5
"""Standard deviations of the largest reprojection error, at most.

Source: guess
"""

MAX_MISSING: Final = 2
"""Cones that should be in the picture but are not, at most.

Source: guess
"""

SAME_GROUND_M: Final = 0.6
"""Metres: assignments that put the assigned points this near to one another on the ground are one
and the same.

Source: guess
"""

SPOT_UNSEEN_COST: Final = 5.0
"""Cost when the cone that the rep goes to is not in the picture: a clip of a rep shows it.

Source: guess
"""
