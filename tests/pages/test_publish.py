"""From the record to page and annotated clips, on a small real film."""

from __future__ import annotations

import dataclasses
import os
from pathlib import Path

import numpy as np
import pytest
from factories import make_clip_result, make_rep_result
from films import write_film

from posecheck.judging.thresholds import Thresholds
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.publish import draw_clips, write_page
from posecheck.pages.still_pictures import StillPictures, still_pictures
from posecheck.pages.stills import stills_of
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.practice import Practice
from posecheck.store.record import Record
from posecheck.video.clip import Clip, open_clip


def measured(path: Path) -> ClipResult:
    """A film of 4 seconds whose made-up rep fits into its picture."""
    # The time of the last frame makes films of different names differ.
    times_ms = [*range(0, 4000, 100), 4000 + sum(path.stem.encode())]
    clip = open_clip(write_film(path, times_ms, size=(480, 270)))
    rep = make_rep_result()
    series = dataclasses.replace(
        rep.series,
        defender_xy_px=rep.series.defender_xy_px / 4,
        attacker_xy_px=rep.series.attacker_xy_px / 4,
    )
    return make_clip_result(
        path, reps=(dataclasses.replace(rep, series=series),), clip_digest=clip.digest
    )


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    return Practice(tmp_path, "Tuesday")


@pytest.fixture
def record(practice: Practice) -> Record:
    """Two judged clips and one that could not be measured."""
    with Record(practice.folder / "checked" / "record.sqlite") as record:
        for name in ("a", "b"):
            result = measured(practice.folder / f"{name}.mp4")
            record.save(practice, result)
            judge_clip(record, practice, result, Thresholds())
        bad = make_clip_result(practice.folder / "c.mp4", fault="c.mp4: it is empty; film again.")
        record.save(practice, bad)
        yield record


def drawn(record: Record) -> dict[str, int]:
    """Annotated clips with the time of their writing."""
    return {path.name: path.stat().st_mtime_ns for path in (record.folder / "clips").glob("*.mp4")}


def test_clips_are_drawn_once(record: Record, practice: Practice) -> None:
    done: list[Path] = []
    assert draw_clips(record, practice, done.append) == []
    assert done == [practice.folder / f"{name}.mp4" for name in "abc"]
    first = drawn(record)
    assert len(first) == 2
    for name in first:
        assert open_clip(record.folder / "clips" / name).n_frames > 30
    assert draw_clips(record, practice) == []
    assert drawn(record) == first


def test_a_clip_measured_again_is_drawn_again(record: Record, practice: Practice) -> None:
    draw_clips(record, practice)
    first = drawn(record)
    for path in (record.folder / "stills").glob("a-*.json"):
        os.utime(path, (0, 0))  # older than its measures
    draw_clips(record, practice)
    changed = {name for name, at in drawn(record).items() if at != first[name]}
    assert {name[0] for name in changed} == {"a"}


def test_what_is_broken_or_gone_is_drawn_again(record: Record, practice: Practice) -> None:
    draw_clips(record, practice)
    whole = drawn(record)
    cut, other = ((record.folder / "clips" / name) for name in sorted(whole))
    times = open_clip(cut).t_s
    cut.write_bytes(cut.read_bytes()[:-1000])
    draw_clips(record, practice)
    # Every frame again; the encoder does not always come to the same bytes.
    assert np.array_equal(open_clip(cut).t_s, times)
    assert sum(1 for _ in open_clip(cut).frames()) == len(times)
    assert drawn(record)[other.name] == whole[other.name], "the sound one is left alone"
    cell = next((record.folder / "stills").glob("b-*-3.jpg"))
    cell.unlink()
    draw_clips(record, practice)
    assert cell.is_file()


def test_what_other_code_drew_is_drawn_again_but_stays_where_the_film_is_gone(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    draw_clips(record, practice)
    first = drawn(record)
    (practice.folder / "a.mp4").unlink()
    for module in ("drawing", "publish"):
        monkeypatch.setattr(f"posecheck.pages.{module}.made_by", lambda whole: "other code")
    assert draw_clips(record, practice) == ["a.mp4: there is no such file; check the name."]
    changed = {name for name, at in drawn(record).items() if at != first[name]}
    assert {name[0] for name in changed} == {"b"}
    result = next(record.results(practice))
    assert result.path.name == "a.mp4"
    assert len(stills_of(record.folder, result, result.reps[0]).cells) == 5


def test_the_whole_picture_is_shown_where_the_practice_says_so(
    record: Record, practice: Practice
) -> None:
    def shapes() -> set[tuple[int, int]]:
        clips = map(open_clip, (record.folder / "clips").glob("*.mp4"))
        return {(clip.width_px, clip.height_px) for clip in clips}

    draw_clips(record, practice)
    followed = shapes()
    draw_clips(record, dataclasses.replace(practice, whole_picture=True))
    assert shapes() == {(960, 540)}, "480 by 270, enlarged as far as is useful"
    assert shapes() != followed


def test_a_rep_that_defeats_the_drawing_costs_itself(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    def defeated(clip: Clip, rep: RepResult) -> StillPictures:
        if clip.path.stem == "a":
            raise ValueError("of one rep")
        return still_pictures(clip, rep)

    monkeypatch.setattr("posecheck.pages.drawing.still_pictures", defeated)
    (fault,) = draw_clips(record, practice)
    assert fault.startswith("a.mp4: rep 1 could not be drawn (ValueError: of one rep); ")
    assert "of one rep" in (record.folder / "posecheck.log").read_text()
    assert [name[0] for name in drawn(record)] == ["b"]


def test_a_clip_that_is_gone_is_named_and_the_others_are_drawn(
    record: Record, practice: Practice
) -> None:
    (practice.folder / "a.mp4").unlink()
    assert draw_clips(record, practice) == ["a.mp4: there is no such file; check the name."]
    assert [name[0] for name in drawn(record)] == ["b"]


def test_a_body_out_of_the_picture_does_no_harm(record: Record, practice: Practice) -> None:
    """Landmarks are measured even where the picture has ended."""
    for shift in (-3000.0, 3000.0):
        result = measured(practice.folder / f"far{shift:.0f}.mp4")
        rep = result.reps[0]
        away = dataclasses.replace(rep.series, defender_xy_px=rep.series.defender_xy_px + shift)
        record.save(
            practice, dataclasses.replace(result, reps=(dataclasses.replace(rep, series=away),))
        )
    assert draw_clips(record, practice) == []
    clips = [
        open_clip(path).frames() for path in sorted((record.folder / "clips").glob("far*.mp4"))
    ]
    assert len(clips) == 2
    for frames in clips:
        # The film's grey is still to be seen: no shade was laid over the picture.
        middle = [frame.rgb[100:140, 300:340].mean() for frame in frames]
        assert np.median(middle) > 70


def test_the_page_holds_every_rep_and_every_fault(record: Record, practice: Practice) -> None:
    page = write_page(record, practice, Thresholds())
    assert page == record.folder / "practice.html"
    text = page.read_text("utf-8")
    assert "a.mp4" in text
    assert "b.mp4" in text
    assert "it is empty; film again." in text
