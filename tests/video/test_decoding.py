"""Films that are damaged, or whose times are out of order, and containers of every kind."""

from __future__ import annotations

import errno
import io
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from films import spoil, write_film

import posecheck.video.clip as module
from posecheck.errors import UnreadableClip
from posecheck.video import kept_frames
from posecheck.video.as_stored import NotAsStored
from posecheck.video.clip import Clip, open_clip
from posecheck.video.frame_times import frame_times
from posecheck.video.kept_frames import KeptFrames
from posecheck.video.opening import use_clip
from posecheck.video.stream_copy import copy_part

GREY_OF = 4
"""By how much each picture of a film is lighter than the one before (films.marked_picture)."""


def greys(clip: Clip) -> np.ndarray:
    """Which picture each frame shows, as its lightness says."""
    seen = [frame.rgb[10, -10, 1].astype(float) for frame in clip.frames()]
    return np.round((np.array(seen) - 40) / GREY_OF)


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("a.ts", "libx264", {"bf": "2"}),
        ("a.m2ts", "libx264", {"bf": "2"}),
        ("a.mts", "libx264", {}),
        ("a.mpg", "mpeg2video", {"bf": "2", "b": "2M"}),
        ("a.avi", "libx264", {"bf": "3"}),
        ("a.avi", "mpeg4", {"bf": "2", "b": "2M"}),
        ("a.mov", "mjpeg", {}),
        ("a.mkv", "libx265", {"x265-params": "log-level=none"}),
        ("a.webm", "libvpx-vp9", {"deadline": "realtime"}),
        ("a.3gp", "libx264", {}),
        ("a.wmv", "wmv2", {"b": "2M"}),
        ("a.flv", "libx264", {}),
    ],
)
def test_every_container(tmp_path: Path, name: str, codec: str, options: dict[str, str]) -> None:
    path = write_regular(tmp_path / name, codec, options)
    clip = open_clip(path)
    assert clip.n_frames == 40
    assert clip.t_s == pytest.approx(np.arange(40) / 25, abs=0.002)
    assert greys(clip) == pytest.approx(np.arange(40), abs=1)
    assert clip.lost_within_s == 0
    assert clip.lost_at_end_s == 0


def write_regular(path: Path, codec: str, options: dict[str, str]) -> Path:
    """40 pictures at 25 a second, in a container that may know of no other times."""
    from films import marked_picture

    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=25)
        stream.width, stream.height = 128, 96
        stream.pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
        stream.options = options
        for index in range(40):
            frame = av.VideoFrame.from_ndarray(marked_picture(index, 128, 96), format="rgb24")
            frame.pts = index
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


# -- times ---------------------------------------------------------------------------------------


def test_a_time_said_twice_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = _clip_with_times(tmp_path, monkeypatch, [0, *range(0, 1000, 40)])
    assert clip.t_s == pytest.approx(np.arange(0, 1, 0.04))
    assert [frame.t_s for frame in clip.frames()] == list(clip.t_s)
    assert greys(clip) == pytest.approx([0, *range(2, 26)], abs=0.5)
    assert list(clip.t_s[clip.n_frames - 1 :]) == [frame.t_s for frame in clip.frames(start_s=0.95)]


