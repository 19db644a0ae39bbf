"""Numbers of the pages that were chosen, each with where it comes from.

What is measured does not depend on any of them.
"""

from __future__ import annotations

from typing import Final

# -- pictures and clips ----------------------------------------------------------------------------

SHOT_PX: Final = 720
"""Width of the arrival picture.

Source: guess
"""

JPEG_QUALITY: Final = 75
"""Of the arrival pictures, on the JPEG library's scale to 100.

Source: common practice
"""

MAX_ENLARGEMENT: Final = 2.0
"""A player far away is enlarged up to this; beyond it the picture only gets soft.

Source: guess
"""

CUT_ASPECTS: Final = (1.25, 16 / 9)
"""Least and greatest width over height of a cut, as far as the picture allows.

Source: common practice
"""

CUT_MARGIN_SIDE: Final = 0.6
"""Margin left and right of the players, in heights of both together: holds the labels.

Source: guess
"""

CUT_MARGIN_TOP: Final = 0.4
"""The same above them: holds caption and figures.

Source: guess
"""

CUT_MARGIN_BOTTOM: Final = 0.15
"""The same below them.

Source: guess
"""

CUT_LEAST_PX: Final = 16.0
"""Players smaller than this in the picture get the margins of so tall ones.

Source: guess
"""

FOLLOW_BESIDE: Final = 0.45
"""Margin of an annotated clip left and right of the players, in heights of the taller: holds arms
and sticks.

Source: guess
"""

FOLLOW_ABOVE: Final = 0.4
"""The same above them: holds the head and the caption.

Source: guess
"""

FOLLOW_BELOW: Final = 0.35
"""The same below them: a player's controls lie over the foot of a film.

Source: guess
"""

FOLLOW_ASTRAY_S: Final = 0.12
"""The box about a player is the middle one of those within this time.

Source: guess
"""

FOLLOW_SMOOTH_S: Final = 0.35
"""Standard deviation of the bell curve over which the window's place and width are averaged.

Source: guess
"""

FOLLOW_OVER_S: Final = 0.6
"""The window is as wide as is wanted within this time: it does not breathe with a stride of 0.7 s.

Source: guess
"""

FILM_CRF: Final = 27
"""Constant rate factor of H.264: a rep of four seconds takes 1 to 2 MB.

Source: common practice
"""

STAR_FILM_PX: Final = (1280, 720)
"""Width and height of the film of starred reps.

Source: common practice
"""

CARD_S: Final = 3.0
"""How long a title card stands.

Source: guess
"""

CARD_LINE: Final = 34
"""Letters in the longest line of a title card's heading.

Source: guess
"""

KEY_FRAME_EVERY_S: Final = 0.5
"""An annotated clip has a key frame at least so often, so that going to a moment is quick.

Source: definition
"""

CLIP_LEAD_S: Final = 0.5
"""Shown before the defender leaves.

Source: guess
"""

CLIP_MAX_WIDTH_PX: Final = 1024
"""Width of an annotated clip at most.

Source: common practice
"""

LONGEST_STEM: Final = 120
"""Characters of a clip's name that names of files made of it keep: all systems take 255 bytes, and
rep, digest and ending are to fit as well.

Source: chosen, insensitive between 60 and 200
"""

CLIP_MAX_RATE_HZ: Final = 60.0
"""Frames closer than this are passed over: phones do not play 240 frames a second.

Source: common practice
"""

SLOW_WINDOW_S: Final = (-0.3, 0.5)
"""The moments about arrival that are shown again slowly.

Source: guess
"""

SLOW_TIMES: Final = 4
"""How many times slower.

Source: common practice
"""

CELLS_S: Final = (-0.4, -0.2, 0.0, 0.2, 0.45)
"""Moments of the five cells about arrival, seconds from it: two of the run, two of the breakdown.

Source: guess
"""

CELL_WITHIN_S: Final = 0.05
"""A cell may show the frame this far off in which most of the body is believed.

Source: guess
"""

