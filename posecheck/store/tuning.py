"""Constants of the record, with their sources."""

from __future__ import annotations

from typing import Final

PATIENCE_S: Final = 10.0
"""Seconds to wait for another program that is writing to the record.

Source: guess
"""