def test_times_in_the_order_of_decoding_are_sorted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each picture shown carries the time of the one stored at its place."""
    stored = [0, *(40 * (3 * group + of) for group in range(8) for of in (2, 3, 1))]
    clip = _clip_with_times(tmp_path, monkeypatch, stored)
    assert clip.t_s == pytest.approx(np.arange(25) * 0.04)
    assert greys(clip) == pytest.approx(np.arange(25), abs=0.5)


def test_times_that_run_backwards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(UnreadableClip) as caught:
        _clip_with_times(tmp_path, monkeypatch, [*range(0, 800, 40), *range(20, 800, 40)])
    assert str(caught.value) == (
        "a.mp4: its frame times run backwards; export it again as an ordinary MP4."
    )


def _clip_with_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, times_ms: list[int]) -> Clip:
    """A clip whose decoder gives these times, which no writer would accept."""
    write_film(tmp_path / "a.mp4", range(0, 40 * len(times_ms), 40))
    decode = module.pictures

    def retimed(container: object) -> object:
        for (picture, lost), time_ms in zip(decode(container), times_ms, strict=True):
            picture.pts = round(time_ms / 1000 / picture.time_base)
            yield picture, lost

    monkeypatch.setattr(module, "pictures", retimed)
    return open_clip(tmp_path / "a.mp4")


def test_frames_without_a_time_are_few_or_the_film_is_refused() -> None:
    few = frame_times([0.0, None, *np.arange(1, 40.0)])
    assert few is not None
    assert few[0] == pytest.approx(np.arange(40))
    assert few[1] == {1}
    assert frame_times([None] * 10) is None
    assert frame_times([]) is not None  # too short is said by who counts the frames


# -- damage --------------------------------------------------------------------------------------


def damaged(tmp_path: Path, first: float, last: float) -> Clip:
    """Four seconds with a key frame every half, a part of whose bytes are noughts."""
    path = write_film(
        tmp_path / "a.mp4",
        range(0, 4000, 40),
        size=(320, 240),
        options={"g": "12", "crf": "10", "sc_threshold": "0"},
    )
    spoil(path, first, last)
    return open_clip(path)


def test_damage_in_the_middle_leaves_a_gap(tmp_path: Path) -> None:
    clip = damaged(tmp_path, 0.5, 0.52)
    step = np.diff(clip.t_s)
    gap = int(np.argmax(step))
    assert 0.2 < step[gap] < 1.2
    assert np.delete(step, gap) == pytest.approx(0.04)
    assert clip.lost_within_s == pytest.approx(step[gap] - 0.04)
    assert clip.lost_at_end_s == 0
    assert clip.t_s[-1] == pytest.approx(3.96)
    # What is delivered is film, each picture at its own time, and the same every time.
    assert greys(clip) == pytest.approx(np.round(clip.t_s / 0.04) % 50, abs=1)
    assert greys(clip) == pytest.approx(np.round(clip.t_s / 0.04) % 50, abs=1)


def test_a_film_without_damage_has_lost_nothing(tmp_path: Path) -> None:
    clip = damaged(tmp_path, 0.5, 0.5)
    assert (clip.n_frames, clip.lost_within_s, clip.lost_at_end_s) == (100, 0, 0)
    # Phones film unevenly: a long frame is no damage.
    uneven = open_clip(write_film(tmp_path / "b.mp4", [*range(0, 800, 40), 2000, 2040]))
    assert (uneven.n_frames, uneven.lost_within_s, uneven.lost_at_end_s) == (22, 0, 0)


@pytest.mark.parametrize("name", ["a.mkv", "a.avi", "a.mp4"])
def test_a_film_cut_short_is_taken_up_to_the_damage(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name == "a.avi":
        write_regular(path, "mpeg4", {"b": "4M"})
    else:
        write_film(path, range(0, 4000, 40), size=(320, 240))
    if name == "a.mp4":
        to_the_front(path)
    data = path.read_bytes()
    path.write_bytes(data[: int(0.6 * len(data))])
    whole_s = 1.6 if name == "a.avi" else 4.0
    clip = open_clip(path)
    assert len(list(clip.frames())) == clip.n_frames
    assert clip.t_s == pytest.approx(np.arange(clip.n_frames) * 0.04, abs=0.001)
    assert 0.2 * whole_s < clip.t_s[-1] < 0.9 * whole_s
    assert clip.stated_s == pytest.approx(whole_s, abs=0.05)
    assert clip.lost_at_end_s == pytest.approx(clip.stated_s - clip.t_s[-1] - 0.04, abs=0.005)


def to_the_front(path: Path) -> None:
    """Put an MP4's index in front of its pictures, as films for the web have it."""
    with (
        av.open(str(path)) as read,
        av.open(str(path) + ".mp4", "w", options={"movflags": "faststart"}) as out,
    ):
        stream = out.add_stream_from_template(read.streams.video[0])
        for packet in read.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                out.mux(packet)
    Path(str(path) + ".mp4").replace(path)


# -- opened as stored ----------------------------------------------------------------------------


def test_a_sound_film_is_opened_without_decoding_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_film(tmp_path / "a.mp4", [*range(0, 800, 40), 2000, 2090], options={"bf": "2"})
    decoded = open_clip(path)
    given: list[int] = []
    pictures = module.pictures

    def counted(container: Any) -> Iterator[tuple[Any, bool]]:
        for number, each in enumerate(pictures(container)):
            given.append(number)
            yield each

    monkeypatch.setattr(module, "pictures", counted)
    stored = open_clip(path, as_stored=True)
    assert given == [0]  # the first, for its size
    assert stored.as_stored
    for each in fields(decoded):
        if each.name != "as_stored":
            one, other = getattr(decoded, each.name), getattr(stored, each.name)
            assert np.array_equal(one, other), each.name
    assert greys(stored) == pytest.approx(greys(decoded), abs=0.1)


def test_a_film_that_does_not_decode_as_stored_is_noticed(tmp_path: Path) -> None:
    decoded = damaged(tmp_path, 0.5, 0.52)
    stored = open_clip(decoded.path, as_stored=True)
    assert stored.n_frames > decoded.n_frames
    with pytest.raises(NotAsStored):
        list(stored.frames())
    with pytest.raises(NotAsStored):
        list(stored.glimpses(64))


def test_a_film_that_does_not_decode_as_stored_is_opened_again_for_its_use(tmp_path: Path) -> None:
    decoded = damaged(tmp_path, 0.5, 0.52)
    tried: list[bool] = []

    def use(clip: Clip) -> int:
        tried.append(clip.as_stored)
        return len(list(clip.frames()))

    assert use_clip(decoded.path, None, use) == decoded.n_frames
    assert tried == [True, False]
    tried.clear()
    assert use_clip(write_film(tmp_path / "sound.mp4"), None, use) > 0
    assert tried == [True]


