"""The practice page in a browser: everything on it is pressed, at three widths and in print.

Any error on the page fails the test. How fast it loads is measured with 200 reps.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from browser import needs_browser
from drawn_practice import draw
from factories import make_clip_result
from films import write_film
from playwright.sync_api import Browser, Page
from rep_views import write_pages

from posecheck.judging.asked import Asked
from posecheck.judging.rules import rule_name
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import judge
from posecheck.practice.field import closeout_layout
from posecheck.practice.layout import SPOTS
from posecheck.practice.notes import ClipNotes
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player

Open = Callable[..., Page]

WIDTHS = pytest.mark.parametrize("open_page", [390, 768, 1440], indirect=True)

PLAYERS = [
    Player(4, "Bo Lind"),
    Player(12, "Maximiliana Featherstonehaugh-Okonkwo"),
    Player(31, "Dev Okoro"),
]

FAULTS: list[tuple[str, dict[str, float | None]]] = [
    ("upright", {}),
    ("breakdown", {}),
    ("unclear", {}),
    ("breakdown", {"hand_reach": 0.1}),
    ("breakdown", {"overrun_m": 2.0}),
    ("breakdown", {}),
    ("unclear", {"knee_bend_deg": None}),
    ("breakdown", {"base_width": 0.8}),
]


def write(folder: Path, n_reps: int, clip: bytes = b"film") -> Path:
    """A practice of so many reps with its drawings; the faults, players and spots take turns."""
    judged, notes = [], {}
    for number in range(n_reps):
        kind, values = FAULTS[number % len(FAULTS)]
        path = Path(f"clips/rep-{number + 1}.mp4")
        result = make_clip_result(path, kind=kind, **values)
        spot = SPOTS[number % len(SPOTS)]
        notes[path.as_posix()] = ClipNotes(spot=spot, defender=PLAYERS[number % len(PLAYERS)])
        verdict = judge(result.reps[0].measures, DEFAULT_THRESHOLDS, Asked())
        judged.append((result, result.reps[0], verdict))
    draw(folder, [(result, rep) for result, rep, _ in judged], clip)
    practice = Practice(
        folder=Path(),
        name="Tuesday recovery reps",
        layout=closeout_layout(),
        plan=dict.fromkeys(SPOTS, Plan.ALLEY),
        notes=notes,
        players={player.number: player for player in PLAYERS},
    )
    broken = make_clip_result(Path("clips/x.mov"), fault="x.mov: this is not a video.")
    return write_pages(practice, judged, [broken], DEFAULT_THRESHOLDS, folder)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of 40 reps whose clips can be played."""
    folder = tmp_path_factory.mktemp("small")
    film = write_film(folder / "film.mp4", list(range(0, 1200, 40)), size=(320, 180))
    return write(folder, 40, film.read_bytes())


def shown(page: Page) -> list[int]:
    """Numbers of the reps whose tile is shown."""
    tiles = page.locator(".tile:visible").all()
    return [int(tile.get_attribute("data-rep-number") or "") for tile in tiles]


def wide(page: Page) -> list[str]:
    """What is wider than the window or than its own place, but for the line of links."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("body, main *")].filter((part) => {
             const box = part.getBoundingClientRect();
             return box.width && (box.right > innerWidth + 1 || box.left < -1);
           }).map((part) => `${part.tagName}.${part.className?.baseVal ?? part.className}`)"""
    )
    return found


@needs_browser
@WIDTHS
def test_everything_on_the_page_can_be_pressed(small: Path, open_page: Open) -> None:
    page = open_page(small)
    for summary in page.locator("summary").all():
        opened = summary.evaluate("part => part.parentElement.open")
        summary.click()
        assert summary.evaluate("part => part.parentElement.open") != opened
        if opened:
            summary.click()
    for head in page.locator("table.all thead button:visible").all():
        head.click()
        cell = head.evaluate_handle("part => part.closest('th')")
        assert cell.evaluate("th => th.getAttribute('aria-sort')") in ("ascending", "descending")
    for link in page.locator("nav a").all():
        link.click()
        target = (link.get_attribute("href") or "").removeprefix("#")
        assert page.evaluate("id => document.getElementById(id) !== null", target)
    for more in page.locator(".show-more:visible").all():
        more.click()
        assert not more.is_visible()
    assert wide(page) == []
    for watch in ("article .play", ".tile .play:visible"):
        link = page.locator(watch).first
        clip = link.get_attribute("href")
        link.click()
        assert page.locator(".viewer video").get_attribute("src") == clip
        assert wide(page) == []
        page.keyboard.press("Escape")
        assert page.locator(".viewer").count() == 0
    addresses = {link.get_attribute("href") for link in page.locator('a[href^="reps/"]').all()}
    assert len(addresses) == 40
    page.locator(".look .more a").first.click()
    assert re.search(r"/reps/rep-\d+\.html$", page.url)
    page.go_back()
    page.locator("#open-film-room").click()
    assert page.locator("dialog.film-room[open]").count() == 1
    page.keyboard.press("Escape")


