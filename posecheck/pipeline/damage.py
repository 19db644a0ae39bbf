"""How much of a film cannot be read, in words."""

from __future__ import annotations

from posecheck.pipeline.tuning import MISSING_S


def damage(
    stated_s: float | None, lost_at_end_s: float, lost_within_s: float, breaks_off_s: float | None
) -> str | None:
    """What of a film is lost to damage, as part of a sentence; None when nothing is.

    Args:
        stated_s: how long it plays as the file says, None when it does not say.
        lost_at_end_s: how much of that is missing at its end.
        lost_within_s: how much cannot be read before its end.
        breaks_off_s: the moment at which it breaks off, None when it does not as far as is known.
    """
    lost = f"{lost_within_s:.2f} s within it cannot be read" if lost_within_s else ""
    end = ""
    if stated_s is not None and lost_at_end_s > MISSING_S:
        end = f"only the first {stated_s - lost_at_end_s:.1f} of its {stated_s:.1f} s can be read"
    elif breaks_off_s is not None:
        end = f"it breaks off after {breaks_off_s:.1f} s and its end is missing"
    lost = ", and ".join(filter(None, (end, lost)))
    return f"{lost}, the file is damaged" if lost else None


COPY_AGAIN = "copy it from the phone again"
"""What to do then."""
