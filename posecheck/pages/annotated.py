"""The clip of one rep with the body drawn on, and the arrival again in slow motion."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt

from posecheck.errors import UnreadableClip
from posecheck.files.whole_file import whole_file
from posecheck.filming.quality import Grade
from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.maths.timeline import in_window, nearest_frame
from posecheck.maths.tuning import ROUNDING_S
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


@dataclass(frozen=True)
class ClipTimes:
    """Where things lie in an annotated clip, in seconds of its own time, 0 at its first frame.

    Attributes:
        start_s: the defender leaves.
        arrival_s: he arrives, as it is shown at full speed; None when arrival was not seen.
        slow_from_s: the slow part begins; None when there is none.
        duration_s: of the whole clip.
        frame_times_s: of every frame, increasing.
        film_times_s: of the same frames, in seconds of the film: what the series of a rep and its
            plots go by. The slow part begins again at an earlier one.
    """

    start_s: float
    arrival_s: float | None
    slow_from_s: float | None
    duration_s: float
    frame_times_s: tuple[float, ...]
    film_times_s: tuple[float, ...]

    def clip_to_film(self, clip_s: float) -> float:
        """The film's time of the frame that the clip shows at a moment."""
        shown = bisect_right(self.frame_times_s, clip_s + ROUNDING_S) - 1
        return self.film_times_s[max(0, shown)]


def clip_frames(t_s: FloatArray, rep: RepResult) -> tuple[IntArray, IntArray]:
    """Numbers of the film's frames that the clip of a rep shows, and of those shown again slowly.

    Args:
        t_s: ``(n_frames,)`` the film's, seconds.
        rep: its moments.
    """
    shown: list[int] = []
    for number in np.flatnonzero(in_window(t_s, rep.rep.start_s - CLIP_LEAD_S, rep.rep.end_s)):
        if not shown or t_s[number] - t_s[shown[-1]] >= 0.9 / CLIP_MAX_RATE_HZ:
            shown.append(int(number))
    frames = np.array(shown, dtype=np.int64)
    return frames, frames[_about_arrival(t_s[frames], rep)]


def write_annotated_clip(
    clip: Clip, rep: RepResult, path: Path, see: Callable[[Frame], None] | None = None
) -> ClipTimes:
    """Write an MP4 of the rep that plays in any browser.

    From half a second before the start to the end of the rep, each frame at its own time, then
    the moments about arrival again, closer and at quarter speed. Cut to where the players
    are; H.264, at most 1280 px wide, even sides.
    The file appears only when complete.

    Args:
        clip: the film.
        rep: a rep of it.
        path: of the MP4.
        see: called with every frame from the first that is shown to the last, so that other
            pictures are drawn in the same pass over the film.

    Raises:
        UnreadableClip: the clip has changed or vanished, or has no frame within the rep.
        RecordError: the folder cannot be written to.
    """
    import av

    frames, again = clip_frames(clip.t_s, rep)
    points = np.concatenate([rep.series.defender_xy_px, rep.series.attacker_xy_px], axis=1)
    cut = cut_around(points.reshape(-1, 2), clip.width_px, clip.height_px, CLIP_MAX_WIDTH_PX)
    close = cut.closer(points[_about_arrival(rep.series.t_s, rep)].reshape(-1, 2))
    times_s = _times_shown(clip.t_s, frames, again)
    written = 0
    with whole_file(path) as part:
        with av.open(str(part), "w", format="mp4", options={"movflags": "faststart"}) as container:
            stream = container.add_stream("libx264", rate=30)
            stream.width, stream.height = cut.width_px, cut.height_px
            stream.pix_fmt = "yuv420p"
            stream.options = {"preset": "veryfast", "crf": "26"}
            stream.codec_context.time_base = TIME_BASE
            stream.codec_context.thread_count = 2
            pictures = _pictures(clip, rep, (frames, again), (cut, close), see)
            for t_s, picture in zip(times_s, pictures, strict=False):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts = round(t_s / TIME_BASE)
                frame.time_base = TIME_BASE
                container.mux(stream.encode(frame))
                written += 1
            if written < max(1, len(times_s)):
                raise UnreadableClip(
                    clip.path,
                    "no frame of the rep is left in it" if not written else "its end is gone",
                    "check the clip again",
                )
            container.mux(stream.encode(None))
        with av.open(str(part)) as container:
            duration_s = (container.duration or 0) / av.time_base
    first_s = float(clip.t_s[frames[0]])
    arrival_s = rep.rep.arrival_s
    return ClipTimes(
        start_s=rep.rep.start_s - first_s,
        arrival_s=None if arrival_s is None else arrival_s - first_s,
        slow_from_s=float(times_s[len(frames)]) if len(again) else None,
        duration_s=duration_s,
        frame_times_s=tuple(times_s.tolist()),
        film_times_s=tuple(clip.t_s[np.concatenate([frames, again])].tolist()),
    )


def _times_shown(t_s: FloatArray, frames: IntArray, again: IntArray) -> FloatArray:
    """Times in the clip, from 0: of the rep's frames, then of those shown again slowly."""
    shown = t_s[frames] - t_s[frames[:1]]
    if not len(again):
        return np.asarray(shown)
    begin = shown[-1] + 1.0 / CLIP_MAX_RATE_HZ
    return np.concatenate([shown, begin + SLOW_TIMES * (t_s[again] - t_s[again[0]])])


def _pictures(
    clip: Clip,
    rep: RepResult,
    numbers: tuple[IntArray, IntArray],
    cuts: tuple[Cut, Cut],
    see: Callable[[Frame], None] | None,
) -> Iterator[Picture]:
    """Painted frames: the rep, then its arrival closer."""
    (shown, again), (cut, close) = numbers, cuts
    which: BoolArray = np.zeros(clip.n_frames, dtype=bool)
    if see is None:
        which[shown] = True
    elif len(shown):
        which[shown[0] : shown[-1] + 1] = True
    # Only the slow part is kept, under a second of small pictures.
    slow: list[Picture] = []
    for frame in clip.frames(end_s=float(clip.t_s[shown[-1]]) if len(shown) else 0.0, which=which):
        if see is not None:
            see(frame)
        if frame.index in again:
            slow.append(_painted(frame, rep, close))
        if frame.index in shown:
            yield _painted(frame, rep, cut)
    for picture in slow:
        yield overlay.draw_tag(picture, f"slow, 1/{SLOW_TIMES} speed")


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
