"""How far a check is, with a clock of its own."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from films import write_film
from rich.console import Console

from posecheck.cli import how_far
from posecheck.cli.how_far import HowFar, film_seconds

A, B, C, D = map(Path, ("a.mp4", "b.mp4", "c.mp4", "d.mp4"))
SECONDS = {A: 4.0, B: 6.0, C: 10.0, D: 100.0}


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr(how_far.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(how_far, "film_seconds", SECONDS.__getitem__)
    return now


def test_what_is_left_is_reckoned_by_seconds_of_film(clock: list[float]) -> None:
    far = HowFar(Console(file=io.StringIO()), [A, B, C])
    assert far.words == "0 of 3 clips, 0:00 of 0:20 of film"
    far.finished(B, measured=False)  # on record: takes no time and says nothing of the others
    assert far.words == "1 of 3 clips, 0:06 of 0:20 of film"
    clock[0] += 60
    far.frames(A, 400)
    assert far.words == "1 of 3 clips, 0:06 of 0:20 of film, 400 frames"
    far.frames(A, 100, part=(3.0, 9.0))  # another worker is at another part of it
    assert far.words == "1 of 3 clips, 0:06 of 0:20 of film, 500 frames"
    far.frames(A, 0, part=(3.0, 9.0))
    far.finished(A, measured=True)
    # 4 s of film took 60 s, so 10 s take 150 s.
    assert far.words == "2 of 3 clips, 0:10 of 0:20 of film, about 2 minutes left"
    clock[0] += 60
    far.frames(C, 500)  # at 100 frames for a second of film: half of it
    assert far.words == "2 of 3 clips, 0:15 of 0:20 of film, about 67 seconds left"
    far.frames(C, 5000)
    assert far.words.startswith("2 of 3 clips, 0:20 of 0:20 of film, about 4 seconds left")
    far.finished(C, measured=True)
    assert far.words == "3 of 3 clips, 0:20 of 0:20 of film, about 0 seconds left"
    assert (far.done, far.to_come) == (3, 0)
    far.add([D])
    assert (far.done, far.to_come) == (3, 1)


def test_without_a_terminal_a_line_now_and_then(clock: list[float]) -> None:
    out = io.StringIO()
    with HowFar(Console(file=out), [A, B]) as far:
        far.show()
        assert out.getvalue() == ""
        clock[0] += 61
        far.show()
        far.show()
        assert out.getvalue() == "0 of 2 clips, 0:00 of 0:10 of film.\n"
        clock[0] += 200
        far.show()
        assert out.getvalue().count("\n") == 1
        clock[0] += 101
        far.show()
        assert out.getvalue().count("\n") == 2


def test_on_a_terminal_a_bar(clock: list[float]) -> None:
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=100)
    with HowFar(console, [A, B]) as far:
        far.finished(A, measured=True)
        far._bar.refresh()
    assert "1 of 2 clips, 0:04 of 0:10 of film" in out.getvalue()


def test_how_long_a_file_plays(tmp_path: Path) -> None:
    film = write_film(tmp_path / "a.mp4", range(0, 3000, 100))
    assert film_seconds(film) == pytest.approx(3.0, abs=0.11)
    (tmp_path / "b.mp4").write_text("no film")
    assert film_seconds(tmp_path / "b.mp4") == 5.0
    assert film_seconds(tmp_path / "gone.mp4") == 5.0
