"""Lengths that people write and rule books use, in metres. Everything inside is in SI units."""

from __future__ import annotations

FOOT_M = 0.3048
"""Source: definition (international foot, 1959)."""
INCH_M = 0.0254
"""Source: definition (a twelfth of a foot)."""
YARD_M = 0.9144
"""Source: definition (three feet)."""
