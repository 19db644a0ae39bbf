"""What checking a clip yields: the values that the record keeps and the pages show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from posecheck.filming.quality import NOT_GRADED, FilmQuality
from posecheck.maths.arrays import FloatArray, check_shapes
from posecheck.maths.units import Units
from posecheck.measures.figures import in_units
from posecheck.measures.measure import Measure
from posecheck.measures.tuning import ARRIVAL_VAGUE_S
from posecheck.printable import printable
from posecheck.reps.rep import Rep


@dataclass(frozen=True)
class Series:
    """The rep over time, for plots and pictures; NaN where not seen.

    Attributes:
        t_s: ``(n,)`` seconds of clip time, from start to end of the rep.
        knee_bend_deg: ``(n,)`` flexion of the straighter leg.
        trunk_lean_deg: ``(n,)``.
        speed_mps: ``(n,)`` ground speed of the defender's hips.
        defender_xy_m: ``(n, 2)``. On the field's axes when the ground is known from marked
            points, else on axes of the camera's own (x right, y away from the camera).
        attacker_xy_m: ``(n, 2)``.
        defender_xy_px: ``(n, 33, 2)`` the defender's landmarks as they are drawn in the picture,
            NaN where not seen or not believed.
        attacker_xy_px: ``(n, 33, 2)``.
    """

    t_s: FloatArray
    knee_bend_deg: FloatArray
    trunk_lean_deg: FloatArray
    speed_mps: FloatArray
    defender_xy_m: FloatArray
    attacker_xy_m: FloatArray
    defender_xy_px: FloatArray
    attacker_xy_px: FloatArray

    def __post_init__(self) -> None:
        n = "n"
        check_shapes(
            self,
            t_s=(n,),
            knee_bend_deg=(n,),
            trunk_lean_deg=(n,),
            speed_mps=(n,),
            defender_xy_m=(n, 2),
            attacker_xy_m=(n, 2),
            defender_xy_px=(n, 33, 2),
            attacker_xy_px=(n, 33, 2),
        )


@dataclass(frozen=True)
class RepResult:
    """One measured rep.

    Attributes:
        number: of the rep within its clip, from 1.
        rep: its moments.
        measures: by key, every quantity of ``measures.measure.QUANTITIES``.
        series: the rep over time.
        film: sentences on what cannot be read of the film, and on what the practice says of it but
            cannot be used; in records from before film was graded, on what limits it.
        roles: how the defender was recognised.
        scale: where metres come from ("6 marked points, fit to 4 cm" / "players' height").
        on_field: True when positions are on the field's axes.
        picture: the arrival frame as JPEG bytes, unmarked, at most 1920 px wide;
            ``picture_scale`` takes clip pixels to its pixels. None when arrival was not seen.
        picture_t_s: time of that frame.
        quality: how good the film of the rep is.
        arrival_within_s: half the 90 % interval of the moment of arrival; None when it was not
            seen, or its times are not those of life.
    """

    number: int
    rep: Rep
    measures: dict[str, Measure]
    series: Series
    film: tuple[str, ...]
    roles: str
    scale: str
    on_field: bool
    picture: bytes | None
    picture_scale: float
    picture_t_s: float | None
    quality: FilmQuality = NOT_GRADED
    arrival_within_s: float | None = None

    @property
    def said_of_arrival(self) -> str | None:
        """For the page, a sentence on a moment of arrival that is vague; None when it is not."""
        if self.arrival_within_s is None or self.arrival_within_s < ARRIVAL_VAGUE_S:
            return None
        return (
            f"The moment of arrival is good to {self.arrival_within_s:.1f} s only, because the "
            "film does not show his distance to the attacker any better."
        )


@dataclass(frozen=True)
class Provenance:
    """How numbers were made; travels to the foot of every page.

    Attributes:
        version: of posecheck.
        model: name of the pose model variant.
        model_digest: SHA-256 of its file.
        settings_digest: SHA-256 over everything that could change a measure.
    """

    version: str
    model: str
    model_digest: str
    settings_digest: str


@dataclass(frozen=True)
class ClipResult:
    """Everything measured in one clip.

    Attributes:
        path: where the clip was.
        clip_digest: SHA-256 of its content.
        width_px, height_px, n_frames, duration_s, rate_hz: of the film.
        reps: in order of time; may be empty when ``fault`` says why.
        fault: one sentence when nothing could be measured, else None.
        provenance: how it was made.
    """

    path: Path
    clip_digest: str
    width_px: int
    height_px: int
    n_frames: int
    duration_s: float
    rate_hz: float
    reps: tuple[RepResult, ...]
    fault: str | None
    provenance: Provenance

    def fault_in(self, units: Units) -> str:
        """The fault with its figures in ``units``, empty when there is none."""
        fault, name = self.fault or "", f"{printable(self.path.name)}: "
        if not fault.startswith(name):
            return in_units(fault, units)
        return name + in_units(fault.removeprefix(name), units)


def refused(results: Iterable[ClipResult]) -> dict[str, tuple[Path, ...]]:
    """What the practice says of its film and cannot be used, such as marks that do not fit.

    Returns:
        The clips by sentence, in the order met.
    """
    found: dict[str, dict[Path, None]] = {}
    for result in results:
        for rep in result.reps:
            for sentence in rep.film:
                found.setdefault(sentence, {})[result.path] = None
    return {sentence: tuple(clips) for sentence, clips in found.items()}
