"""Constants of finding players, following them and telling who is who, with their sources.

A *height* is a player's own height in the picture: lengths and speeds in heights depend neither on
the size of the picture nor on the distance from the camera. 1.75 m are one height, roughly.
"""

from __future__ import annotations

from typing import Final

import numpy as np

# -- searching for people in one frame -----------------------------------------------------------

TILE_SIDES: Final = (1.0, 0.6, 0.36)
"""Sides of the tiles of a sweep over the shorter side of the picture. In 111 pictures of rendered
film with other lenses, bodies and looks than the fit's, the person detector found 97 of 100 players
in a region whose side is 1.8 or 2.5 times their height, 78 at 4 times and 32 at 6 times; so each
size of tile finds those of a third of its side and more.

Source: guess
"""

EXPOSED_TILE_SIDE: Final = 0.6
"""The same for what a pan has brought into view.

Source: guess
"""

FINER_TILE_SIDE: Final = 0.45
"""The same for sweeps that search for smaller players.

Source: guess
"""

TILE_OVERLAP: Final = 0.25
"""Share of its side by which a tile overlaps the next: the width and most of the height of a player
who is only just tall enough for the tile.

Source: guess
"""

MIN_EXPOSED_SHARE: Final = 0.3
"""Share of a tile that a pan must have brought into view for another search of it: wider than a
player of the least height.

Source: guess
"""

EXPOSED_GRID: Final = 10
"""Points each way at which a tile is tested for having come into view.

Source: guess
"""

SMALLEST_REGION_SIDE: Final = 0.12
"""Side of the smallest region searched where something moved, over the shorter side of the picture.

Source: guess
"""

REGION_HALF_SIDE: Final = 0.9
"""Half the side of the region searched for a player, over the longer side of his box.

Source: guess
"""

MOTION_REGION_TIMES: Final = (1.0, 0.65, 1.5)
"""Sides of the regions searched where something moved, over the likeliest one's.

Source: guess
"""

OTHER_REGION_HEIGHTS: Final = 0.4
"""Heights by which the region searched a second time for a player who was missed is larger on every
side, or smaller when it was much larger at first.

Source: guess
"""

MOTION_REGION_HALF_WIDTH: Final = 0.55
"""Half the side of the region searched where something moved, over the width of the change, at
least: the change spans where the player was and where he is, and in too large a region the detector
misses him.

Source: guess
"""

MIN_PERSON_SCORE: Final = 0.5
"""Score of a person found, 0 to 1, at least.

Source: guess
"""

MIN_PERSON_HEIGHT: Final = 0.04
"""Height of a person found, over the shorter side of the picture, at least. Smaller players are not
measured anyway.

Source: guess
"""

ABOVE_EYES: Final = 0.09
"""From the highest landmark (eyes, ears) to the top of the head, over the landmarks' height. Eyes
are at 0.93 to 0.94 of standing height.

Source: guess
"""

BELOW_LANDMARKS: Final = 0.02
"""From the lowest landmark to the soles, over the landmarks' height.

Source: guess
"""

BESIDE_JOINTS: Final = 0.06
"""From the joints of hips and shoulders to the outline, over the landmarks' height.

Source: guess
"""

LEAST_BOX_WIDTH: Final = 0.35
"""Width of a player's box over its height, at least: in mid-stride, or seen from the side, the
landmarks alone make a player so narrow that his own hips may lie outside the box a moment later.

Source: guess
"""

TRUNK_PATCH_SHARE: Final = 0.35
"""Half the side of the patch whose colours are taken, over the extent of the trunk's landmarks.

Source: guess
"""

TRUNK_PATCH_LEAST: Final = 0.15
"""The same at least, over the trunk's height: the trunk of a player seen from the side has no width
between the landmarks.

Source: guess
"""

HUE_BINS: Final = 12
"""Bins of hue of a colour histogram.

Source: guess
"""

SATURATION_BINS: Final = 4
"""Bins of saturation of a colour histogram.

Source: guess
"""

VALUE_BINS: Final = 4
"""Bins of value of a colour histogram.

Source: guess
"""

HISTOGRAM_BLUR_BINS: Final = 0.6
"""Standard deviation in bins by which a histogram is smoothed, so that a small change of light is
not another colour.

Source: guess
"""