CELL_PX: Final = (240, 320)
"""Width and height of a cell: sharp when five stand side by side on a phone or a page.

Source: guess
"""

ABOVE_FACE: Final = 0.1
"""From the highest landmark of a player, in his face, to the top of his helmet, in heights.

Source: guess
"""

CELL_FILLED: Final = 0.85
"""Share of a cell that the defender fills where he is largest.

Source: guess
"""

THUMB_PX: Final = (320, 200)
"""Width and height of a thumbnail.

Source: guess
"""

THUMB_FILLED: Final = 0.8
"""Share of a thumbnail that both players fill.

Source: guess
"""

STILL_QUALITY: Final = 78
"""Of cells and thumbnails, on the JPEG library's scale to 100: 10 to 20 kB each.

Source: common practice
"""

# -- which rep to compare with ---------------------------------------------------------------------

LIKE_VIEW_DEG: Final = 55.0
"""Two reps whose views differ by more than this are not compared: another side of the body is
seen.

Source: guess
"""

LIKE_SIZE: Final = 2.0
"""Nor are two when one player is this many times taller in the picture: one is sharp, one is not.

Source: guess
"""

WIDTH_PER_TRUNK: Final = 0.55
"""Mean of shoulder and hip width over the length of the trunk, of somebody seen from the front,
as the pose model sets its landmarks.

Source: guess
"""

# -- the practice's page ---------------------------------------------------------------------------

MOST_CARDS: Final = 5
"""So many reps to look at first; a coach looks at three.

Source: guess
"""

SAME_MOMENT_S: Final = 0.1
"""Cells of two reps stand in one column when they are this near in time from arrival.

Source: definition (a cell is at most half of that from the moment asked for)
"""

# -- plots -----------------------------------------------------------------------------------------

DOT_EVERY_S: Final = 0.2
"""Spacing in time of the dots along the path seen from above.

Source: guess
"""

CORNER_EVERY_S: Final = 0.1
"""Spacing in time of the corners of a path among many: a path has some twenty then.

Source: guess
"""

AROUND_M: Final = 4.0
"""A path counts for the size of the field as far as this from cones and goal: one that went astray
must not make all others small.

Source: guess
"""

NEAR_CONE_M: Final = 6.0
"""A cone further than this from every place of a rep is left out of its drawing, which it would
only make small.

Source: guess
"""

MOST_PX_PER_M: Final = 40.0
"""Scale of a drawing from above at most, so that players who hardly move are not spread out.

Source: guess
"""

KNEE_PLOT_TOP_DEG: Final = 100.0
"""Upper end of the plot of the knee bend.

Source: guess
"""

SPEED_PLOT_TOP_MPS: Final = 6.0
"""Upper end of the plot of speed at least.

Source: guess
"""

SPEED_PLOT_MARGIN: Final = 1.15
"""Upper end of that plot over the highest speed.

Source: guess
"""

MOMENT_S: Final = 0.05
"""Half the width of the error bar of what was read at one moment.

Source: guess
"""

MOST_FRAMES: Final = 700
"""More single frames than this are thinned out evenly; their means are of all.

Source: guess
"""

# -- a player's own file ---------------------------------------------------------------------------

GRID_ROWS: Final = 24
"""Of a blurred picture at most: of somebody right before the camera a face is three cells high.

Source: guess
"""

GRID_ROWS_OF_A_PLAYER: Final = 6
"""The same over the height of a player like the one shown: a head is one cell, a number less.

Source: guess
"""

TRUNK_HEIGHTS: Final = 0.07
"""How far around the corners of the trunk a player stays sharp, in his height.

Source: guess
"""

LIMB_HEIGHTS: Final = 0.06
"""The same around the middle of a limb.

Source: guess
"""

HEAD_HEIGHTS: Final = 0.115
"""The same around the middle of the face: holds a helmet.

Source: guess
"""

