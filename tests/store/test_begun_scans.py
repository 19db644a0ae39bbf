"""Scans of long films that were stopped: what was kept of them comes back as it was."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import numpy as np
import pytest

from posecheck.errors import RecordError
from posecheck.files.names import CUTS_FOLDER
from posecheck.scan.runs import Run
from posecheck.scan.scan_film import PartRuns
from posecheck.scan.watch import Watched
from posecheck.store.begun_scans import (
    add_part,
    begin_scan,
    begun_scan,
    end_scan,
    end_scans_of_replaced,
    end_scans_without_film,
)

DIGEST = "ab" * 32
RANDOM = np.random.default_rng(3)
SEEN = Watched(
    t_s=np.arange(40) / 9.7,
    moves=RANDOM.random(40),
    to_place=RANDOM.random((40, 3, 3)),
    jumps_s=(1.1, 2.3000000000000003),
    places_s=(np.float64(2.3000000000000003),),
    size_px=(320, 180),
    end_s=4.1,
    lost_within_s=0.2,
    breaks_off=True,
)
PART_S = (0.1 + 0.2, 3.3)
RUNS = PartRuns(
    0.25,
    (1920, 1080),
    (
        Run(0.5, 2.1, 3, 1, 4.2, 2.0, RANDOM.random(2), RANDOM.random(2), 210.5, (1.2, np.ones(2))),
        Run(
            0.7, 2.9, 4, None, 3.2, 1.5, RANDOM.random(2), RANDOM.random(2), 99.0,
            (1.9, np.zeros(2)), comes_into_view=True, from_height_px=80.0,
        ),
    ),
)  # fmt: skip
NONE = PartRuns(2.5, (1, 1), ())


def begin(folder: Path, key: str = "key") -> Path:
    begin_scan(folder, "clips/film.mp4", DIGEST, key, SEEN)
    (file,) = (folder / CUTS_FOLDER).iterdir()
    return file


def test_it_comes_back_to_the_last_bit(tmp_path: Path) -> None:
    begin(tmp_path)
    add_part(tmp_path, DIGEST, (2.5, 4.1), NONE)
    add_part(tmp_path, DIGEST, PART_S, RUNS)
    begun = begun_scan(tmp_path, DIGEST, "key")
    assert begun is not None
    np.testing.assert_equal(asdict(begun.seen), asdict(SEEN))
    assert list(begun.parts) == [(2.5, 4.1), PART_S]
    np.testing.assert_equal(asdict(begun.parts[2.5, 4.1]), asdict(NONE))
    np.testing.assert_equal(asdict(begun.parts[PART_S]), asdict(RUNS))


def test_a_scan_by_another_key_or_of_another_film_is_none(tmp_path: Path) -> None:
    begin(tmp_path)
    assert begun_scan(tmp_path, DIGEST, "other settings") is None
    assert begun_scan(tmp_path, DIGEST[:32] + "0" * 32, "key") is None
    assert begun_scan(tmp_path, "cd" * 32, "key") is None


def test_beginning_again_forgets_the_parts(tmp_path: Path) -> None:
    begin(tmp_path)
    add_part(tmp_path, DIGEST, PART_S, RUNS)
    begin(tmp_path)
    begun = begun_scan(tmp_path, DIGEST, "key")
    assert begun is not None
    assert not begun.parts


@pytest.mark.parametrize("lost", [1, 2, 40, 300])
def test_a_line_that_was_cut_short_costs_itself_alone(tmp_path: Path, lost: int) -> None:
    file = begin(tmp_path)
    add_part(tmp_path, DIGEST, (2.5, 4.1), NONE)
    add_part(tmp_path, DIGEST, PART_S, RUNS)
    file.write_bytes(file.read_bytes()[:-lost])
    add_part(tmp_path, DIGEST, (9.0, 9.5), NONE)
    begun = begun_scan(tmp_path, DIGEST, "key")
    assert begun is not None
    # Without its line break alone the line is still whole.
    assert list(begun.parts) == [(2.5, 4.1), *([PART_S] if lost == 1 else []), (9.0, 9.5)]


@pytest.mark.parametrize("content", [b"", b"{}", b"[]\n[]\n", b"\xff\n\n", b'{"film": 1'])
def test_a_damaged_file_is_no_scan(tmp_path: Path, content: bytes) -> None:
    file = begin(tmp_path)
    file.write_bytes(content)
    assert begun_scan(tmp_path, DIGEST, "key") is None
    end_scans_without_film(tmp_path, lambda film: True)


def test_damage_within_what_was_seen_is_no_scan(tmp_path: Path) -> None:
    file = begin(tmp_path)
    of, seen = file.read_bytes().splitlines()
    file.write_bytes(of + b"\n" + seen[: len(seen) // 2] + b"\n")
    assert begun_scan(tmp_path, DIGEST, "key") is None


def test_it_goes_when_it_has_ended_or_its_film_is_gone(tmp_path: Path) -> None:
    file = begin(tmp_path)
    end_scans_without_film(tmp_path, lambda film: film == "clips/film.mp4")
    assert file.exists()
    end_scans_without_film(tmp_path, lambda film: False)
    assert not file.exists()
    file = begin(tmp_path)
    end_scan(tmp_path, DIGEST)
    assert not file.exists()
    end_scan(tmp_path, DIGEST)


def test_it_goes_when_another_film_has_its_name(tmp_path: Path) -> None:
    file = begin(tmp_path)
    end_scans_of_replaced(tmp_path, "clips/film.mp4", DIGEST)
    end_scans_of_replaced(tmp_path, "clips/other.mp4", "cd" * 32)
    assert file.exists()
    end_scans_of_replaced(tmp_path, "clips/film.mp4", "cd" * 32)
    assert not file.exists()


def test_a_part_that_cannot_be_kept_is_said(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="run the same command again"):
        add_part(tmp_path, DIGEST, PART_S, RUNS)
