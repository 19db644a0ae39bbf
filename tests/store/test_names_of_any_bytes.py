"""A clip whose name is bytes that are no UTF-8, or holds what a terminal obeys, from the record to
the pages."""

from __future__ import annotations

import os
from html.parser import HTMLParser
from pathlib import Path

import pytest
from browser import needs_browser
from factories import make_clip_result

from posecheck.judging.ruling import Ruling
from posecheck.judging.thresholds import Thresholds
from posecheck.pages.publish import take_away, write_page
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.web.sheet import ContactSheet

NAMES = {
    "no UTF-8": b"caf\xe9 \xff.mp4",
    "control characters": b"a\x1b[31m\x07\r\nb\x7f.mp4",
    "turned round": "a\u202e4pm.mp4".encode(),
    "markup": b"<b>'\"&.mp4",
    "255 bytes": ("\u00e9" * 125 + "a.mp4").encode(),
}
SHOWN = {
    "no UTF-8": "caf\\xe9 \\xff.mp4",
    "control characters": "a\\x1b[31m\\x07\\r\\nb\\x7f.mp4",
    "turned round": "a\\u202e4pm.mp4",
    "markup": "<b>'\"&.mp4",
    "255 bytes": "\u00e9" * 125 + "a.mp4",
}

EVERY = pytest.mark.parametrize("case", NAMES)


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/t\xfcesday"))
    folder.mkdir()
    return Practice(folder, "Tuesday")


def kept(record: Record, practice: Practice, case: str) -> Path:
    clip = practice.folder / os.fsdecode(NAMES[case])
    clip.touch()
    result = make_clip_result(clip, "upright")
    record.save(practice, result)
    judge_clip(record, practice, result, Thresholds())
    return clip


class Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.text = ""

    def handle_data(self, data: str) -> None:
        self.text += data


@EVERY
def test_it_comes_back_from_the_record(practice: Practice, case: str) -> None:
    path = practice.folder / "checked/record.sqlite"
    with Record(path, make=True) as record:
        clip = kept(record, practice, case)
        digest = make_clip_result(clip).clip_digest
        record.rule(digest, 1, Ruling.RIGHT)
    with Record(path) as record:
        assert record.practice_folders() == (practice.folder.resolve(),)
        ((found, _),) = record.clips(practice)
        assert os.fsencode(found.name) == NAMES[case]
        assert found.exists()
        assert record.load(digest).path == found
        assert len(record.measured_reps(practice)) == len(record.rulings(practice)) == 1
        record.moved(practice, digest, practice.folder / "b.mp4")
        record.moved(practice, digest, clip)
        assert [os.fsencode(one.name) for one, _ in record.clips(practice)] == [NAMES[case]]
        assert take_away(record, practice) == []


@EVERY
def test_pages_show_it_and_obey_nothing_in_it(practice: Practice, case: str) -> None:
    with Record(practice.folder / "checked/record.sqlite", make=True) as record:
        kept(record, practice, case)
        said: list[str] = []
        page = write_page(record, practice, Thresholds(), said.append)
    assert said == []
    for path in (page, page.parent / "reps/rep-001.html"):
        words = Words()
        text = path.read_bytes().decode("utf-8")
        words.feed(text)
        assert SHOWN[case] in words.text
        assert not set("\x1b\x07\r\x7f\u202e") & set(text)


def test_the_contact_sheet_leaves_out_what_a_browser_cannot_name(practice: Practice) -> None:
    path = practice.folder / "checked/record.sqlite"
    with Record(path, make=True) as record:
        for case in ("no UTF-8", "markup"):
            kept(record, practice, case)
    state = ContactSheet(practice.folder, path).state()
    assert [clip["key"] for clip in state["clips"]] == ["<b>'\"&.mp4"]


@needs_browser
def test_they_open_in_a_browser(practice: Practice, open_page) -> None:
    with Record(practice.folder / "checked/record.sqlite", make=True) as record:
        for case in NAMES:
            kept(record, practice, case)
        page = write_page(record, practice, Thresholds())
    moved = page.parent.parent.parent / "pages"
    page.parent.rename(moved)  # a browser's address is text
    opened = open_page(moved / page.name)
    assert opened.locator(".tile").count() == len(NAMES)
    assert SHOWN["no UTF-8"] in opened.content()