@needs_browser
@WIDTHS
def test_filters_work_together_and_say_how_many(small: Path, open_page: Open) -> None:
    page = open_page(small)
    everything = json.loads(page.locator("#reps").text_content() or "")
    said = page.locator(".filters output")
    assert said.text_content() == "40 of 40 reps"
    page.locator("[name=player]").select_option("Bo Lind (4)")
    own = [rep["number"] for rep in everything if rep["player"] == "Bo Lind (4)"]
    assert sorted(shown(page)) == own
    assert said.text_content() == f"{len(own)} of 40 reps"
    # Beside each fault stands how many of his reps have it.
    clear = [rep for rep in everything if rep["number"] in own and rep["call"] == "clear"]
    option = page.locator("[name=fault] option[value=clear]")
    assert option.text_content() == f"Clear: {len(clear)}"
    page.locator("[name=fault]").select_option("clear")
    assert sorted(shown(page)) == [rep["number"] for rep in clear]
    page.locator("[name=spot]").select_option("top")
    both = [rep["number"] for rep in clear if rep["spot"] == "top"]
    assert sorted(shown(page)) == both
    # The choice is in the address: another window shows the same.
    again = open_page(page.url)
    assert sorted(shown(again)) == both
    assert again.locator("[name=player]").input_value() == "Bo Lind (4)"
    # The table of figures follows.
    again.locator(".figures summary").click()
    assert again.locator("table.all tbody tr:visible").count() == len(both)
    again.locator(".filters [type=reset]").click()
    again.wait_for_timeout(50)
    assert said.text_content() and again.locator(".filters output").text_content() == (
        "40 of 40 reps"
    )
    assert "#" not in again.url


@needs_browser
def test_a_choice_that_fits_nothing_says_so(small: Path, open_page: Open) -> None:
    page = open_page(f"{small.as_uri()}#fault=clear&player=nobody&spot=top")
    assert page.locator("[name=player]").input_value() == ""
    assert page.locator(".nothing").is_hidden()
    page.locator("[name=fault]").select_option("narrow_base")
    page.locator("[name=player]").select_option("Bo Lind (4)")
    while shown(page):
        spots = page.locator("[name=spot] option").all()
        empty = next(each for each in spots if (each.text_content() or "").endswith(": 0"))
        page.locator("[name=spot]").select_option(empty.get_attribute("value"))
    assert page.locator(".nothing").is_visible()


@needs_browser
def test_an_address_of_a_rep_shows_it_whatever_is_chosen(small: Path, open_page: Open) -> None:
    page = open_page(f"{small.as_uri()}#fault=clear")
    assert 1 not in shown(page)
    page.evaluate("location.hash = 'rep-1'")
    page.wait_for_timeout(100)
    assert 1 in shown(page)
    assert page.evaluate("document.activeElement.closest('.tile')?.id") == "rep-1"


@needs_browser
def test_figures_sort_as_figures_and_what_was_not_seen_comes_last(
    small: Path, open_page: Open
) -> None:
    page = open_page(small)
    page.locator(".figures summary").click()

    def column(name: str) -> list[str]:
        return page.evaluate(
            """name => {
              const heads = [...document.querySelectorAll("table.all thead th")];
              const at = heads.findIndex((head) => head.textContent.trim() === name);
              return [...document.querySelectorAll("table.all tbody tr")]
                .map((row) => row.cells[at].dataset.sort);
            }""",
            name,
        )

    def press(name: str) -> None:
        page.locator("table.all thead button", has_text=re.compile(rf"^{name}$")).click()

    press("Rep")
    assert column("Rep") == [str(number) for number in range(40, 0, -1)]
    press("Knee bend")
    knees = column("Knee bend")
    seen = [float(knee) for knee in knees if knee]
    assert seen == sorted(seen) and 0 < len(seen) < len(knees)
    assert knees == [*knees[: len(seen)], *[""] * (len(knees) - len(seen))]
    press("Knee bend")
    down = column("Knee bend")
    assert [float(knee) for knee in down if knee] == sorted(seen, reverse=True)
    assert down[-1] == ""
    # Names with numbers in them, by the numbers.
    press("Clip")
    assert column("Clip")[:3] == ["rep-1.mp4", "rep-2.mp4", "rep-3.mp4"]


@needs_browser
def test_the_field_shows_the_chosen_player_and_what_became_of_the_plan(
    small: Path, open_page: Open
) -> None:
    page = open_page(small)
    field = page.locator("figure.field")
    field.locator("[data-by=player]").select_option("Bo Lind (4)")
    assert field.locator(".run-path:visible").count() == 14
    words = field.locator("output").text_content() or ""
    counts = re.fullmatch(r"14 runs: (\d+) off plan, (\d+) on plan, (\d+) can't tell", words)
    assert counts is not None and sum(map(int, counts.groups())) == 14
    field.locator(".run-path:visible").first.dispatch_event("click")
    page.wait_for_timeout(100)
    assert re.search(r"#rep-\d+$", page.url)


