"""Films that posecheck made are known by what is in them, wherever they lie."""

from __future__ import annotations

import os
from pathlib import Path

import av
import numpy as np
import pytest
from films import write_film

from posecheck.pages.mp4 import write_mp4
from posecheck.video.folder import find_clips
from posecheck.video.own_film import COMMENT, is_own_film


@pytest.fixture
def annotated(tmp_path: Path) -> Path:
    """A film as posecheck writes them, in a folder of its own."""
    path = tmp_path / "copied" / "rep-01.mp4"
    path.parent.mkdir()
    picture = np.zeros((64, 96, 3), np.uint8)
    write_mp4(path, (96, 64), ((i / 10, picture) for i in range(30)))
    return path


def remuxed(path: Path, ending: str) -> Path:
    """The same pictures in another container, as a program for films copies them."""
    other = path.with_suffix(ending)
    with av.open(str(path)) as film, av.open(str(other), "w") as copy:
        copy.metadata.update(film.metadata)
        stream = copy.add_stream_from_template(film.streams.video[0])
        for packet in film.demux(film.streams.video[0]):
            if packet.dts is not None:
                packet.stream = stream
                copy.mux(packet)
    return other


def test_an_annotated_film_is_known_again(annotated: Path, tmp_path: Path) -> None:
    assert is_own_film(annotated)
    with av.open(str(annotated)) as film:
        assert film.metadata["comment"] == COMMENT, "and players show it"
    assert not is_own_film(write_film(tmp_path / "a.mp4"))
    assert not is_own_film(tmp_path / "gone.mp4")


@pytest.mark.parametrize("ending", [".mov", ".mkv", ".m4v"])
def test_in_another_container_too(annotated: Path, ending: str) -> None:
    assert is_own_film(remuxed(annotated, ending))


def test_what_is_no_film_keeps_nobody_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.mp4")
    assert not is_own_film(tmp_path / "pipe.mp4")
    for name, data in {"empty": b"", "odd": b"\0" * 40, "text": b"moov" * 50_000}.items():
        (tmp_path / name).write_bytes(data)
        assert not is_own_film(tmp_path / name)


def test_own_films_are_passed_over_and_counted(annotated: Path, tmp_path: Path) -> None:
    said: list[str] = []
    film = write_film(tmp_path / "a.mp4")
    assert find_clips([tmp_path], said.append) == [film]
    assert said == ["1 film made by posecheck was passed over."]
    other = annotated.with_name("rep-02.mp4")
    other.write_bytes(annotated.read_bytes())
    said.clear()
    assert find_clips([annotated, other, film, annotated.parent], said.append) == [film]
    assert said == ["2 films made by posecheck were passed over."]
