"""A transport stream that breaks off, of every size of packet."""

from __future__ import annotations

from pathlib import Path

import pytest
from films import write_film

from posecheck.video.clip import open_clip
from posecheck.video.ending import has_its_end
from posecheck.video.transport_stream import breaks_off

PACKETS = {"a.ts": 188, "a.m2ts": 192}


@pytest.fixture(params=PACKETS)
def film(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Two seconds; by the name FFmpeg knows that the second kind has a time before each packet."""
    return write_film(tmp_path / request.param, range(0, 2000, 40), options={"g": "10"})


def test_a_whole_one_does_not(film: Path) -> None:
    assert film.stat().st_size % PACKETS[film.name] == 0
    assert not breaks_off(film)
    assert not open_clip(film).breaks_off
    assert has_its_end(film)


@pytest.mark.parametrize("share", [0.3, 0.71, 0.999])
def test_one_copied_in_part_does(film: Path, share: float) -> None:
    whole = film.read_bytes()
    # A copy is stopped at a multiple of the disk's blocks, or anywhere.
    for n_bytes in (int(share * len(whole)), int(share * len(whole)) // 512 * 512):
        if n_bytes % PACKETS[film.name]:
            film.write_bytes(whole[:n_bytes])
            assert breaks_off(film)
            assert open_clip(film).breaks_off
            assert not has_its_end(film)


def test_one_that_ends_with_a_packet_cannot_be_told_from_a_whole_one(film: Path) -> None:
    whole, size = film.read_bytes(), PACKETS[film.name]
    film.write_bytes(whole[: len(whole) // 2 // size * size])
    assert not breaks_off(film)


def test_with_error_correction(tmp_path: Path) -> None:
    packet = b"\x47" + bytes(187 + 16)
    file = tmp_path / "a.ts"
    file.write_bytes(packet * 6)
    assert not breaks_off(file)
    file.write_bytes(packet * 5 + packet[:100])
    assert breaks_off(file)


def test_other_film_is_none(tmp_path: Path) -> None:
    assert not breaks_off(write_film(tmp_path / "a.mp4"))
    (tmp_path / "b.ts").write_bytes(b"\x47")
    assert not breaks_off(tmp_path / "b.ts")
