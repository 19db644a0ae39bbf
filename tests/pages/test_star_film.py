"""The starred reps as one film and as a list."""

from __future__ import annotations

import csv
from pathlib import Path

import av
import numpy as np
import pytest
from films import write_film

from posecheck.errors import UnreadableClip, UsageError
from posecheck.pages.overlay import DEFENDER, GUIDE, SHADE
from posecheck.pages.star_film import Starred, title_card, write_star_film, write_star_list
from posecheck.pages.tuning import CARD_S, KEY_FRAME_EVERY_S, STAR_FILM_PX

SENTENCE = "legs straight, chest up, still sprinting, 2.2 m past him"


def starred(clip: Path, number: int = 2, player: str | None = "Zoë Vale (12)") -> Starred:
    return Starred(number, player, "top-left", "flagged", "ran out upright", SENTENCE, clip)


def test_each_clip_is_played_after_its_title_card(tmp_path: Path) -> None:
    # A clip with an uneven rate and a tall one; 40 ms and 500 ms after its last frame the next.
    first_ms = [0, 40, 80, 200, 240]
    wide = write_film(tmp_path / "wide.mp4", first_ms, size=(320, 180))
    tall = write_film(tmp_path / "tall.mp4", [0, 500, 1000, 1500, 2000], size=(120, 180))
    write_star_film([starred(wide), starred(tall, 5)], tmp_path / "film.mp4")
    with av.open(str(tmp_path / "film.mp4")) as container:
        frames = list(container.decode(video=0))
    times = np.array([float(frame.pts * frame.time_base) for frame in frames])
    card = np.arange(0, CARD_S, KEY_FRAME_EVERY_S)
    after = CARD_S + 0.28
    expected = [*card, *(CARD_S + np.array(first_ms) / 1000), *(after + card)]
    expected += [after + CARD_S + t for t in (0, 0.5, 1, 1.5, 2)]
    assert times == pytest.approx(np.array(expected), abs=1e-3)
    pictures = [frame.to_ndarray(format="rgb24").astype(int) for frame in frames]
    assert {picture.shape[1::-1] for picture in pictures} == {STAR_FILM_PX}
    corner = pictures[len(card)][20, 20]
    assert corner[0] > 180 and corner[2] < 80, "the first film's red quarter fills the corner"
    # The tall one stands in the middle, on a dark ground.
    last = pictures[-1]
    assert np.abs(last[360, 20] - SHADE).max() < 12
    assert last[100, 480][0] > 180


def test_a_title_card_says_who_and_what_within_its_edges() -> None:
    for player in ("Zoë Vale (12)", None, "A player with a name that goes on and on and on (100)"):
        card = title_card(starred(Path("a.mp4"), player=player))
        for colour in (DEFENDER, GUIDE):
            rows, columns = np.nonzero((card == colour).all(axis=2))
            assert len(rows) > 500
            assert columns.min() > 60 and columns.max() < STAR_FILM_PX[0] - 60
            assert rows.max() < STAR_FILM_PX[1] - 60


def test_a_clip_that_is_gone_or_broken_is_named_and_leaves_no_film(tmp_path: Path) -> None:
    (tmp_path / "broken.mp4").write_bytes(b"no film")
    for name in ("gone.mp4", "broken.mp4"):
        with pytest.raises(UnreadableClip, match=f"{name}.*posecheck check to draw it again"):
            write_star_film([starred(tmp_path / name)], tmp_path / "film.mp4")
    assert [path.name for path in tmp_path.iterdir()] == ["broken.mp4"]


def test_the_list_is_a_table_in_which_no_formula_runs(tmp_path: Path) -> None:
    reps = [
        starred(Path("a.mp4")),
        starred(Path("b.mp4"), 5, '=HYPERLINK("x")'),
    ]
    reps.append(starred(Path("c.mp4"), 9, None))
    write_star_list(reps, tmp_path / "stars.csv")
    text = (tmp_path / "stars.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.reader(text.splitlines()))
    assert rows[0] == ["rep", "player", "spot", "call", "fault", "note", "clip"]
    assert rows[1] == [
        *("2", "Zoë Vale (12)", "top-left", "flagged", "ran out upright", SENTENCE, "clips/a.mp4")
    ]
    assert rows[2][1] == '\'=HYPERLINK("x")'
    assert rows[3][:2] == ["9", ""]


def test_the_list_is_plain_lines_under_any_other_name(tmp_path: Path) -> None:
    write_star_list([starred(Path("a.mp4")), starred(Path("c.mp4"), 9, None)], tmp_path / "s.txt")
    text = (tmp_path / "s.txt").read_text("utf-8")
    assert text == f"Rep 2, Zoë Vale (12): {SENTENCE}\nRep 9: {SENTENCE}\n"


def test_a_film_of_the_coach_s_own_is_not_overwritten(tmp_path: Path) -> None:
    clip = write_film(tmp_path / "clip.mp4", size=(320, 180))
    before = clip.read_bytes()
    with pytest.raises(UsageError, match=r"clip\.mp4: there is a file of this name already"):
        write_star_film([starred(clip)], clip)
    assert clip.read_bytes() == before
    for _ in range(2):  # an earlier one is
        write_star_film([starred(clip)], tmp_path / "film.mp4")


@pytest.mark.parametrize("name", ["stars.csv", "stars.txt"])
def test_only_an_earlier_list_is_overwritten(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    for number in (2, 5):
        write_star_list([starred(Path("a.mp4"), number)], path)
    assert "5" in path.read_text("utf-8-sig")
    for text in ('name = "Tuesday"\n', "rep,player\n2,Zoë\n", "Rep 2: late\nand my own line\n"):
        path.write_text(text, "utf-8")
        with pytest.raises(UsageError, match=f"{name}: there is a file of this name already"):
            write_star_list([starred(Path("a.mp4"))], path)
        assert path.read_text("utf-8") == text
    with pytest.raises(UsageError, match="this is a folder; name a file in it"):
        write_star_list([starred(Path("a.mp4"))], tmp_path)
