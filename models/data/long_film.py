"""One long film of a practice made from rendered reps, with pauses between, and its truth.

The camera stands somewhere for a rep or several: players wait, one runs at the other and stops,
they walk back. Then, by a hard cut, it stands elsewhere, or somebody does something else. Walking
back is the rep played backwards and slowly: it holds all that a rep holds, people, places, camera,
and is none.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.video.frame import VideoFrame

from models.data.film import Film, films
from posecheck.files.digest import facts_digest
from posecheck.files.whole_file import replacement
from posecheck.maths.timeline import nearest_frame

SIZE_PX = (1280, 720)
"""Width and height.

Source: common practice
"""

RATE_HZ = 30
"""Frames a second.

Source: common practice
"""

OPTIONS = {"preset": "veryfast", "crf": "23", "x264-params": "keyint=30:bframes=0"}
"""As phones film: a key frame every second, no frame that refers to a later one."""

REPS_IN_PLACE = (0.55, 0.25, 0.2)
"""How often the camera stands in one place for one, two or three reps.

Source: guess
"""

WAIT_S = (1.0, 6.0)
"""So long players wait before a rep.

Source: guess
"""

SLOWER = (2.2, 3.6)
"""Walking back is so many times slower than the run: 5 m/s become 1.4 to 2.3.

Source: guess
"""

FIELD_S = (2.0, 9.0)
"""So long the field lies still.

Source: guess
"""

PAUSE_SHARE = 0.7
"""After so many places there is a pause in which something else is seen.

