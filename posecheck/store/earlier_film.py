"""Names on record of clips whose film is nowhere and whose name another clip has now: what was
measured of them stays, under a name that no file has."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath

_EARLIER = re.compile(r".* \(earlier film [0-9a-f]{8}\)")


def earlier_name(file: str, clip_digest: str) -> str:
    """The name under which a clip stays on record.

    Args:
        file: its name before, POSIX form.
        clip_digest: SHA-256 of its content.
    """
    path = PurePosixPath(file)
    return str(path.with_name(f"{path.stem} (earlier film {clip_digest[:8]}){path.suffix}"))


def is_earlier(clip: Path) -> bool:
    """Whether a clip on record goes by such a name."""
    return _EARLIER.fullmatch(clip.stem) is not None
