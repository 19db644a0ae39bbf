"""A player's own file: his reps, nobody else, everything inside."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from browser import needs_browser
from factories import jpeg, make_clip_result, make_rep_result
from playwright.sync_api import Page

from posecheck.judging.asked import Asked
from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import judge
from posecheck.pages.own_clip import OwnFilm
from posecheck.pages.player_page import OwnView, player_file, write_player_page
from posecheck.pages.rep_view import view_rep
from posecheck.practice.field import closeout_layout
from posecheck.practice.notes import ClipNotes, View
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

OWN = Player(14, "Theo <Marsh>", role="defender")
OTHERS = (Player(173, "Ellis Rowan"), Player(177, "Jonah Pell"), Player(188, "Zoë Quist"))


def small_film() -> OwnFilm:
    """A second of grey."""
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 480, 480, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 30)
        for number in range(60):
            grey = np.full((480, 480, 3), 90 + number, np.uint8)
            frame = av.VideoFrame.from_ndarray(grey, format="rgb24")
            frame.pts, frame.time_base = number, Fraction(1, 30)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return OwnFilm(file.getvalue(), jpeg(480, 480))


FILM = small_film()


def write(
    folder: Path,
    *kinds: str,
    film: OwnFilm | None = FILM,
    rulings: dict[int, Ruling] | None = None,
    not_measured: int = 0,
    **values: float | None,
) -> tuple[Path, str]:
    """His file with a rep of each kind, out of a practice in which others are named everywhere."""
    notes, results = {}, []
    for number, kind in enumerate(kinds, 1):
        rep = replace(
            make_rep_result(kind, **values),
            film=("practice.toml names Ellis Rowan (173) and clips/rowan-173.mp4.",),
            roles="the defender is Ellis Rowan's neighbour",
            scale="6 points of view sideline-camera",
        )
        result = make_clip_result(Path(f"/home/coach-lee/clips/rowan-{number}.mp4"), reps=(rep,))
        results.append((result, rep))
        notes[result.path.as_posix()] = ClipNotes(
            view=View("sideline-camera", None, 0.0, {}),
            spot="top-left",
            defender=OWN,
            attacker=OTHERS[number % len(OTHERS)],
        )
    practice = Practice(
        folder=Path("/home/coach-lee/tuesday"),
        name="Tuesday reps",
        club="Harbor Point Herons",
        date=dt.date(2026, 9, 15),
        layout=closeout_layout(),
        plan={"top-left": Plan.ALLEY},
        players={player.number: player for player in (OWN, *OTHERS)},
        notes=notes,
    )
    views = []
    for number, (result, rep) in enumerate(results, 1):
        asked = Asked.of(practice, practice.notes[result.path.as_posix()])
        verdict = judge(rep.measures, DEFAULT_THRESHOLDS, asked)
        view = view_rep(40 + number, practice, (result, rep, verdict), DEFAULT_THRESHOLDS, folder)
        views.append(OwnView(view, film, (rulings or {}).get(number)))
    path = write_player_page(practice, OWN, views, not_measured, folder)
    return path, path.read_text("utf-8")


def test_it_names_nobody_else_and_nothing_of_the_machine(tmp_path: Path) -> None:
    path, page = write(tmp_path, "upright", "breakdown", "unclear")
    assert path == player_file(tmp_path, OWN)
    spoken = re.sub(r'<script type="text/plain".*?</script>|base64,[^"]*', "", page, flags=re.S)
    for other in OTHERS:
        for word in (*other.name.split(), f"({other.number})", f"#{other.number}"):
            assert word not in spoken
        assert not re.search(rf"\b{other.number}\b", spoken)
    for word in ("rowan", "coach", "home", "tuesday/", ".mp4", ".toml", "clips/", "rep-0",
                 "sideline", "neighbour", str(tmp_path)):  # fmt: skip
        assert word not in spoken.lower().replace("your coach", "").replace("qualified coach", "")
    # Nor his place among others: numbers of the practice's reps, ranks, averages.
    assert not re.search(r"\b4[123]\b", spoken)
    for word in ("rank", "best of", "average", "team", "than others", "place"):
        assert word not in re.sub(r"<(style|script)>.*?</\1>", "", spoken, flags=re.S).lower()


def test_it_needs_nothing_from_outside(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright", "breakdown")
    spoken = re.sub(r'<script type="text/plain".*?</script>', "", page, flags=re.S)
    assert "default-src 'none'" in page
    assert not re.search(r"https?:|//[a-z]|url\(", spoken)
    for address in re.findall(r'(?:src|href)="([^"]*)"', spoken):
        assert address.startswith(("data:image/jpeg;base64,", "#rep-"))


def test_one_thing_to_work_on_beside_the_best(tmp_path: Path) -> None:
    _, page = write(tmp_path, "breakdown", "upright", "upright")
    assert "Brake three steps out" in page
    assert "In 2 of your 3 reps you came in standing tall." in page
    pair = page[page.index('class="pair"') :][
        : page.index("<h2>Your reps") - page.index('class="pair"')
    ]
    assert re.findall(r'href="#rep-(\d)"', pair) == ["2", "1"]  # to work on, then the best
    assert "Theo &lt;Marsh&gt;" in page and "<Marsh>" not in page


def test_nothing_flagged_and_nothing_shown_are_two_things(tmp_path: Path) -> None:
    _, page = write(tmp_path, "breakdown", "breakdown")
    assert "Nothing to change was seen in your 2 reps." in page
    _, page = write(tmp_path, "breakdown", "unclear")
    assert "1 of your 2 reps was done right. The film does not settle how 1 of them went." in page
    _, page = write(tmp_path, "unclear")
    assert "Ask your coach." in page and "Keep doing" not in page


def test_without_a_clear_rep_no_best_is_made_up(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright")
    assert "No rep of yours is without a fault yet." in page


def test_a_call_the_coach_rejects_is_not_worked_on(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright", "breakdown", rulings={1: Ruling.WRONG})
    one = page[page.index("One thing") : page.index("Your reps")]
    assert "Brake three steps out" not in one
    assert "Your coach sees this rep otherwise. Ask." in page


@pytest.mark.parametrize(
    ("kinds", "disputed", "said"),
    [
        (("upright",), [1], "Ask your coach. Your coach sees 1 of your 1 rep otherwise."),
        (("breakdown", "upright"), [2],
         "Ask your coach. 1 of your 2 reps was done right. Your coach sees 1 of your 2 reps "
         "otherwise."),
        (("breakdown", "unclear"), [],
         "Keep doing what you do. 1 of your 2 reps was done right. The film does not settle "
         "how 1 of them went."),
        (("unclear", "unclear"), [],
         "Ask your coach. The film does not settle how 2 of your 2 reps went."),
    ],
)  # fmt: skip
def test_what_is_open_and_what_the_coach_disputes_are_two_things(
    tmp_path: Path, kinds: tuple[str, ...], disputed: list[int], said: str
) -> None:
    _, page = write(tmp_path, *kinds, film=None, rulings=dict.fromkeys(disputed, Ruling.WRONG))
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    assert said in words


def test_it_says_when_there_is_no_line_for_the_attacker(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright")
    assert "where there is none, he is outside the picture or was not seen" in page


def test_it_says_whose_reps_its_numbers_count(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright", "breakdown")
    assert "The numbers count your own reps; your coach's numbers count everybody's." in page


def test_a_rep_without_film_and_clips_not_measured_are_said(tmp_path: Path) -> None:
    _, page = write(tmp_path, "upright", film=None, not_measured=2)
    assert "There is no film of this rep here." in page
    assert "2 more clips of you could not be measured." in page


def until(page: Page, holds: Callable[[], bool]) -> None:
    """Wait for something; the page's own policy forbids to wait inside it."""
    for _ in range(200):
        if holds():
            return
        page.wait_for_timeout(50)
    raise AssertionError("it did not happen within ten seconds")


