"""Constants of the record, with their sources."""

from __future__ import annotations

from typing import Final

PATIENCE_S: Final = 10.0
"""Seconds to wait for another program that is writing to the record.

Source: guess
"""

SAME_REP: Final = 0.5
"""A rep measured again is the same one when both share more than this part of the time that either
takes. From a half upwards no two reps of a clip can both be the one.

Source: definition
"""