HISTOGRAM_FLOOR: Final = 1e-3
"""Pixels added to every bin of a histogram.

Source: guess
"""

PAINT_GREY: Final = 128
"""Grey level, of 255, with which people already found are painted out.

Source: guess
"""

PAINTED_INSET: Final = 6
"""One part in so many of a box's width is left unpainted on either side, which may be the other
player's.

Source: guess
"""

NEIGHBOUR_HEIGHTS: Final = 0.7
"""Heights: two players whose middles are nearer than this across and along the picture may occlude
each other.

Source: guess
"""

ALIKE_RATIO: Final = (0.6, 1.7)
"""Ratio of the heights of two boxes, between which they are alike enough for one region.

Source: guess
"""

# -- motion that no known player explains --------------------------------------------------------

MIN_CHANGE: Final = 18
"""Grey levels, of 255, by which a pixel must change: above noise and compression, below a player in
front of grass.

Source: guess
"""

JOINING_PX: Final = 15
"""Pixels of the small picture over which changes are joined: head, trunk and legs of one player
come apart, and so do where he was and where he is.

Source: guess
"""

MIN_MOVING_HEIGHT: Final = 0.06
"""Height of a change over the shorter side of the small picture, at least.

Source: guess
"""

# -- optical flow on players ---------------------------------------------------------------------

FLOW_TRUNK: Final = np.array([0.25, 0.08, 0.75, 0.6])
"""Left, top, right, bottom, as shares of a player's box, of the part that moves as he does: arms
and legs swing.

Source: guess
"""

MOST_FLOW_BOX: Final = 0.63
"""Width of a box over its height from which on it is an arm or the stick that makes it so wide, and
much of its middle is grass: the part followed is then no wider, and about the trunk.

Source: guess
"""

FLOW_POINTS: Final = 12
"""Points followed on one player, at most.

Source: guess
"""

MIN_FLOW_POINTS: Final = 4
"""Points that a player's motion is read from, at least.

Source: guess
"""

MAX_RETURN_PX: Final = 0.7
"""Pixels of the small picture: a point followed there and back must return this near to its place,
or it was another point.

Source: guess
"""

FLOW_WINDOW_PX: Final = (11, 11)
"""Width and height in pixels of the window that optical flow compares.

Source: guess
"""

FLOW_LEVELS: Final = 3
"""Pyramid levels of the optical flow above the picture itself.

Source: common practice
"""

FLOW_MARGIN_PX: Final = 24
"""Pixels around the players that are kept, so that the coarse levels of the flow have something to
match.

Source: guess
"""

FLOW_CORNER_QUALITY: Final = 0.05
"""Strength of a corner that is followed, over the strongest one's, at least.

Source: guess
"""

FLOW_CORNER_SPACING_PX: Final = 2
"""Pixels between two corners that are followed, at least.

Source: guess
"""

LEAST_RATIO: Final = 0.01
"""Ratio of a distance to what it was, at least, so that its logarithm is finite.

Source: definition
"""

MIN_GROWTH_PX: Final = 2.0
"""Pixels between two points whose distances a growth is read from, at least.

Source: guess
"""

# -- following one player ------------------------------------------------------------------------

WANDER: Final = np.array([2.5, 2.5, 0.3, 1.0])
"""Spectral density of the acceleration of centre x, centre y, width and height, heights^2/s^3. 2.5
lets a player's speed change by 0.9 heights/s (1.5 m/s) within 0.3 s, one standard deviation; hard
braking, about 7 m/s^2, is less than 1.5 of them.

Source: guess
"""

BOX_NOISE: Final = np.array([1.0, 1.0, 3.0, 1.0])
"""Error of centre x, centre y, width and height of a found box, over the error of its height: arms
and stride change the width three times a second.

Source: guess
"""

GROWTH_NOISE: Final = np.array([0.0, 0.0, 0.3, 0.0])
"""Heights/s by which centre x, centre y, width and height may change while the trunk's size does
not: one standard deviation.

Source: guess
"""

START_SPEED_SD: Final = np.array([2.5, 2.5, 0.5, 0.5])
"""Standard deviation of the speeds of centre x, centre y, width and height when a player is first
seen, heights/s: 2.5 is a run of 4.5 m/s.

Source: guess
"""