HAND_HEIGHTS: Final = 0.1
"""The same around a hand: holds a glove and a piece of the stick.

Source: guess
"""

LONGEST_LIMB_HEIGHTS: Final = 0.4
"""A thigh, shin or upper arm longer than this in the picture has a joint that jumped; the longest
is about a quarter of the height.

Source: published, D. A. Winter, Biomechanics of Human Movement, 4th ed., 2009 (from memory)
"""

FEATHER_HEIGHTS: Final = 0.02
"""Over so much of his height the sharp picture fades, inside his outline.

Source: guess
"""

OWN_CLIP_PX: Final = (480, 480)
"""Width and height of a clip in a player's file.

Source: guess
"""

OWN_WINDOW_HEIGHTS: Final = 2.1
"""Side of the piece of the picture that follows him, in his height.

Source: guess
"""

OWN_LEAD_HEIGHTS: Final = 0.45
"""How far at most he stands off the middle of that piece, away from the attacker, in his height:
whoever stands a good height off is in it then, and the reach at arrival is about one.

Source: guess
"""

OWN_WINDOW_LEAST_PX: Final = 160
"""Side of that piece at least: enlarged more than three times he would only get soft.

Source: guess
"""

OWN_WINDOW_S: Final = 0.4
"""Over so long to both sides the place of that piece is averaged, so that it glides.

Source: guess
"""

OWN_CLIP_RATE_HZ: Final = 30.0
"""Frames closer than this are passed over, away from arrival: the file stays small.

Source: guess
"""

HIMSELF_OVERLAP: Final = 0.4
"""Intersection over union from which a followed box and the box around a player's landmarks are of
the same person.

Source: guess
"""

OTHERS_MARGIN: Final = 0.08
"""Around somebody's landmarks, in his height: head, gloves and shoes reach beyond them.

Source: guess
"""

BRIDGED_S: Final = 0.2
"""A landmark not believed for so long at most is taken on the straight line between its
neighbours in time, for the outline that stays sharp: half a stride takes longer.

Source: guess
"""

POST_DASHES: Final = 6
"""Of the upright that stands for the attacker.

Source: definition
"""

MOST_PHRASES: Final = 3
"""In the sentence on a rep: more are not kept in mind.

Source: guess
"""

SMOOTHED_CELLS: Final = 1.3
"""Standard deviation of the smoothing over those cells, in cells.

Source: guess
"""

# -- the sheet for the clipboard -------------------------------------------------------------------

PLAN_PX_PER_M: Final = 9.0
"""Scale of the small field of the plan.

Source: guess
"""

PLAN_MARGIN_M: Final = 2.6
"""Around spots and crease: room for names.

Source: guess
"""

PLAN_ARROW_DEG: Final = 50.0
"""By how much the arrow of the plan turns off the line to the goal.

Source: guess
"""

PLAN_ARROW_M: Final = 4.0
"""Its length.

Source: guess
"""

PLAN_DEFENDER_M: Final = 2.2
"""How far from the attacker the defender is drawn: about the reach at arrival.

Source: guess
"""

# -- long films ------------------------------------------------------------------------------------

ROW_S: Final = 30.0
"""Seconds of a long film in one row of its strip: a rep is a finger wide on a phone.

Source: guess
"""

PICTURE_EVERY_S: Final = 5.0
"""Seconds from one picture of a strip to the next; a row holds a whole number of them.

Source: guess
"""

STRIP_PICTURE_PX: Final = (160, 90)
"""Width and height of each picture of a strip: 40 minutes come to some 2 MB.

Source: guess
"""

STRIP_QUALITY: Final = 60
"""JPEG quality of a strip.

Source: guess
"""

STRETCH_PICTURE_PX: Final = (320, 180)
"""Width and height at most of the picture of one stretch.

Source: guess
"""

NAMED_FROM_S: Final = 5.0
"""A stretch in a row that is shorter has its number alone written on it: there is no room for more
on a phone.

Source: guess
"""
