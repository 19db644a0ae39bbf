"""The clip of one rep with the body drawn on, and the arrival again in slow motion."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile

import numpy as np
import numpy.typing as npt

from posecheck.errors import UnreadableClip
from posecheck.files.whole_file import whole_file
from posecheck.maths.arrays import BoolArray, FloatArray, IntArray
from posecheck.maths.timeline import in_window
from posecheck.maths.tuning import ROUNDING_S
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages import overlay
from posecheck.pages.bodies import bodies_at
from posecheck.pages.follow import Window, follow, whole_picture
from posecheck.pages.mp4 import duration_s, write_mp4
from posecheck.pages.tuning import (
    CLIP_LEAD_S,
    CLIP_MAX_RATE_HZ,
    LONGEST_STEM,
    SLOW_TIMES,
    SLOW_WINDOW_S,
)
from posecheck.video.clip import Clip, Frame
from posecheck.video.kept_frames import on_disk

Picture = npt.NDArray[np.uint8]


def annotated_name(result: ClipResult, rep: RepResult) -> str:
    """File name of a rep's annotated clip: readable, unique, safe in any address."""
    stem = re.sub(r"[^A-Za-z0-9]+", "-", result.path.stem).strip("-") or "clip"
    stem = stem[:LONGEST_STEM].rstrip("-")
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
    clip: Clip,
    rep: RepResult,
    path: Path,
    see: Callable[[Frame], None] | None = None,
    *,
    whole: bool = False,
) -> ClipTimes:
    """Write an MP4 of the rep that plays in any browser.

    From half a second before the start to the end of the rep, each frame at its own time, then
    the moments about arrival again, closer and at quarter speed. The picture follows the two
    players. H.264, at most 1280 px wide, even sides, a key frame every half second, its index in
    front. The file appears only when complete.

    Args:
        clip: the film.
        rep: a rep of it.
        path: of the MP4.
        see: called with every frame from the first that is shown to the last, so that other
            pictures are drawn in the same pass over the film.
        whole: show the whole picture instead of following the players.

    Raises:
        UnreadableClip: the clip has changed or vanished, or has no frame within the rep.
        RecordError: the folder cannot be written to.
    """
    frames, again = clip_frames(clip.t_s, rep)
    windows = _windows(clip, rep, frames, again, whole)
    times_s = _times_shown(clip.t_s, frames, again)
    pictures = _pictures(clip, rep, (frames, again), windows, see)
    if not len(frames):
        raise UnreadableClip(clip.path, "no frame of the rep is left in it", "check the clip again")
    with whole_file(path) as part:
        timed = zip(times_s.tolist(), pictures, strict=False)
        if write_mp4(part, windows[0].size_px, timed) < len(times_s):
            raise UnreadableClip(clip.path, "its end is gone", "check the clip again")
        clip_s = duration_s(part)
    first_s = float(clip.t_s[frames[0]])
    arrival_s = rep.rep.arrival_s
    return ClipTimes(
        start_s=rep.rep.start_s - first_s,
        arrival_s=None if arrival_s is None else arrival_s - first_s,
        slow_from_s=float(times_s[len(frames)]) if len(again) else None,
        duration_s=clip_s,
        frame_times_s=tuple(times_s.tolist()),
        film_times_s=tuple(clip.t_s[np.concatenate([frames, again])].tolist()),
    )


def _windows(
    clip: Clip, rep: RepResult, frames: IntArray, again: IntArray, whole: bool
) -> list[Window]:
    """What is shown of each frame, those shown again last; all of one size."""
    size_px = clip.width_px, clip.height_px
    if whole:
        return whole_picture(len(frames) + len(again), size_px)

    def players(numbers: IntArray) -> list[FloatArray]:
        found = [bodies_at(rep.series, clip.t_s[number]) for number in numbers]
        return [np.array([each[who] for each in found]).reshape(-1, 33, 2) for who in range(2)]

    first = follow(clip.t_s[frames], players(frames), size_px)
    if not len(again):
        return first
    shown_px = first[0].size_px  # a film has one size
    return [*first, *follow(clip.t_s[again], players(again), size_px, shown_px, steady=True)]


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
    windows: Sequence[Window],
    see: Callable[[Frame], None] | None,
) -> Iterator[Picture]:
    """Painted frames: the rep, then its arrival again."""
    shown, again = numbers
    which: BoolArray = np.zeros(clip.n_frames, dtype=bool)
    if see is None:
        which[shown] = True
    elif len(shown):
        which[shown[0] : shown[-1] + 1] = True
    window = dict(zip(shown.tolist(), windows, strict=False))
    slow_window = dict(zip(again.tolist(), windows[len(shown) :], strict=True))
    # The slow part waits on disk: of film at 60 frames a second it would be 130 MB.
    with TemporaryFile(dir=on_disk()) as slow:
        for frame in clip.frames(
            end_s=float(clip.t_s[shown[-1]]) if len(shown) else 0.0, which=which
        ):
            if see is not None:
                see(frame)
            if frame.index in slow_window:
                speed = f"1/{SLOW_TIMES} speed"
                np.save(slow, _painted(frame, rep, slow_window[frame.index], speed))
            if frame.index in window:
                yield _painted(frame, rep, window[frame.index])
        slow.seek(0)
        for _ in slow_window:
            yield np.load(slow)


def _about_arrival(t_s: npt.NDArray[np.float64] | float, rep: RepResult) -> npt.NDArray[np.bool_]:
    """Whether moments belong to what is shown again slowly; none do without arrival."""
    if rep.rep.arrival_s is None:
        return np.zeros(np.shape(t_s), dtype=bool)
    about = np.asarray(t_s) - rep.rep.arrival_s
    return np.asarray((about >= SLOW_WINDOW_S[0]) & (about <= SLOW_WINDOW_S[1]))


def _painted(frame: Frame, rep: RepResult, window: Window, speed: str = "") -> Picture:
    """Both bodies and the clock. Figures stand beside the film, where its plots are."""
    picture = window.picture(frame.rgb)
    defender, attacker = bodies_at(rep.series, frame.t_s)
    picture = overlay.draw_body(picture, window.points(attacker), overlay.ATTACKER)
    picture = overlay.draw_body(picture, window.points(defender))
    return overlay.draw_caption(picture, _clock(frame.t_s, rep.rep.arrival_s), speed)


def _clock(t_s: float, arrival_s: float | None) -> str:
    if arrival_s is None:
        return ""
    left = arrival_s - t_s
    if abs(left) < 0.05:  # else it would read "0.0 s"
        return "arrival"
    return f"arrives in {left:.1f} s" if left > 0 else f"{-left:.1f} s after arrival"