def test_pictures_that_an_edit_list_leaves_out_are_none_of_the_film(tmp_path: Path) -> None:
    film = write_film(tmp_path / "a.mp4", range(0, 4000, 40), options={"g": "25"})
    copy_part(film, 1.3, 2.9, tmp_path / "b.mp4")
    decoded, stored = (open_clip(tmp_path / "b.mp4", as_stored=each) for each in (False, True))
    assert stored.as_stored
    np.testing.assert_array_equal(stored.t_s, decoded.t_s)
    assert len(list(stored.frames())) == stored.n_frames == decoded.n_frames < 50


@pytest.mark.parametrize("name", ["a.avi", "a.mkv", "a.ts"])
def test_films_whose_packets_do_not_tell_are_decoded(tmp_path: Path, name: str) -> None:
    stored = open_clip(write_regular(tmp_path / name, "libx264", {"bf": "2"}), as_stored=True)
    assert not stored.as_stored
    assert stored.n_frames == 40


# -- frames that are kept ------------------------------------------------------------------------


def test_frames_asked_for_again_are_not_decoded_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    first, again = np.zeros((2, clip.n_frames), dtype=bool)
    first[[2, 5]] = again[[5, 9]] = True
    kept = KeptFrames()
    kept.want(again, clip.picture_bytes)
    assert [frame.index for frame in clip.frames(which=first, kept=kept)] == [2, 5]
    expected = [frame.rgb for frame in clip.frames(which=again)]
    monkeypatch.setattr(module, "pictures", None)
    found = list(clip.frames(which=again, kept=kept))
    assert [frame.index for frame in found] == [5, 9]
    assert [frame.t_s for frame in found] == pytest.approx([0.2, 0.36])
    for frame, rgb in zip(found, expected, strict=True):
        assert np.array_equal(frame.rgb, rgb)


def test_frames_are_kept_while_the_film_is_glimpsed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    every = np.ones(clip.n_frames, dtype=bool)
    kept = KeptFrames()
    kept.want(every, clip.picture_bytes)
    expected = [glimpse.rgb for glimpse in clip.glimpses(64, kept)]
    monkeypatch.setattr(module, "pictures", None)
    found = list(clip.frames(kept=kept))
    assert len(found) == clip.n_frames
    for frame, rgb in zip(found, expected, strict=True):
        assert np.array_equal(frame.rgb, rgb)


def test_where_room_runs_out_none_is_kept_and_it_is_given_back(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    every = np.ones(clip.n_frames, dtype=bool)
    kept, opened = KeptFrames(), []

    class Full(io.BytesIO):
        def __init__(self, dir: str | None) -> None:
            super().__init__()
            opened.append(self)

        def write(self, data: Any) -> int:
            if self.tell() > 3 * clip.picture_bytes:
                raise OSError(errno.ENOSPC, "No space left on device")
            return super().write(data)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept_frames, "TemporaryFile", Full)
        kept.want(every, clip.picture_bytes)
        list(clip.glimpses(64, kept))
    assert [file.closed for file in opened] == [True]
    assert kept.pictures(every) is None
    assert len(list(clip.frames(which=every, kept=kept))) == clip.n_frames


def test_frames_that_would_fill_the_disk_are_decoded_again(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    every = np.ones(clip.n_frames, dtype=bool)
    kept = KeptFrames()
    kept.want(every, 10**9)
    for _ in range(2):
        assert len(list(clip.frames(which=every, kept=kept))) == clip.n_frames
    assert kept.pictures(every) is None


def test_where_there_is_no_room_frames_are_decoded_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(dir: str | None) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(kept_frames, "TemporaryFile", no_room)
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    every = np.ones(clip.n_frames, dtype=bool)
    kept = KeptFrames()
    kept.want(every, clip.picture_bytes)
    for _ in range(2):
        assert len(list(clip.frames(which=every, kept=kept))) == clip.n_frames


@pytest.mark.parametrize("form", ["yuv420p", "yuvj420p", "yuv420p10le"])
def test_a_frame_that_was_kept_is_the_same(form: str) -> None:
    noise = np.random.default_rng(0).integers(0, 256, (66, 94, 3), dtype=np.uint8)
    frame = av.VideoFrame.from_ndarray(noise, format="rgb24").reformat(format=form)
    frame.colorspace, frame.color_range = 1, 2
    kept, first = KeptFrames(), np.ones(1, dtype=bool)
    kept.want(first, 1)
    kept.see(0, frame)
    ((_, again),) = kept.pictures(first) or ()
    assert np.array_equal(again.to_ndarray(format="rgb24"), frame.to_ndarray(format="rgb24"))


@pytest.mark.parametrize(("form", "width"), [("yuv420p", 95), ("yuv444p", 96), ("rgb24", 96)])
def test_a_frame_that_cannot_be_written_is_decoded_again(form: str, width: int) -> None:
    kept, first = KeptFrames(), np.ones(1, dtype=bool)
    kept.want(first, 1)
    kept.see(0, av.VideoFrame(width, 64, form))
    assert kept.pictures(first) is None
    assert kept.last_wanted == -1
