"""Constants of cutting a clip into reps, with their sources."""

from __future__ import annotations

from typing import Final

REACH_M: Final = 1.8
"""Metres over the ground between defender and attacker at which he has arrived, unless the coach
sets another reach: about a stick's length.

Source: common practice
"""

RUN_MPS: Final = 1.2
"""Metres per second: faster than this, for a while, is a run rather than shifting the feet.

Source: guess
"""

STILL_MPS: Final = 0.5
"""Metres per second: slower than this is standing. A standing player shifts his feet, and estimates
are noisy.

Source: guess
"""

SUSTAINED_S: Final = 0.3
"""Seconds for which a run must last: about one stride.

Source: guess
"""

WALK_MPS: Final = 2.5
"""Metres per second: a movement that never gets faster is a walk or a jog back, not a rep.

Source: guess
"""

MIN_APPROACH_M: Final = 2.0
"""Metres by which a rep closes on the attacker, at least; less is footwork around him.

Source: guess
"""

HARDEST_START_MPS2: Final = 6.5
"""Metres per second squared that nobody who sets out exceeds for long: sprinters out of the blocks
do so at their hardest.

Source: published, di Prampero et al. 2005 (from memory)
"""

BRAKING_SHARE: Final = 0.95
"""Share of the peak speed: braking has begun once the speed has fallen below it for good.

Source: guess
"""

FAR_OUT_M: Final = 0.5
"""Metres within which a place counts as farthest from the attacker: allows for a start that leads
around something.

Source: guess
"""

AFTERMATH_S: Final = 1.0
"""Seconds after arrival that belong to the rep.

Source: guess
"""

BEFORE_ARRIVAL_S: Final = 0.1
"""Seconds before arrival at which the arrival window begins.

Source: guess
"""

AFTER_ARRIVAL_S: Final = 0.3
"""Seconds after arrival at which the arrival window ends.

Source: guess
"""

MAX_GAP_S: Final = 0.5
"""Seconds: when a player is out of sight for longer, his movement meanwhile is unknown.

Source: guess
"""

LOST_S: Final = 1.5
"""Seconds for which a runner may be out of sight and it is still one run, if he comes back where he
would be: half a run of ten metres.

Source: guess
"""

LOST_SHARE: Final = 0.2
"""How far from there he may come back, over the way to there. Had he been faster or slower between,
by a third say, he would be further off.

Source: guess
"""

SURELY_SDS: Final = 1.645
"""Standard deviations by which two players must be out of reach: then 19 in 20 are.

Source: common practice
"""

DRIFT_MPS: Final = 2.0
"""Metres a second by which a player may be faster while he is not seen than when he was: a walk.

Source: guess
"""

EXPECTED_WITHIN_S: Final = 0.8
"""Seconds after he was lost at a run within which a defender's arrival is expected: for so long he
goes on about as he was, even if he begins to brake.

Source: guess
"""

EXPECTED_OFF_S: Final = 0.4
"""Seconds by which an expected arrival may be off: who begins to brake out of sight is later, he
whose last places are blurred earlier.

Source: guess (rounded to tenths, eight of nine rendered clips are within)
"""

STOOD_M: Final = 0.5
"""Metres within which a player who was hidden is seen again where he was: he shifts his feet, and
places are noisy.

Source: guess
"""

STOOD_S: Final = 3.0
"""Seconds for which he may be hidden: who leaves his place, comes back and stands there again takes
longer.

Source: guess
"""

HIDES_M: Final = 0.6
"""Metres from the line of sight to a player within which another one who stands nearer hides most
of him: half the width of each, with arms and strides.

Source: guess
"""