Source: guess
"""


class What(StrEnum):
    """What a piece of the film shows."""

    WAIT = "players wait"
    REP = "rep"
    BACK = "players walk back"
    FIELD = "the field, nobody runs"
    OTHER = "somebody does something else"


@dataclass(frozen=True)
class Piece:
    """A piece of the long film.

    Attributes:
        what: it shows.
        path: of the clip that it is made of.
        frames: how many it has.
        from_frames: of the clip's beginning only so many are used, None for all.
    """

    what: What
    path: Path
    frames: int
    from_frames: int | None = None


@dataclass(frozen=True)
class TrueRep:
    """A rep of the long film.

    Attributes:
        clip: that it is rendered in.
        start_s, arrival_s, end_s: seconds of the long film; it ends where the clip does.
        hip_xy: the defender's mid-hip at arrival, shares of width and height.
        height: of the defender at arrival, share of the picture's height.
        seen_from_s: second of the film from which on, until arrival, his hips are in the picture;
            later than ``start_s`` where he is running already when he comes into view.
    """

    clip: str
    start_s: float
    arrival_s: float
    end_s: float
    hip_xy: tuple[float, float]
    height: float
    seen_from_s: float


@dataclass(frozen=True)
class LongFilm:
    """A long film and its truth.

    Attributes:
        path: of the film.
        duration_s: its length.
        reps: in order of time.
        camera_changes_s: moments at which the camera stands elsewhere.
        pieces: start in seconds, and what it shows, of every piece.
    """

    path: Path
    duration_s: float
    reps: tuple[TrueRep, ...]
    camera_changes_s: tuple[float, ...]
    pieces: tuple[tuple[float, str], ...] = field(repr=False)

    def during(self, time_s: float) -> str:
        """What the film shows at a moment."""
        return next((what for at, what in reversed(self.pieces) if at <= time_s), "")


def make_long_film(
    folders: Sequence[Path], others: Sequence[Path], into: Path, minutes: float, seed: int
) -> LongFilm:
    """Make the film, or what is still missing of it; the same bytes of pictures every time.

    Args:
        folders: of rendered clips with their truth. Those in which nobody arrives fill pauses.
        others: folders of other film for the pauses, real people for instance.
        into: the film goes into a folder of its own there, a practice to be checked, its truth
            beside it.
        minutes: how long it is at least.
        seed: of everything that is left to chance.

    Raises:
        ValueError: the folders hold no rep in a picture as wide as this film's.
    """
    places = _plan(folders, others, minutes, seed)
    path = into / f"long-{minutes:g}-{seed}" / "film.mp4"
    truth = _truth(path, places)
    if not path.exists():
        parts = [_part(into / "parts", place) for place in places]
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacement(path) as whole:
            _join(parts, whole)
    facts = asdict(truth) | {"path": path.name}
    (into / f"{path.parent.name}.json").write_text(json.dumps(facts, indent=1) + "\n", "utf-8")
    return truth


# -- what comes when -----------------------------------------------------------------------------


def _plan(
    folders: Sequence[Path], others: Sequence[Path], minutes: float, seed: int
) -> list[list[Piece]]:
    """Pieces by place of the camera, in order."""
    rng = np.random.default_rng(seed)
    known = [film for folder in folders for film in films(folder.resolve())]
    reps = [film for film in known if film.truth and _is_wide(film.path)]
    if not reps:
        raise ValueError(
            f"no wide clips of reps with their truth in {', '.join(map(str, folders))}"
        )
    rest = [film.path for film in known if not film.truth]
    rest += [path for folder in others for path in sorted(folder.resolve().glob("*.mp4"))]

    places: list[list[Piece]] = []
    deck: list[Film] = []
    while _frames(places) < minutes * 60 * RATE_HZ:
        if not deck:
            deck = [reps[at] for at in rng.permutation(len(reps))]
        film = deck.pop()
        times = int(rng.choice(len(REPS_IN_PLACE), p=REPS_IN_PLACE)) + 1
        places.append([piece for _ in range(times) for piece in _rep(film, rng)])
        if rng.random() < PAUSE_SHARE:
            places.append([_pause(rest, deck or reps, rng)])
    return places


def _rep(film: Film, rng: np.random.Generator) -> Iterator[Piece]:
    """Wait, run, and back."""
    n = len(film.arrays["t_s"])
    before = nearest_frame(film.arrays["t_s"].astype(float), film.truth["start_s"])
    yield Piece(What.WAIT, film.path, _drawn(WAIT_S, rng), before)
    yield Piece(What.REP, film.path, n)
    yield Piece(What.BACK, film.path, round(n * rng.uniform(*SLOWER)))


def _pause(rest: Sequence[Path], reps: Sequence[Film], rng: np.random.Generator) -> Piece:
    """Somebody does something else, or the field lies still for a while."""
    if rest and rng.random() < 0.5:
        path = rest[int(rng.integers(len(rest)))]
        return Piece(What.OTHER, path, round(_duration_s(path) * RATE_HZ))
    film = reps[int(rng.integers(len(reps)))]
    return Piece(What.FIELD, film.path, _drawn(FIELD_S, rng))


def _drawn(range_s: tuple[float, float], rng: np.random.Generator) -> int:
    return round(rng.uniform(*range_s) * RATE_HZ)


def _frames(places: Iterable[Iterable[Piece]]) -> int:
    return sum(piece.frames for place in places for piece in place)


def _truth(path: Path, places: Sequence[Sequence[Piece]]) -> LongFilm:
    reps, changes, pieces, at = [], [], [], 0
    for place in places:
        changes.append(at / RATE_HZ)
        for piece in place:
            pieces.append((round(at / RATE_HZ, 3), str(piece.what)))
            if piece.what is What.REP:
                reps.append(_true_rep(piece, at / RATE_HZ))
            at += piece.frames
    return LongFilm(path, at / RATE_HZ, tuple(reps), tuple(changes[1:]), tuple(pieces))


def _true_rep(piece: Piece, offset_s: float) -> TrueRep:
    from posecheck.scoring.truth import read_truth

    truth = read_truth(piece.path.parents[1], piece.path.stem)
    arrival_s = truth.facts["arrival_s"]
    frame = nearest_frame(truth.t_s, arrival_s)
    width, height = _size_px(piece.path)
    x, y = truth.hip_px[frame]
    outside = np.any((truth.hip_px < 0) | (truth.hip_px > (width, height)), axis=1)
    seen = int(np.flatnonzero(outside[:frame])[-1]) + 1 if outside[:frame].any() else 0
    return TrueRep(
        clip=piece.path.stem,
        start_s=round(offset_s + truth.facts["start_s"], 4),
        arrival_s=round(offset_s + arrival_s, 4),
        end_s=round(offset_s + piece.frames / RATE_HZ, 4),
        hip_xy=(round(float(x) / width, 4), round(float(y) / height, 4)),
        height=round(float(truth.height_px[frame]) / height, 4),
        seen_from_s=round(offset_s + float(truth.t_s[seen]), 4),
    )


# -- pictures ------------------------------------------------------------------------------------


def _part(folder: Path, place: Sequence[Piece]) -> Path:
    """The film of one place of the camera, made unless it is there."""
    facts = [asdict(piece) | {"path": str(piece.path)} for piece in place]
    name = facts_digest({"pieces": facts, "options": str(OPTIONS), "size": SIZE_PX})[:24]
    path = folder / f"{name}.mp4"
    if path.exists():
        return path
    folder.mkdir(parents=True, exist_ok=True)
    with replacement(path) as part, av.open(f"file:{part}", "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=RATE_HZ)
        stream.width, stream.height = SIZE_PX
        stream.pix_fmt = "yuv420p"
        stream.options = dict(OPTIONS)
        stream.codec_context.time_base = Fraction(1, RATE_HZ)
        for at, picture in enumerate(picture for piece in place for picture in _pictures(piece)):
            picture.pts, picture.time_base = at, Fraction(1, RATE_HZ)
            # Pictures of another film say what they were there.
            picture.pict_type = av.video.frame.PictureType.NONE
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    return path


def _pictures(piece: Piece) -> Iterator[VideoFrame]:
    """The pictures of a piece, in order."""
    own = _decoded(piece.path)
    at = np.arange(piece.frames)
    if piece.what is What.WAIT:
        # To and fro between the first picture and the last before he leaves.
        last = max((piece.from_frames or 1) - 1, 1)
        chosen = last - np.abs(at % (2 * last) - last)
        # So that the rep goes on from its first picture.
        chosen = chosen[::-1]
    elif piece.what is What.FIELD:
        own, chosen = [_still(own)], np.zeros_like(at)
    else:
        chosen = np.minimum(at * len(own) // piece.frames, len(own) - 1)
        if piece.what is What.BACK:
            chosen = len(own) - 1 - chosen
    for index in chosen:
        yield own[index]


def _decoded(path: Path) -> list[VideoFrame]:
    """Every picture of a clip, as wide and as high as the long film's, its middle cut out."""
    with av.open(f"file:{path}") as container:
        return [_fitted(frame) for frame in container.decode(video=0)]


