"""The clip of one rep with the body drawn on, and the arrival again in slow motion."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.errors import UnreadableClip
from posecheck.files.whole_file import whole_file
from posecheck.filming.quality import Grade
from posecheck.maths.timeline import nearest_frame
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages import overlay
from posecheck.pages.cut import Cut, cut_around
from posecheck.pages.tuning import (
    CLIP_LEAD_S,
    CLIP_MAX_RATE_HZ,
    CLIP_MAX_WIDTH_PX,
    SLOW_TIMES,
    SLOW_WINDOW_S,
)
from posecheck.video.clip import Clip, Frame

TIME_BASE = Fraction(1, 90_000)
"""Of the times in an annotated clip, seconds.

Source: definition (the clock of MPEG)
"""

Picture = npt.NDArray[np.uint8]


def annotated_name(result: ClipResult, rep: RepResult) -> str:
    """File name of a rep's annotated clip: readable, unique, safe in any address."""
    stem = re.sub(r"[^A-Za-z0-9]+", "-", result.path.stem).strip("-") or "clip"
    return f"{stem}-{rep.number}-{result.clip_digest[:8]}.mp4"


def write_annotated_clip(clip: Clip, rep: RepResult, path: Path) -> None:
    """Write an MP4 of the rep that plays in any browser.

    From half a second before the start to the end of the rep, each frame at its own time, then
    the moments about arrival again, closer and at quarter speed. Cut to where the players
    are; H.264, at most 1280 px wide, even sides.
    The file appears only when complete.

    Raises:
        UnreadableClip: the clip has changed or vanished, or has no frame within the rep.
        RecordError: the folder cannot be written to.
    """
    import av

    points = np.concatenate([rep.series.defender_xy_px, rep.series.attacker_xy_px], axis=1)
    cut = cut_around(points.reshape(-1, 2), clip.width_px, clip.height_px, CLIP_MAX_WIDTH_PX)
    close = cut.closer(points[_about_arrival(rep.series.t_s, rep)].reshape(-1, 2))
    with (
        whole_file(path) as part,
        av.open(str(part), "w", format="mp4", options={"movflags": "faststart"}) as container,
    ):
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height = cut.width_px, cut.height_px
        stream.pix_fmt = "yuv420p"
        stream.options = {"preset": "veryfast", "crf": "26"}
        stream.codec_context.time_base = TIME_BASE
        stream.codec_context.thread_count = 2
        empty = True
        for t_s, picture in _pictures(clip, rep, cut, close):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts = round(t_s / TIME_BASE)
            frame.time_base = TIME_BASE
            container.mux(stream.encode(frame))
            empty = False
        if empty:
            raise UnreadableClip(
                clip.path, "no frame of the rep is left in it", "check the clip again"
            )
        container.mux(stream.encode(None))


def _pictures(clip: Clip, rep: RepResult, cut: Cut, close: Cut) -> Iterator[tuple[float, Picture]]:
    """Painted frames with their times from 0: the rep, then its arrival slowly and closer."""
    # Only the slow part is kept, under a second of small pictures.
    slow: list[tuple[float, Picture]] = []
    first: float | None = None
    last, step = -np.inf, 1.0 / CLIP_MAX_RATE_HZ
    for frame in clip.frames(rep.rep.start_s - CLIP_LEAD_S, rep.rep.end_s):
        if frame.t_s - last < 0.9 * step:
            continue
        first = frame.t_s if first is None else first
        last = frame.t_s
        yield frame.t_s - first, _painted(frame, rep, cut)
        if _about_arrival(frame.t_s, rep):
            slow.append((frame.t_s, _painted(frame, rep, close)))
    if first is None or not slow:
        return
    begin = last - first + step
    for t_s, picture in slow:
        at = begin + SLOW_TIMES * (t_s - slow[0][0])
        yield at, overlay.draw_tag(picture, f"slow, 1/{SLOW_TIMES} speed")


def _about_arrival(t_s: npt.NDArray[np.float64] | float, rep: RepResult) -> npt.NDArray[np.bool_]:
    """Whether moments belong to what is shown again slowly; none do without arrival."""
    if rep.rep.arrival_s is None:
        return np.zeros(np.shape(t_s), dtype=bool)
    about = np.asarray(t_s) - rep.rep.arrival_s
    return np.asarray((about >= SLOW_WINDOW_S[0]) & (about <= SLOW_WINDOW_S[1]))


def _painted(frame: Frame, rep: RepResult, cut: Cut) -> Picture:
    picture, t_s, series = cut.picture(frame.rgb), frame.t_s, rep.series
    caption = _clock(t_s, rep.rep.arrival_s)
    near = nearest_frame(series.t_s, t_s) if len(series.t_s) else None
    # Half a frame off is the same frame; further off the body was not measured (the lead-in).
    if near is None or abs(series.t_s[near] - t_s) > 0.51 * _spacing(series.t_s):
        return overlay.draw_caption(picture, caption)
    measured = rep.quality.grade is not Grade.TOO_POOR
    figures = overlay.Figures(
        knee=about(series.knee_bend_deg[near], 5, "°") if measured else "",
        trunk=about(series.trunk_lean_deg[near], 5, "°") if measured else "",
        speed=about(series.speed_mps[near], 0.5, " m/s") if measured else "",
    )
    defender = cut.points(series.defender_xy_px[near])
    attacker = cut.points(series.attacker_xy_px[near])
    return overlay.draw_moment(picture, defender, attacker, figures, caption)


def about(value: float, step: float, unit: str) -> str:
    """A single frame's reading, coarsely: it has no error bar of its own."""
    if not np.isfinite(value):
        return ""
    rounded = step * round(value / step)
    return f"~{rounded:.{0 if step >= 1 else 1}f}{unit}"


def _clock(t_s: float, arrival_s: float | None) -> str:
    if arrival_s is None:
        return ""
    left = arrival_s - t_s
    if abs(left) < 0.02:
        return "arrival"
    return f"arrives in {left:.1f} s" if left > 0 else f"{-left:.1f} s after arrival"


def _spacing(t_s: npt.NDArray[np.float64]) -> float:
    return float(np.median(np.diff(t_s))) if len(t_s) > 1 else 1 / 30
