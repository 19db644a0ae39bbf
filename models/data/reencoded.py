"""Sample clips encoded again in 33 ways and checked: does a verdict hang on the encoding?

The same reps in other sizes, codecs, rates, containers and shapes of pixels, as phones and programs
write them. A verdict may be lost to worse film; none may turn from clear to flagged or back.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from models.files import FOLDER, INTERVALS, digest
from posecheck.cli.demo import sample_practice_folder
from posecheck.errors import ClipError
from posecheck.files.names import PRACTICE_FILE
from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call
from posecheck.pipeline.fingerprint import measures_fingerprint
from posecheck.pipeline.judge import judge_rep
from posecheck.pipeline.measure_task import measure_clip, open_reader
from posecheck.pipeline.settings import Settings
from posecheck.practice.reading import read_practice
from posecheck.video.clip import open_clip

TABLE = FOLDER / "REENCODED.md"
CLIPS = ("rep-01", "rep-02", "rep-04")
"""Seen from the side and called clear, from the side and flagged, from the front and flagged."""

AS_FILMED = "as filmed"
_FULL_HD = (1920, 1080)
_CRF = {"crf": "20", "preset": "veryfast"}
_HEVC = {"crf": "26", "preset": "veryfast", "x265-params": "log-level=none"}
_VP9 = {"crf": "32", "b": "0", "deadline": "realtime", "cpu-used": "7"}


@dataclass(frozen=True)
class Kind:
    """One way of encoding a film.

    Attributes:
        ending: of the file, which decides the container.
        codec, pix_fmt, options: of the encoder.
        size: stored width and height, before a turn.
        rate_hz: frames a second, each the film's nearest; None for the film's own frames.
        turned_deg: clockwise turn that the file's tag asks for; the pixels are turned back.
        shape: width of a pixel over its height.
        off_start_s, off_end_s: seconds left out.
        uneven: a quarter of the frames is missing, and every one has its own time.
        full_range: brightness from 0 to 255 instead of 16 to 235.
    """

    ending: str = "mp4"
    codec: str = "libx264"
    pix_fmt: str = "yuv420p"
    options: Mapping[str, str] = field(default_factory=lambda: _CRF)
    size: tuple[int, int] = _FULL_HD
    rate_hz: int | None = None
    turned_deg: int = 0
    shape: Fraction = Fraction(1)
    off_start_s: float = 0.0
    off_end_s: float = 0.0
    uneven: bool = False
    full_range: bool = False


def _h264(**options: str) -> dict[str, str]:
    return _CRF | {name.replace("_", "-"): value for name, value in options.items()}


KINDS: dict[str, Kind] = {
    "720p": Kind(size=(1280, 720)),
    "540p": Kind(size=(960, 540)),
    "1440p": Kind(size=(2560, 1440)),
    "H.264, crf 16": Kind(options=_h264(crf="16")),
    "H.264, crf 28": Kind(options=_h264(crf="28")),
    "H.264, crf 34": Kind(options=_h264(crf="34")),
    "H.264, B-frames": Kind(options=_h264(bf="3", preset="medium")),
    "H.264, key frames only": Kind(options=_h264(g="1")),
    "H.264, 10 bits": Kind(pix_fmt="yuv420p10le"),
    "H.264, full range": Kind(pix_fmt="yuvj420p", full_range=True),
    "HEVC": Kind(
        codec="libx265",
        options={"crf": "26", "preset": "veryfast", "x265-params": "log-level=none"},
    ),
    "HEVC, 10 bits": Kind(
        codec="libx265",
        pix_fmt="yuv420p10le",
        options={"crf": "26", "preset": "veryfast", "x265-params": "log-level=none"},
    ),
    "MPEG-4 part 2": Kind(codec="mpeg4", options={"b": "6M"}),
    "MPEG-2 in TS": Kind("ts", "mpeg2video", options={"b": "12M", "bf": "2"}),
    "Motion JPEG in MOV": Kind(
        "mov", "mjpeg", "yuvj420p", {"qmin": "3", "qmax": "5"}, full_range=True
    ),
    "VP9 in WebM": Kind(
        "webm",
        "libvpx-vp9",
        options={"crf": "32", "b": "0", "deadline": "realtime", "cpu-used": "7"},
    ),
    "AV1": Kind(codec="libsvtav1", options={"crf": "32", "preset": "10"}),
    "H.264 in TS": Kind("ts", options=_h264(bf="2")),
    "H.264 in AVI": Kind("avi", options=_h264(bf="2")),
    "H.264 in MKV": Kind("mkv"),
    "15 a second": Kind(rate_hz=15),
    "24 a second": Kind(rate_hz=24),
    "25 a second": Kind(rate_hz=25),
    "50 a second": Kind(rate_hz=50),
    "60 a second": Kind(rate_hz=60),
    "uneven rate": Kind(uneven=True),
    "turned by 90": Kind(turned_deg=90),
    "turned by 180": Kind(turned_deg=180),
    "turned by 270": Kind(turned_deg=270),
    "pixels 4:3": Kind(size=(1440, 1080), shape=Fraction(4, 3)),
    "pixels 2:3": Kind(size=(1920, 720), shape=Fraction(2, 3)),
    "start trimmed": Kind(off_start_s=0.3),
    "end trimmed": Kind(off_end_s=0.3),
}


@dataclass(frozen=True)
class Outcome:
    """What was said of one encoding of a clip.

    Attributes:
        kind, clip: which.
        call: of the rep as a whole; "not measured" when there is none.
        headline: the reason given first, or why nothing was measured.
        calls: by rule.
        reasons: of the rules on which it says can't tell.
        figures: by measure, value, low and high end of its error bar; None where missing.
    """

    kind: str
    clip: str
    call: str
    headline: str
    calls: Mapping[str, str] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    figures: Mapping[str, Sequence[float] | None] = field(default_factory=dict)


NOT_MEASURED = "not measured"


def check_reencoded(
    kept: Path, workers: int, kinds: Sequence[str] = (), clips: Sequence[str] = ()
) -> list[Outcome]:
    """Encode, measure and judge what is not kept yet; can be stopped and goes on where it was.

    Args:
        kept: where outcomes are kept from run to run.
        workers: processes.
        kinds: of ``KINDS``; none for all.
        clips: names of sample clips; none for ``CLIPS``.

    Returns:
        Every outcome that is kept, of the clips as filmed first.

    Raises:
        ValueError: there is no such kind.
    """
    unknown = set(kinds) - KINDS.keys()
    if unknown:
        raise ValueError(f"no kind {', '.join(sorted(unknown))}; there are {', '.join(KINDS)}")
    # What is said of a rep depends on this code and these error bars.
    into = kept / f"reencoded-{measures_fingerprint()[:12]}-{digest(INTERVALS)[:12]}"
    into.mkdir(parents=True, exist_ok=True)
    wanted = [(kind, clip) for kind in (AS_FILMED, *(kinds or KINDS)) for clip in clips or CLIPS]
    todo = [each for each in wanted if not _file(into, *each).exists()]
    print(f"{len(wanted)} films, {len(todo)} to be checked", flush=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        jobs = {pool.submit(_check_into, into, *each): each for each in todo}
        for n, job in enumerate(as_completed(jobs), 1):
            print(f"{n} of {len(todo)}: {', '.join(jobs[job])}: {job.result()}", flush=True)
    every = [(kind, clip) for kind in (AS_FILMED, *KINDS) for clip in _names()]
    files = [_file(into, *each) for each in every]
    return [Outcome(**json.loads(file.read_text("utf-8"))) for file in files if file.exists()]


def _names() -> list[str]:
    return sorted(path.stem for path in (sample_practice_folder() / "clips").glob("*.mp4"))


def _file(into: Path, kind: str, clip: str) -> Path:
    safe = "".join(each if each.isalnum() else "-" for each in kind)
    return into / f"{safe}--{clip}.json"


def _check_into(into: Path, kind: str, clip: str) -> str:
    import cv2

    cv2.setNumThreads(1)
    file = _file(into, kind, clip)
    folder = file.with_suffix(".practice")
    film = _practice_with(folder, kind, clip)
    outcome = _checked(folder, film, kind, clip)
    scratch = file.with_suffix(".part")
    scratch.write_text(json.dumps(asdict(outcome)), "utf-8")
    scratch.replace(file)
    for each in (film, folder / PRACTICE_FILE):
        each.unlink()
    film.parent.rmdir()
    folder.rmdir()
    return outcome.call


def _practice_with(folder: Path, kind: str, clip: str) -> Path:
    """A practice like the sample's with one clip, encoded again; the clip's path."""
    samples = sample_practice_folder()
    source = samples / "clips" / f"{clip}.mp4"
    ending = "mp4" if kind == AS_FILMED else KINDS[kind].ending
    film = folder / "clips" / f"{clip}.{ending}"
    film.parent.mkdir(parents=True, exist_ok=True)
    said = (samples / PRACTICE_FILE).read_text("utf-8")
    said = said.replace(f'"clips/{clip}.mp4"', f'"clips/{film.name}"')
    (folder / PRACTICE_FILE).write_text(said, "utf-8")
    if kind == AS_FILMED:
        film.write_bytes(source.read_bytes())
    else:
        reencode(source, film, KINDS[kind])
    return film


def _checked(folder: Path, film: Path, kind: str, clip: str) -> Outcome:
    practice, settings = read_practice(folder), Settings()
    try:
        with open_reader(settings) as reader:
            result = measure_clip(film, practice, settings, reader)
    except ClipError as error:
        return Outcome(kind, clip, NOT_MEASURED, str(error))
    rep = result.reps[0]
    verdict = judge_rep(rep.measures, practice, film, Thresholds())
    return Outcome(
        kind,
        clip,
        str(verdict.call),
        verdict.headline,
        {each.rule: str(each.call) for each in verdict.findings},
        {each.rule: each.reason for each in verdict.findings if each.call is Call.CANT_TELL},
        {
            key: None if each.value is None else [each.value, each.low, each.high]  # type: ignore[list-item]
            for key, each in rep.measures.items()
        },
    )


# -- encoding ------------------------------------------------------------------------------------


def reencode(source: Path, path: Path, kind: Kind) -> None:
    """Write a film again in one of the ways."""
    import av

    rate = kind.rate_hz or 30
    base = Fraction(1, 90_000) if kind.uneven else Fraction(1, rate)
    with _usual_scheduling(), av.open(str(path), "w") as container:
        stream: Any = container.add_stream(kind.codec, rate=rate)
        turned = kind.turned_deg % 180
        stream.width, stream.height = kind.size[::-1] if turned else kind.size
        stream.pix_fmt, stream.options = kind.pix_fmt, dict(kind.options)
        stream.codec_context.time_base = base
        stream.codec_context.thread_count = 1
        if kind.shape != 1:
            stream.codec_context.sample_aspect_ratio = kind.shape
        if kind.full_range:
            stream.codec_context.color_range = 2
        if kind.turned_deg:
            # The tag is the counter-clockwise turn.
            stream.set_display_rotation(-kind.turned_deg)
        for number, (t_s, rgb) in enumerate(_pictures(source, kind)):
            frame = av.VideoFrame.from_ndarray(rgb, format="rgb24")
            ranges = {"dst_color_range": 2} if kind.full_range else {}
            frame = frame.reformat(
                stream.width, stream.height, kind.pix_fmt, interpolation="BICUBIC", **ranges
            )
            frame.pts = round(t_s / base) if kind.uneven else number
            frame.time_base = base
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


@contextmanager
def _usual_scheduling() -> Iterator[None]:
    """Undoes at its end what the AV1 encoder (libsvtav1) does where root runs it: it makes the
    thread that opens it real-time, and with it every thread and process begun from there, before
    which all others have to wait."""
    if not hasattr(os, "sched_getscheduler"):
        yield
        return
    policy, param = os.sched_getscheduler(0), os.sched_getparam(0)
    try:
        yield
    finally:
        os.sched_setscheduler(0, policy, param)


def _pictures(source: Path, kind: Kind) -> Iterator[tuple[float, Any]]:
    """The pictures to encode with their times, turned as they are to be stored."""
    clip = open_clip(source)
    t_s = clip.t_s
    end_s = float(t_s[-1]) - kind.off_end_s
    wanted = np.flatnonzero((t_s >= kind.off_start_s - 1e-6) & (t_s <= end_s + 1e-6))
    if kind.uneven:
        wanted = wanted[np.random.default_rng(0).random(len(wanted)) > 0.25]
    if kind.rate_hz is not None:
        moments = np.arange(0, end_s, 1 / kind.rate_hz)
        wanted = np.abs(t_s[None] - moments[:, None]).argmin(axis=1)
    times = np.bincount(wanted, minlength=len(t_s))
    first_s = float(t_s[wanted[0]])
    for frame in clip.frames(which=times > 0):
        rgb = np.ascontiguousarray(np.rot90(frame.rgb, k=kind.turned_deg // 90))
        for _ in range(times[frame.index]):
            yield frame.t_s - first_s, rgb


# -- what is said of it --------------------------------------------------------------------------


def table(outcomes: Sequence[Outcome]) -> str:
    """The outcomes beside those of the clips as filmed, as Markdown."""
    filmed = {each.clip: each for each in outcomes if each.kind == AS_FILMED}
    again = [each for each in outcomes if each.kind != AS_FILMED and each.clip in filmed]
    turned = [(each, rule) for each in again for rule in _turned(filmed[each.clip], each)]
    lost = [(each, filmed[each.clip]) for each in again if each.call != filmed[each.clip].call]
    lines = [
        "# Sample clips encoded again",
        "",
        f"{len(again)} films, {len({each.kind for each in again})} ways of encoding; made by "
        "`python -m models reencodes`. As filmed: "
        + ", ".join(f"{name} {each.call}" for name, each in filmed.items())
        + ".",
        "",
        f"Verdicts or rules that turn from clear to flagged or back: **{len(turned)}**."
        + "".join(f" {each.kind}, {each.clip}: {rule}." for each, rule in turned),
        "",
        f"Reps of which another call is made: {len(lost)}.",
        "",
        "| encoded as | clip | as filmed | now | rules decided, of those as filmed | why |",
        "|---|---|---|---|---|---|",
    ]
    for each in again:
        before = filmed[each.clip]
        decided = [rule for rule, call in before.calls.items() if call != Call.CANT_TELL]
        still = [rule for rule in decided if each.calls.get(rule) == before.calls[rule]]
        opened = [rule for rule in decided if each.calls.get(rule) == Call.CANT_TELL]
        why = "; ".join(f"{rule}: {each.reasons[rule]}" for rule in opened)
        why = each.headline if each.call == NOT_MEASURED else why
        lines.append(
            f"| {each.kind} | {each.clip} | {before.call} | {each.call} | {len(still)} of "
            f"{len(decided)} | {why.replace('|', '/')} |"
        )
    return "\n".join([*lines, ""])


def outside(outcomes: Sequence[Outcome]) -> dict[tuple[str, str], list[str]]:
    """By encoding and clip, the measures whose value lies outside the error bar of the clip as
    filmed."""
    filmed = {each.clip: each.figures for each in outcomes if each.kind == AS_FILMED}
    found: dict[tuple[str, str], list[str]] = {}
    for each in outcomes:
        before = filmed.get(each.clip, {})
        for key, figure in each.figures.items():
            bar = before.get(key)
            if figure is not None and bar is not None and not bar[1] <= figure[0] <= bar[2]:
                found.setdefault((each.kind, each.clip), []).append(key)
    return found


def _turned(before: Outcome, now: Outcome) -> list[str]:
    """Rules, and the rep as a whole, that turned from clear to flagged or back."""
    decided = {str(Call.CLEAR), str(Call.FLAGGED)}
    pairs = {"the rep": (before.call, now.call)} | {
        rule: (call, now.calls.get(rule, "")) for rule, call in before.calls.items()
    }
    return [name for name, pair in pairs.items() if set(pair) == decided]