MOTION_GATE: Final = 9.0
"""Squared Mahalanobis distance beyond which a motion is somebody else's: three standard deviations.

Source: common practice
"""

KEPT_FRAMES: Final = 1200
"""Frames of a box filter kept before the older ones are smoothed for good.

Source: guess
"""

TAIL_FRAMES: Final = 480
"""Frames kept after that: two seconds at 240 a second, beyond which later frames change nothing.

Source: guess
"""

MIN_TRACK_S: Final = 0.4
"""Seconds of a track, at least.

Source: guess
"""

MIN_TIMES_FOUND: Final = 2
"""Times that a player must be found: a bush, a bag or a shadow rarely is twice.

Source: guess
"""

MAX_UNSEEN_S: Final = 1.0
"""Seconds: a player not found for longer, though searched for, has gone.

Source: guess
"""

MAX_DOUBTFUL_S: Final = 0.35
"""The same for one found only once.

Source: guess
"""

MAX_HIDDEN_S: Final = 2.0
"""The same for one whom another player may occlude, or whose colours are still there.

Source: guess
"""

MAX_UNREAD_S: Final = 1.0
"""Seconds for which a player's colours alone show that he is there, though no pose is read: four
searches.

Source: guess
"""

MAX_STOPPED_UNREAD_S: Final = 0.4
"""The same for one who ran when last found and whose pixels have come to rest: two searches.

Source: guess
"""

MOVING_SPEED: Final = 0.35
"""Heights/s: slower than this is shifting about on the spot.

Source: guess
"""

FOUND_SD: Final = 0.04
"""Standard deviation of a found box, as a share of its height: what arms and stride do to it.

Source: guess
"""

COLOURS_KNOWN_AFTER: Final = 3
"""Times that a player must be found before his colours decide who he is.

Source: guess
"""

MIN_OWN_COLOURS: Final = 0.7
"""Bhattacharyya coefficient of a player's colours with those of somebody found, below which it is
not he; from front to back and in and out of shadow one jersey stays above 0.8.

Source: guess
"""

NEW_COLOURS_SHARE: Final = 0.2
"""Share of the latest sighting in a player's colours: light and side change while he runs.

Source: guess
"""

FLOW_TRUSTED_S: Final = 0.3
"""Seconds for which flow is believed after a player was last found: it slips onto the background
when he has gone.

Source: guess
"""

REACH_HEIGHTS: Final = 0.5
"""Heights from where a player is expected within which somebody found may be he.

Source: guess
"""

MAX_EXTRA_REACH_HEIGHTS: Final = 2.0
"""Heights by which that reach grows at most with the uncertainty of his place.

Source: guess
"""

MAX_LOG_SCALE: Final = 0.6
"""Logarithm of the ratio of sizes beyond which somebody found is not he.

Source: guess
"""

FASTEST_HEIGHTS: Final = 3.5
"""Heights/s that a player runs at most, 6 m/s: so far may he have gone whom flow has lost.

Source: common practice
"""

LEAST_BOX_PX: Final = 2.0
"""Sides of a player's box in pixels, at least, for him to be read in it: sizes that are predicted
for long shrink to nothing.

Source: definition
"""

RAN_COST: Final = 6.0
"""Assignment cost of somebody found further off than expected, who may have run there: more than
anybody found where he is expected costs.

Source: guess
"""

COST_HEIGHTS: Final = 0.3
"""Heights of distance that add 1 to the assignment cost.

Source: guess
"""

COST_LOG_SCALE: Final = 0.25
"""Logarithm of the ratio of sizes that adds 1 to the assignment cost.

Source: guess
"""

COST_COLOURS: Final = 0.1
"""Loss of the Bhattacharyya coefficient of colours that adds 1 to the assignment cost.

Source: guess
"""

COST_LOST: Final = 0.5
"""Added to the assignment cost of a player who was lost before: 0.15 heights.

Source: guess
"""

# -- following everybody -------------------------------------------------------------------------

SMALL_PX: Final = 640
"""Pixels of the longer side of the small grey pictures that camera motion and flow are read from.

Source: guess
"""