def _fitted(frame: VideoFrame) -> VideoFrame:
    width, height = SIZE_PX
    if frame.width * height == frame.height * width:
        return frame.reformat(width, height, format="yuv420p")
    grown = max(width / frame.width, height / frame.height)
    wide, high = (round(side * grown / 2) * 2 for side in (frame.width, frame.height))
    rgb = np.asarray(frame.reformat(wide, high, format="rgb24").to_ndarray(), np.uint8)
    left, top = (wide - width) // 2, (high - height) // 2
    cut = np.ascontiguousarray(rgb[top : top + height, left : left + width])
    return VideoFrame.from_ndarray(cut, format="rgb24").reformat(format="yuv420p")


def _still(pictures: Sequence[VideoFrame]) -> VideoFrame:
    """What stays: whoever runs is in no place for long."""
    some = pictures[:: max(1, len(pictures) // 15)]
    planes = np.stack([np.asarray(each.to_ndarray(), np.uint8) for each in some])
    middle = np.asarray(np.median(planes, axis=0), np.uint8)
    return VideoFrame.from_ndarray(middle, format="yuv420p")


def _join(parts: Sequence[Path], whole: Path) -> None:
    """Put films of one encoder one behind the other."""
    with av.open(f"file:{whole}", "w", format="mp4") as out:
        with av.open(f"file:{parts[0]}") as first:
            stream = out.add_stream_from_template(first.streams.video[0])
        at = 0
        for part in parts:
            with av.open(f"file:{part}") as container:
                own = container.streams.video[0]
                step = round(1 / (RATE_HZ * float(own.time_base or 1)))
                for packet in container.demux(own):
                    if packet.pts is None:
                        continue
                    packet.pts = packet.dts = at
                    packet.duration = step
                    at += step
                    packet.stream = stream
                    out.mux(packet)


def _is_wide(path: Path) -> bool:
    width, height = _size_px(path)
    return width * SIZE_PX[1] == height * SIZE_PX[0]


def _size_px(path: Path) -> tuple[int, int]:
    with av.open(f"file:{path}") as container:
        own = container.streams.video[0]
        return own.width, own.height


def _duration_s(path: Path) -> float:
    with av.open(f"file:{path}") as container:
        return (container.duration or 0) / av.time_base
