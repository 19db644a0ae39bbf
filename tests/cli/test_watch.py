"""Clips are taken as they are copied in."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from films import write_film
from made_up_check import command

from posecheck.cli import watch
from posecheck.cli.watch import Arriving, Come
from posecheck.errors import UsageError
from posecheck.video.ending import has_its_end


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr(watch.time, "monotonic", lambda: now[0])
    return now


def film(path: Path) -> Path:
    """Three seconds."""
    return write_film(path, [*range(0, 3000, 100), 3000 + sum(path.name.encode())])


def test_a_clip_is_given_once_when_nothing_changes_in_it(
    tmp_path: Path, clock: list[float]
) -> None:
    whole = film(tmp_path / "elsewhere.mp4").read_bytes()
    folder = tmp_path / "practice"
    folder.mkdir()
    clip = folder / "a.mp4"
    arriving = Arriving([folder])
    assert arriving.whole() == []
    clip.write_bytes(whole[:9000])
    for _ in range(3):
        assert arriving.whole() == []
        assert arriving.unfinished == [clip]
        clock[0] += 4
        with clip.open("ab") as file:
            file.write(b"0" * 10)
    clip.write_bytes(whole)
    assert arriving.whole() == []
    clock[0] += 4
    assert arriving.whole() == []
    clock[0] += 1
    assert arriving.whole() == [clip]
    assert arriving.unfinished == []
    clock[0] += 100
    assert arriving.whole() == []
    clip.write_bytes(film(tmp_path / "other.mp4").read_bytes())
    os.utime(clip, (1, 1))
    assert arriving.whole() == []
    clock[0] += 5
    assert arriving.whole() == [clip]
    clip.unlink()
    assert arriving.whole() == []


def test_a_copy_that_stalls_is_waited_for_and_given_at_last(
    tmp_path: Path, clock: list[float]
) -> None:
    whole = film(tmp_path / "elsewhere.mp4").read_bytes()
    folder = tmp_path / "practice"
    folder.mkdir()
    (folder / "a.mp4").write_bytes(whole[: len(whole) // 2])
    arriving = Arriving([folder])
    arriving.whole()
    clock[0] += 119
    assert arriving.whole() == []
    clock[0] += 1
    assert arriving.whole() == [folder / "a.mp4"]


def test_looking_takes_a_small_share_of_the_time(
    tmp_path: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    def slowly(*_: object) -> list[Path]:
        clock[0] += 3
        return []

    arriving = Arriving([tmp_path])
    assert arriving.pause_s == 2.0
    monkeypatch.setattr(watch, "find_clips", slowly)
    arriving.whole()
    assert arriving.pause_s == pytest.approx(30.0)


def test_clips_that_have_come_wait_for_the_check_that_asks_for_them(
    tmp_path: Path, clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = film(tmp_path / "a.mp4"), film(tmp_path / "b.mp4")
    come = Come(Arriving([tmp_path]))
    assert come.take() == []
    looks: list[float] = []
    find_clips = watch.find_clips
    monkeypatch.setattr(
        watch, "find_clips", lambda *given: looks.append(clock[0]) or find_clips(*given)
    )
    clock[0] += 5
    assert come.take(lambda clip: clip == other) == [other]
    assert come.take(lambda clip: clip == other) == []
    assert come.take() == [one]
    assert come.take() == []
    assert len(looks) == 1  # however often it is asked


def test_only_a_folder_can_be_watched(tmp_path: Path) -> None:
    clip = film(tmp_path / "a.mp4")
    with pytest.raises(UsageError, match=r"a\.mp4: --watch wants a folder"):
        watch.watch(lambda paths: 0, [clip])  # type: ignore[arg-type]


@pytest.mark.parametrize("index_in_front", [False, True])
def test_a_film_without_its_end(tmp_path: Path, index_in_front: bool) -> None:
    clip = film(tmp_path / "a.mp4")
    if index_in_front:
        import av

        again = tmp_path / "b.mp4"
        options = {"movflags": "faststart"}
        with av.open(str(clip)) as source, av.open(str(again), "w", options=options) as to:
            stream = to.add_stream_from_template(source.streams.video[0])
            for packet in source.demux(video=0):
                if packet.dts is not None:
                    packet.stream = stream
                    to.mux(packet)
        clip = again
    assert has_its_end(clip)
    whole = clip.read_bytes()
    for share in (0.1, 0.5, 0.8):
        clip.write_bytes(whole[: int(share * len(whole))])
        assert not has_its_end(clip), share
    clip.write_text("no film")
    assert not has_its_end(clip)
    assert not has_its_end(tmp_path / "gone.mp4")


def test_clips_are_checked_as_they_come(tmp_path: Path) -> None:
    one = film(tmp_path / "1.mp4").read_bytes()
    two = film(tmp_path / "2.mp4").read_bytes()
    folder = tmp_path / "practice"
    folder.mkdir()
    page = folder / "checked" / "practice.html"
    support = str(Path(__file__).parents[1] / "support")
    process = subprocess.Popen(
        command("check", str(folder), "--watch", "--jobs", "1"),
        env=os.environ | {"PYTHONPATH": os.pathsep.join([support, *sys.path])},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )

    assert process.stdout is not None
    lines = []

    def until(beginning: str) -> None:
        for line in process.stdout:
            lines.append(line.rstrip("\n"))
            if line.startswith(beginning):
                return
        raise AssertionError(f"it ended without {beginning}")

    (folder / "rep-1.mp4").write_bytes(one)
    (folder / "rep-2.mp4").write_bytes(two[:5000])
    timer = threading.Timer(120, process.kill)
    timer.start()
    until("rep-1.mp4")
    until("Waiting for clips; Ctrl-C ends it. 1 clip not yet whole.")
    assert "<b>1</b> rep:" in page.read_text("utf-8")
    (folder / "rep-2.mp4").write_bytes(two)
    until("rep-2.mp4")
    until("Waiting for clips; Ctrl-C ends it.")
    assert "<b>2</b> reps:" in page.read_text("utf-8")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate()
    timer.cancel()
    assert (process.returncode, err) == (0, "")
    assert out == "Stopped while waiting for clips; the page is up to date.\n"
    assert sum(line.startswith("rep-") for line in lines) == 2