KEY_STEP_S: Final = 0.3
"""Seconds between two searches for a moving player. Braking at 7 m/s^2 takes him 0.08 m off a
straight line drawn between the two, a twentieth of his height, and 0.3 m from where he was
expected, for which the region searched is large enough.

Source: guess
"""

READ_STEP_S: Final = 0.15
"""Seconds between two readings in place of a player who moves: in that time flow that has slipped
off him leaves him no further behind than a reading allows.

Source: guess
"""

FLOW_STEP_S: Final = 0.025
"""Seconds from one picture to the next between which flow is read, at least: every frame of
ordinary film, every other one at 60 a second. A sprint near the camera is too fast for twice that.

Source: guess
"""

STILL_STEP_S: Final = 1.0
"""Seconds between two searches for a standing player.

Source: guess
"""

SWEEP_STEP_S: Final = 6.0
"""Seconds between two sweeps of the whole picture for standing players nobody has found yet.

Source: guess
"""

FIRST_SWEEPS: Final = 4
"""Greatest number of sweeps in a row at the beginning of a clip, while fewer than two players are
known: the picture is divided in two ways by turns, and a small player is found in one of them only.

Source: guess
"""

NEXT_SWEEP_S: Final = 0.6
"""Seconds of clip time from one of these sweeps to the next.

Source: guess
"""

MIN_SAME_COLOURS: Final = 0.8
"""Bhattacharyya coefficient of the trunk's colours from which on it may be the same jersey.

Source: guess
"""

MIN_OTHER_THAN_BESIDE: Final = 0.03
"""By how much more than the pixels a box's width beside it a player's box must have his colours.

Source: guess
"""

SAME_BODY: Final = 0.6
"""Intersection over union of the boxes of two people found from which on they are one body: of two
players in contact less than half is shared.

Source: guess
"""

PART_WITHIN: Final = 0.8
"""Share of a box inside a larger one from which on it may be a part of the same body.

Source: guess
"""

PART_FEET_HEIGHTS: Final = 0.15
"""Heights of the smaller box between its lower edge and the larger one's, at most, for that. One
who is half as tall because he is twice as far away stands at least a quarter of his height further
up, filmed from half a metre above the ground.

Source: guess
"""

NEW_SHARES: Final = 0.4
"""Intersection over union of the boxes of somebody found and of a player already known up to which
he may be somebody new. One who is new is found by himself sooner or later; limbs of two players
read as one body share about half with either.

Source: guess
"""

BESIDE_HEIGHTS: Final = 0.5
"""Heights to either side of a known player around which others beside him are searched for.

Source: guess
"""

SHARED_BOX: Final = 0.5
"""Intersection over union of a missed player's box with that of somebody found from which on the
other hides him.

Source: guess
"""

MAX_MOTION_REGIONS: Final = 2
"""Places that moved searched in one frame, at most.

Source: guess
"""

VAIN_SEARCHES: Final = 3
"""Searches of a place that moved and showed nobody (a tree, a shadow) after which it is left alone
for a while; somebody entering the picture takes one or two to be found.

Source: guess
"""

VAIN_S: Final = 3.0
"""Seconds for which a search in vain counts.

Source: guess
"""

FLOW_SD_HEIGHTS: Final = 0.005
"""Standard deviation of a shift read by flow, heights: half a pixel of the small picture.

Source: guess
"""

KNOWN_MARGIN: Final = 0.2
"""Margin in heights around a known player within which motion is his: for the stick, the edge of
the shadow and a stride.

Source: guess
"""

# -- who is who ----------------------------------------------------------------------------------

RUN_SPEED: Final = 1.15
"""Heights/s over the middle of a run, at least: 2.0 m/s, where people change from walking to
running (2.07 m/s). A closeout of 4 to 6 m/s is 2 to 3 heights/s seen from the side and still above
this seen at a slant.

Source: published, Hreljac, 1993, preferred transition speed (from memory)
"""

MIN_CLOSING_HEIGHTS: Final = 1.1
"""Heights by which the runner must close on the player he runs at.

Source: guess
"""

NEAR_HEIGHTS: Final = 1.7
"""Heights between the two when the runner has arrived, at most: the reach of 1.8 m, and a stride.

Source: guess
"""

