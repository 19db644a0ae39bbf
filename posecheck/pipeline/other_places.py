"""A short film that goes on from another place: two reps that were glued together, say.

Metres, steadiness and who is who are those of one place. The background of the first is lost at the
cut, and stays lost, which following everybody has noticed anyway.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from posecheck.camera.motion import CameraMotion
from posecheck.errors import SeveralPlaces
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import stretches
from posecheck.pipeline.tuning import ELSEWHERE_S, REP_ELSEWHERE_S


def refuse_other_places(
    path: Path, t_s: FloatArray, motion: CameraMotion, closeouts_s: Sequence[tuple[float, float]]
) -> None:
    """Refuse to measure a film as one clip when somebody runs out in a part from another place.

    What else is filmed there, such as the ground when the phone is lowered, does no harm.

    Args:
        path: the film.
        t_s: ``(n_frames,)`` seconds.
        motion: of the camera, over the same frames.
        closeouts_s: start and end of every run that ends at somebody who stands.

    Raises:
        SeveralPlaces: says from when on the film shows another place.
    """
    for from_s, to_s in _elsewhere(t_s, motion, ELSEWHERE_S):
        if any(from_s < arrives_s <= to_s for _, arrives_s in closeouts_s):
            raise SeveralPlaces(
                path,
                f"from {from_s:.1f} s on it is filmed from another place",
                "cut it there into a film for each place",
            )


def not_measured_elsewhere(t_s: FloatArray, motion: CameraMotion) -> str | None:
    """A sentence on a part from another place that is long enough for a rep, None without one.

    Where the phone moves there, a run is not seen without the background.

    Args:
        t_s: ``(n_frames,)`` seconds.
        motion: of the camera, over the same frames.
    """
    parts = _elsewhere(t_s, motion, REP_ELSEWHERE_S)
    if not parts:
        return None
    from_s, to_s = parts[0]
    return (
        f"From {from_s:.1f} to {to_s:.1f} s it shows another place, or none that can be followed, "
        "and nothing of that is measured; if there is a rep, cut it into a film of its own."
    )


def _elsewhere(t_s: FloatArray, motion: CameraMotion, least_s: float) -> list[tuple[float, float]]:
    """Start and end of each part, so long at least, that shows nothing of the place before."""
    parts = [
        (float(t_s[part[0]]), float(t_s[part[-1]])) for part in stretches(t_s, ~motion.tracked)
    ]
    return [(from_s, to_s) for from_s, to_s in parts if to_s - from_s >= least_s]
