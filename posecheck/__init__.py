"""posecheck: breakdown stance and closeout, measured from practice clips.

The public door. One clip, from film to verdict::

    import posecheck

    practice = posecheck.read_practice("sample_clips")
    clip = posecheck.open_clip("sample_clips/clips/rep-02.mp4")
    result = posecheck.measure(clip.path, practice)
    limits = posecheck.Thresholds(min_knee_bend_deg=50.0)
    for rep, verdict in zip(result.reps, posecheck.judge(result, practice, limits), strict=True):
        knee = rep.measures["knee_bend_deg"]
        print(f"rep {rep.number}: {verdict.call}, {verdict.headline}")
        print(f"knee bend {knee.value:.0f}° (90 % interval {knee.low:.0f} to {knee.high:.0f}°)")

Measuring needs the pose model, which ``posecheck model`` sets up once. Everything else is found in
the rooms, each named after its stage of the data flow; DEVELOPERS.md lists them. Nothing is loaded
before it is used.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    __version__: str
    from posecheck.judging.thresholds import DEFAULT_THRESHOLDS, Thresholds, read_thresholds
    from posecheck.judging.verdict import Call, Finding, Verdict
    from posecheck.measures.measure import Measure
    from posecheck.measures.result import ClipResult, RepResult
    from posecheck.pipeline.settings import Settings
    from posecheck.practice.practice import Practice
    from posecheck.video.clip import Clip

__all__ = [
    "DEFAULT_THRESHOLDS",
    "Call",
    "Clip",
    "ClipResult",
    "Finding",
    "Measure",
    "Practice",
    "RepResult",
    "Settings",
    "Thresholds",
    "Verdict",
    "__version__",
    "judge",
    "measure",
    "open_clip",
    "read_practice",
    "read_thresholds",
]

_HOMES = {
    "DEFAULT_THRESHOLDS": "judging.thresholds",
    "Call": "judging.verdict",
    "Clip": "video.clip",
    "ClipResult": "measures.result",
    "Finding": "judging.verdict",
    "Measure": "measures.measure",
    "Practice": "practice.practice",
    "RepResult": "measures.result",
    "Settings": "pipeline.settings",
    "Thresholds": "judging.thresholds",
    "Verdict": "judging.verdict",
    "read_thresholds": "judging.thresholds",
}
"""The rooms in which the values live that the door hands out."""


def read_practice(folder: Path | str) -> Practice:
    """Read a practice folder: plan, roster, layout, notes on clips.

    Raises:
        SettingsError: ``practice.toml`` or ``points.toml`` cannot be used; says which key.
    """
    from posecheck.practice.reading import read_practice

    return read_practice(Path(folder))


def open_clip(path: Path | str, slow_motion: float | None = None) -> Clip:
    """Open a clip: its size, its frames' times, and the frames one after another.

    Args:
        path: of the file.
        slow_motion: how many times slower than life it plays; None to believe what the file says.

    Raises:
        UnreadableClip: the file holds no film that can be decoded.
    """
    from posecheck.video.clip import open_clip

    return open_clip(Path(path), slow_motion)


def measure(
    path: Path | str, practice: Practice | None = None, settings: Settings | None = None
) -> ClipResult:
    """Measure every rep in a clip. For many clips ``posecheck check`` is faster and keeps them.

    Args:
        path: of the clip.
        practice: that it belongs to; by default nothing is known of field and players.
        settings: pose model and arrival distance, by default those of the commands.

    Raises:
        ClipError: the clip cannot be measured; says why.
        ModelError: the pose model is not set up.
    """
    from posecheck.pipeline.measure import measure_clip
    from posecheck.pipeline.settings import Settings
    from posecheck.pose.model_files import pose_model_path
    from posecheck.pose.open_readers import Readers
    from posecheck.practice.practice import Practice

    clip = Path(path)
    known = practice or Practice(clip.parent.resolve(), clip.parent.name)
    chosen = settings or Settings()
    with Readers(pose_model_path(chosen.model, chosen.models_folder, chosen.reader)) as reader:
        return measure_clip(clip, known, chosen, reader)


def judge(
    result: ClipResult, practice: Practice | None = None, thresholds: Thresholds | None = None
) -> tuple[Verdict, ...]:
    """Judge every rep of a measured clip, without looking at film again.

    Args:
        result: from :func:`measure`.
        practice: for plan, spot and strong hand; without it sides are not judged.
        thresholds: limits, by default those that come with posecheck.
    """
    from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
    from posecheck.pipeline.judge import judge_rep
    from posecheck.practice.practice import Practice

    folder = result.path.parent
    known = practice or Practice(folder.resolve(), folder.name)
    limits = thresholds or DEFAULT_THRESHOLDS
    return tuple(
        judge_rep(rep.measures, known, result.path, limits, rep.quality) for rep in result.reps
    )


def __getattr__(name: str) -> Any:
    if name == "__version__":
        return import_module("posecheck.files.version").installed_version()
    if name in _HOMES:
        return getattr(import_module(f"posecheck.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
