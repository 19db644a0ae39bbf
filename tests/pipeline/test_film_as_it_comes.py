"""Sample clips as phones and broken copies make them, through everything from file to measures."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import pytest

from posecheck.filming.quality import Aspect, Grade
from posecheck.measures.result import RepResult
from posecheck.pipeline.measure_task import measure_clip, open_reader
from posecheck.pipeline.settings import Settings
from posecheck.practice.reading import read_practice

SAMPLES = Path(__file__).parents[2] / "sample_clips"
pytestmark = pytest.mark.film


@pytest.fixture(scope="module")
def reader() -> Iterator[Any]:
    with open_reader(Settings()) as opened:
        yield opened


def copied(source: Path, path: Path, times_slower: int = 1) -> Path:
    """A film's packets in a file whose index stands in front, to be shown so much more slowly."""
    path.parent.mkdir()
    with (
        av.open(str(source)) as read,
        av.open(str(path), "w", options={"movflags": "faststart"}) as out,
    ):
        stream = out.add_stream_from_template(read.streams.video[0])
        stream.time_base = read.streams.video[0].time_base
        for packet in read.demux(video=0):
            if packet.dts is not None and packet.pts is not None:
                packet.pts, packet.dts = times_slower * packet.pts, times_slower * packet.dts
                packet.stream = stream
                out.mux(packet)
    return path


def joined(sources: list[Path], path: Path) -> Path:
    """Films filmed alike, one after another in one file."""
    path.parent.mkdir()
    with av.open(str(path), "w") as out:
        stream, begins = None, 0
        for source in sources:
            with av.open(str(source)) as read:
                stream = stream or out.add_stream_from_template(read.streams.video[0])
                ends = begins
                for packet in read.demux(video=0):
                    if packet.dts is None or packet.pts is None:
                        continue
                    packet.pts, packet.dts = packet.pts + begins, packet.dts + begins
                    ends = max(ends, packet.pts + (packet.duration or 0))
                    packet.stream = stream
                    out.mux(packet)
                begins = ends
    return path


def measured(folder: Path, film: Path, reader: Any) -> RepResult:
    """The rep in a film, with the notes that the sample practice has on the clip of this name."""
    (folder / "practice.toml").write_bytes((SAMPLES / "practice.toml").read_bytes())
    (rep,) = measure_clip(film, read_practice(folder), Settings(), reader).reps
    return rep


def test_film_at_half_the_speed_of_life_is_not_judged(tmp_path: Path, reader: Any) -> None:
    film = copied(SAMPLES / "clips" / "rep-02.mp4", tmp_path / "clips" / "rep-02.mp4", 2)
    rep = measured(tmp_path, film, reader)
    assert {measure.value for measure in rep.measures.values()} == {None}
    because = {measure.missing_because for measure in rep.measures.values()}
    assert len(because) == 1
    assert because.pop().startswith("the film looks like slow motion: he takes 1.")
    worst = rep.quality.limits[0]
    assert (worst.aspect, worst.grade) == (Aspect.SPEED, Grade.TOO_POOR)
    assert "slow_motion = 2 by the look of it" in worst.fix


def test_damaged_film_says_how_much_is_missing(tmp_path: Path, reader: Any) -> None:
    film = copied(SAMPLES / "clips" / "rep-02.mp4", tmp_path / "clips" / "rep-02.mp4")
    data = bytearray(film.read_bytes())
    film.write_bytes(data[: int(0.85 * len(data))])
    rep = measured(tmp_path, film, reader)
    assert len(rep.film) == 1
    assert rep.film[0].startswith("Only the first ")
    assert rep.film[0].endswith("s can be read, the file is damaged; copy it from the phone again.")
    assert rep.measures["knee_bend_deg"].value is not None  # of what can be read


def test_two_reps_in_a_short_film_are_never_silently_one(tmp_path: Path, reader: Any) -> None:
    clips = [SAMPLES / "clips" / f"rep-0{number}.mp4" for number in (1, 2)]
    rep = measured(tmp_path, joined(clips, tmp_path / "clips" / "rep-15.mp4"), reader)
    (said,) = rep.film
    found = re.fullmatch(
        r"It shows more than is measured: only the run from (\d\.\d) s on is, not the run from "
        r"(\d\.\d) s on; cut it into a film for each\.",
        said,
    )
    assert found is not None
    assert sorted(map(float, found.groups())) == pytest.approx([0.5, 5.2], abs=0.3)


def test_pixels_of_another_shape_change_no_figure(tmp_path: Path, reader: Any) -> None:
    """1440 x 1080 with pixels of 4:3 is 1920 x 1080, and so are the figures."""
    source = SAMPLES / "clips" / "rep-02.mp4"
    as_filmed = measured(tmp_path, copied(source, tmp_path / "clips" / "rep-02.mp4"), reader)
    wide = tmp_path / "wide"
    (wide / "clips").mkdir(parents=True)
    film = stored_narrow(source, wide / "clips" / "rep-02.mp4")
    rep = measured(wide, film, reader)
    for key, before in as_filmed.measures.items():
        if before.value is not None:
            now = rep.measures[key].value
            assert now is not None, key
            assert before.low is not None and before.high is not None
            assert before.low <= now <= before.high, key


def stored_narrow(source: Path, path: Path) -> Path:
    """A film of 1920 x 1080 stored in 1440 x 1080."""
    with av.open(str(source)) as read, av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=read.streams.video[0].average_rate)
        stream.width, stream.height, stream.pix_fmt = 1440, 1080, "yuv420p"
        stream.options = {"crf": "18", "preset": "veryfast"}
        stream.codec_context.sample_aspect_ratio = Fraction(4, 3)
        stream.codec_context.time_base = read.streams.video[0].time_base
        for picture in read.decode(video=0):
            narrow = picture.reformat(1440, 1080, interpolation="BICUBIC")
            narrow.pts, narrow.time_base = picture.pts, picture.time_base
            narrow.pict_type = av.video.frame.PictureType.NONE
            out.mux(stream.encode(narrow))
        out.mux(stream.encode(None))
    return path