@needs_browser
@pytest.mark.parametrize("open_page", [390], indirect=True)
def test_on_a_phone_the_film_plays_slowly_steps_and_goes_to_arrival(
    tmp_path: Path, open_page: Callable[..., Page]
) -> None:
    path, _ = write(tmp_path, "upright", "breakdown")
    page = open_page(path)
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    rep = page.locator("#rep-1")

    def time() -> float:
        return float(rep.locator("video").evaluate("film => film.currentTime"))

    for button in rep.get_by_role("button").all():
        size = button.bounding_box()
        assert size is not None and size["height"] >= 44 and size["width"] >= 44
    rep.get_by_role("button", name="Play").click()
    until(page, lambda: time() > 0.1)
    rep.get_by_role("button", name="Pause").click()
    rep.get_by_role("button", name="Slow").click()
    film = rep.locator("video")
    assert film.evaluate("film => [film.paused, film.playbackRate]") == [True, 0.25]
    rep.get_by_role("button", name="Arrival").click()
    until(page, lambda: abs(time() - 1.9) < 0.02)
    rep.get_by_role("button", name="A moment back").click()
    until(page, lambda: time() < 1.88)
    page.get_by_role("link", name="Your rep 2").click()
    assert page.locator("#rep-2").evaluate("rep => rep.getBoundingClientRect().top") < 844
    # Nothing of the other rep's film was made that nobody asked for.
    assert page.locator("#rep-2 video").count() == 0


@needs_browser
def test_on_paper_there_are_no_buttons(tmp_path: Path, open_page: Callable[..., Page]) -> None:
    path, _ = write(tmp_path, "upright")
    page = open_page(path)
    assert page.locator("button:visible").count() == 5
    page.emulate_media(media="print")
    assert page.locator("button:visible").count() == 0
