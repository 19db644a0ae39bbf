"""Which films are scanned for reps, and what counts as the same stretch.

Apart from ``tuning.py``, because no figure depends on these: a change measures nothing again.
"""

from __future__ import annotations

from typing import Final

LONG_FILM_S: Final = 15.0
"""Seconds from which on a film is scanned for reps. One rep with the wait before it and the contact
after takes 4 to 8 s, and who films one rep at a time rarely begins more than 5 s early; two reps
hardly fit.

Source: guess
"""

SHORT_ENOUGH_S: Final = 60.0
"""Seconds up to which a film in which no run is found is measured as one clip after all: it may be
one rep filmed with much before it, or in slow motion that nobody stated, and measuring says so.

Source: guess
"""

SAME_TIMES_S: Final = 0.5
"""Seconds by which start and end of a stretch may differ from one scan to the next and still be
those it had before: another cut would be another clip, and what the coach said of it be lost.

Source: guess
"""