SETTLED_S: Final = 1.0
"""Seconds after he has come near within which a runner may come nearer still in the same run.

Source: guess
"""

MAX_SHIFT_HEIGHTS: Final = 1.2
"""Heights that a standing player may move about before the defender has arrived.

Source: guess
"""

MAX_SHIFT_SHARE: Final = 0.5
"""The same as a share of how far the runner moved.

Source: guess
"""

STANDING_S: Final = 0.5
"""Seconds for which a player who was found late must be seen standing.

Source: guess
"""

MIN_SEEN_SHARE: Final = 0.45
"""Share of a run in which the runner is seen, at least. Of those on rendered film that are runs all
but one in a hundred are seen for more than 0.6; a second body read in somebody's head and arms
hardly ever.

Source: guess
"""

MIN_LONE_RUN_HEIGHTS: Final = 3.0
"""Heights that a runner must cover when nobody is seen where he runs to.

Source: guess
"""

IN_PLACE_HEIGHTS: Final = 0.5
"""Heights within which a player is said to have stayed in place: a step.

Source: guess
"""

IN_PLACE_LOG_SIZE: Final = 0.7
"""Change of size (logarithm) of one who has stayed in place: sitting down halves it.

Source: guess
"""

SPEED_OVER_S: Final = 0.5
"""Seconds over which the speed of somebody who closes on nobody is read: a stride and more.

Source: guess
"""

RUN_MIDDLE: Final = (0.8, 0.2)
"""Shares of the distance still to close, between which the speed of a run is read.

Source: guess
"""

DEPTH_HEIGHTS: Final = 7.0
"""Heights from the camera to a player, at most, when a change of size is turned into a distance:
about 12 m. Only who moved and who was nearest is read from it.

Source: guess
"""

CROUCH_LOG_SIZE: Final = 0.25
"""Change of size (logarithm) that is put down to bending rather than to distance.

Source: guess
"""

# -- who is who, on a known ground ----------------------------------------------------------------

FEET_SD_HEIGHTS: Final = 0.04
"""Standard deviation of the bottom of a player's box from where he stands, over its height: strides
lift it, grass hides it. The same as of any found box.

Source: guess
"""

FEET_SD_LEAST_M: Final = 0.15
"""Metres: standard deviation of a place read from the bottom of a box, at least.

Source: guess
"""

FEET_SD_MOST_M: Final = 1.5
"""Metres: where places are less certain than this, in the median, roles are decided in the picture.

Source: guess
"""

RUN_MPS: Final = 2.0
"""Metres a second over the middle of a run, at least.

Source: published, Hreljac, 1993, preferred transition speed (from memory)
"""

MIN_CLOSING_M: Final = 2.0
"""Metres by which the runner must close on the player he runs at.

Source: guess
"""

NEAR_M: Final = 3.0
"""Metres between the two when the runner has arrived, at most: the reach of 1.8 m, and a stride.

Source: guess
"""

WITHIN_REACH_M: Final = 1.8
"""Metres between the two within which a closeout has arrived; nearer is no better.

Source: common practice
"""

MAX_SHIFT_M: Final = 2.0
"""Metres that a standing player may move about before the defender has arrived.

Source: guess
"""

MIN_LONE_RUN_M: Final = 5.0
"""Metres that a runner must cover when nobody is seen where he runs to.

Source: guess
"""

REACH_SD_M: Final = 0.5
"""Metres by which a closeout may end out of reach: one standard deviation.

Source: guess
"""

WAITING_SD_M: Final = 1.5
"""Metres that an attacker may wait from the place behind his cone: one standard deviation. The next
in line wait 5 yards further out.

Source: guess
"""

STARTING_SD_M: Final = 2.0
"""Metres that a defender may start from the inside cone: one standard deviation.

Source: guess
"""

FOUND_LATE_COST: Final = 4.0
"""Cost of a target nobody saw before the runner was there, who may be the runner found again:
somebody seen standing is taken instead when he is up to seven standard deviations off.

Source: guess
"""

POINTED_MARGIN: Final = 0.25
"""A place this far outside a player's box, in halves of it, still points him out: a box may lack a
foot, and a fingertip is broad.

Source: guess
"""
