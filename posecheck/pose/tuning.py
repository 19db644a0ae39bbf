"""Constants of setting up and running the pose model, with their sources."""

from __future__ import annotations

from typing import Final

FETCH_TIMEOUT_S: Final = 900
"""Seconds that a package tool may take to fetch one archive.

Source: guess
"""

CROP_MARGIN: Final = 0.25
"""Margin on every side of a player's box in the crop that is read, over the box's longer side: the
arms and the stick of a player who reaches out must stay inside.

Source: chosen, insensitive between 0.1 and 0.6
"""

CROP_SIDE_PX: Final = 320
"""Pixels of the side of a crop, at most; larger ones are shrunk. The landmark model sees 256 x 256
pixels of it.

Source: chosen, insensitive between 256 and 448
"""

HALVED_SIDE_PX: Final = 640
"""Pixels of the side of a crop from which on it is a multiple of four, so that it can be shrunk by
halves: twice what is left of the smallest.

Source: definition
"""

FINDING_SIDE_PX: Final = 512
"""The same for regions searched for people, where one person fills only a part.

Source: guess
"""

MAX_PEOPLE: Final = 5
"""People looked for in one region, at most.

Source: guess
"""

MIN_CONFIDENCE: Final = 0.5
"""Confidence, of 1, below which the model reports no person and no longer follows one: its own
default.

Source: common practice
"""

FRAME_STEP_MS: Final = 1_000_000
"""Milliseconds between two frames as stated to the model. It low-passes what it reads over about a
tenth of a second, which would delay fast movement; frames this far apart pass it unfiltered.

Source: guess
"""

ALONE_MARGIN: Final = 0.1
"""Margin around a player's box that is left visible when the rest of the picture is painted out,
over the box's sides.

Source: guess
"""

MIN_OWN_OVERLAP: Final = 0.3
"""Intersection over union of a body that was read with the player's box, at least, for the body to
be that player's.

Source: guess
"""

SAME_PERSON_OVERLAP: Final = 0.7
"""Intersection over union from which on two bodies are one person read twice.

Source: guess
"""

SAME_PERSON_TRUNKS: Final = 0.5
"""Distance between the trunks of two bodies, in lengths of the longer trunk, below which they are
one person read twice.

Source: guess
"""

DETECTOR_SIDE_PX: Final = 224
"""Pixels of the side of the picture that the detector sees.

Source: definition
"""

DETECTOR_STRIDES: Final = (8, 16, 32, 32, 32)
"""Pixels between the anchors of each of the detector's layers.

Source: definition
"""

SAME_DETECTION: Final = 0.5
"""Intersection over union above which two boxes of the detector are one person.

Source: definition
"""

LANDMARKS_SIDE_PX: Final = 256
"""Pixels of the side of the region that the landmark network sees.

Source: definition
"""

BOX_HIPS: Final = 0.49
"""Where the middle of the hips is in the box of a person, from its top, as a share of its height.
Of 108 people found in rendered film with other lenses, bodies and looks than the fit's the median
is 0.48, and nine in ten lie between 0.45 and 0.53.

Source: guess
"""

BOX_REGION: Final = 1.35
"""Side of a person's region over the longer side of his box. Of the same people the median is
1.32, and nine in ten lie between 1.24 and 1.47.

Source: guess
"""

BOX_ROOM: Final = 1.2
"""Sides of the box that the landmark network is pointed at, over those of the box that a player is
expected in. In a box that lacks his head it reads a body that is smaller still, and from reading to
reading the box would shrink to his legs; in one with some room he is read as he is.

Source: guess
"""

REGION_SCALE: Final = 1.25
"""Side of a region over the diameter of the circle around the person in it.

Source: definition
"""

HEATMAP_REACH: Final = 3
"""Rows and columns of the heatmap on every side of a landmark in which its heat is summed.

Source: definition
"""

MIN_HEAT: Final = 0.5
"""Highest heat around a landmark, of 1, below which it is left where it is.

Source: definition
"""

SAME_REGION: Final = 0.5
"""Intersection over union above which two regions are one person, where one person is followed.

Source: definition
"""

VISIBILITY_SHARE: Final = 0.1
"""Share of a new picture in the visibility of a landmark of a person who is followed.

Source: definition
"""