@needs_browser
@pytest.mark.parametrize("open_page", [390, 740, 755, 770, 1440], indirect=True)
def test_nothing_is_wider_than_the_window(small: Path, open_page: Open) -> None:
    page = open_page(small)
    page.evaluate("document.querySelectorAll('details').forEach((box) => { box.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert wide(page) == []


@needs_browser
def test_print_fits_the_paper_and_leaves_controls_out(small: Path, open_page: Open) -> None:
    page = open_page(small)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 718, "height": 1000})  # A4 less 10 mm at each side, 96 dpi
    assert wide(page) == []
    for gone in ("nav", ".filters", ".proof .play", ".watch", "#open-film-room", ".chooser"):
        assert page.locator(f"{gone}:visible").count() == 0, gone
    assert page.locator("article.look:visible").count() == 5
    assert page.locator(".tile img:visible").count() == page.locator(".tile:visible").count() > 0
    assert page.pdf(format="A4").startswith(b"%PDF")


@needs_browser
@WIDTHS
def test_what_is_pressed_is_large_enough_for_a_thumb(small: Path, open_page: Open) -> None:
    page = open_page(small)
    page.evaluate("document.querySelectorAll('details').forEach((box) => { box.open = true; })")
    # Links within a sentence are exempt (WCAG 2.2, 2.5.8); so are runs in the drawing, which are
    # also links in the grid.
    low: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("button, select, summary, nav a, a.play, a.open")]
             .filter((part) => part.offsetParent && part.getBoundingClientRect().height < 43.5)
             .map((part) => part.outerHTML.slice(0, 90))"""
    )
    assert low == []


@needs_browser
def test_it_can_be_used_by_keys_alone_and_the_focus_is_seen(small: Path, open_page: Open) -> None:
    page = open_page(small)
    names = []
    for _ in range(60):
        page.keyboard.press("Tab")
        names.append(
            page.evaluate(
                """() => {
                  const part = document.activeElement, style = getComputedStyle(part);
                  const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
                  return [part.tagName, part.className?.baseVal ?? part.className,
                    (part.getAttribute("aria-label") ?? part.textContent).trim(), seen];
                }"""
            )
        )
    assert all(name and seen for _, _, name, seen in names), names
    kinds = {tag for tag, *_ in names}
    assert {"A", "BUTTON", "SELECT"} <= kinds
    page.locator(".tile .play").first.focus()
    page.keyboard.press("Enter")
    assert page.locator(".tile .viewer").count() == 1


@needs_browser
def test_every_picture_says_what_it_shows_and_no_call_is_by_colour_alone(
    small: Path, open_page: Open
) -> None:
    page = open_page(small)
    bare = page.locator("main img:not([alt])").count()
    assert bare == 0
    assert page.locator("svg[role=img]").count() == page.locator("svg[role=img] > title").count()
    headings = page.locator(".group h3").all_text_contents()
    said = " ".join(headings)
    for words in (rule_name("upright_run_out"), rule_name("hands_in"), "Can't tell", "Clear"):
        assert words in said
    assert page.locator("figure.field figcaption").count() == 1


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of 200 reps."""
    return write(tmp_path_factory.mktemp("large"), 200)


def loaded(browser: Browser, path: Path, slowed: float) -> tuple[float, int]:
    """Seconds until a page has loaded, and bytes it has read by itself a second later."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    page.goto(path.as_uri())
    seconds = page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd / 1000")
    page.wait_for_timeout(1000)
    names: list[str] = page.evaluate(
        """() => [...document.images].filter((each) => each.complete && each.naturalWidth)
             .map((each) => each.src)"""
    )
    assert names
    context.close()
    beside = [path.parent / name.removeprefix(path.parent.as_uri() + "/") for name in set(names)]
    return seconds, path.stat().st_size + sum(file.stat().st_size for file in beside)


@needs_browser
@pytest.mark.parametrize(("slowed", "within_s"), [(1, 1.0), (4, 3.0)])
def test_two_hundred_reps_load_at_once(
    large: Path, browser: Browser, slowed: float, within_s: float
) -> None:
    # The fastest of some: while the machine does something else the page is not slow.
    tries = [loaded(browser, large, slowed)]
    while min(tries)[0] >= within_s and len(tries) < 8:
        tries.append(loaded(browser, large, slowed))
    seconds, read = min(tries)
    print(f"200 reps, processor slowed {slowed} times: {seconds:.2f} s, {read / 1e6:.2f} MB read")
    assert seconds < within_s
    assert max(size for _, size in tries) < 2e6
    # Pictures further down were left for later.
    assert read < sum(file.stat().st_size for file in (large.parent / "stills").glob("*.jpg"))
