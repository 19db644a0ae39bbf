"""Whether a transport stream breaks off: film as camcorders and television write it.

Such a file says nowhere how long it is, so that one copied in part looks like a shorter one. But it
consists of packets of one size, and a copy that breaks off rarely does so at the end of one.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

SYNC_BYTE: Final = 0x47
"""The first byte of each packet.

Source: published, ISO/IEC 13818-1, transport packet layer (from memory)
"""

FORMS: Final = ((188, 0), (192, 4), (204, 0))
"""Bytes of a packet and how many of them come before its first: plain, with a time before each (a
camcorder's), and with sixteen bytes of error correction after each.

Source: published, ISO/IEC 13818-1 (from memory)
"""

LOOKS_AT: Final = 4
"""Packets by which a form is known.

Source: guess
"""


def breaks_off(path: Path) -> bool:
    """Whether a film is a transport stream that ends in the midst of a packet."""
    with path.open("rb") as file:
        head = file.read(LOOKS_AT * max(size for size, _ in FORMS))
        n_bytes = file.seek(0, 2)
    for size, before in FORMS:
        if bytes(head[before::size][:LOOKS_AT]) == bytes([SYNC_BYTE]) * LOOKS_AT:
            return n_bytes % size != 0
    return False
