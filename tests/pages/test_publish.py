"""From the record to page and annotated clips, on a small real film."""

from __future__ import annotations

import dataclasses
import datetime as dt
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from factories import make_clip_result, make_rep_result
from films import write_film

from posecheck.judging.thresholds import Thresholds
from posecheck.judging.verdict import Call, Verdict
from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages import rep_view
from posecheck.pages.arrival_picture import ArrivalPicture
from posecheck.pages.player_page import OwnView, write_player_page
from posecheck.pages.publish import draw_clips, take_away, write_page
from posecheck.pages.rep_view import view_rep
from posecheck.pages.running import Running
from posecheck.pages.still_pictures import StillPictures, still_pictures
from posecheck.pages.stills import stills_of
from posecheck.pipeline.judge import judge_clip
from posecheck.practice.notes import ClipNotes
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record
from posecheck.video.clip import Clip, open_clip

VERDICT = Verdict(Call.CLEAR, "Broken down and under control.", ())


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
    with Record(practice.folder / "checked" / "record.sqlite", make=True) as record:
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
    for module in ("drawing", "draw_tasks"):
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


# -- clips that are taken away, and reps that cannot be shown --------------------------------------


def files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_a_clip_that_is_taken_away_leaves_the_page_and_comes_back(
    record: Record, practice: Practice
) -> None:
    draw_clips(record, practice)
    write_page(record, practice, Thresholds())
    before = files(record.folder)
    result = next(record.results(practice))
    film = result.path.read_bytes()
    result.path.unlink()
    assert take_away(record, practice) == [result.path], "c.mp4 was never measured"
    assert take_away(record, practice) == [], "said once"
    page = write_page(record, practice, Thresholds()).read_text("utf-8")
    assert "a.mp4" not in page
    assert "c.mp4" not in page
    assert result.clip_digest not in page
    gone = before - files(record.folder)
    assert {name.split("/")[0] for name in gone} == {"clips", "stills", "pictures", "reps"}
    mark = result.clip_digest[:8]
    left = {name for name in files(record.folder) if mark in name}
    assert {name.split("/")[0] for name in left} == {"series"}, "measures stay"
    assert [rep.clip.name for rep in record.measured_reps(practice)] == ["a.mp4", "b.mp4"]
    assert record.load(result.clip_digest).reps[0].measures == result.reps[0].measures
    # The clip comes back: it counts as not measured, since its pictures are gone.
    result.path.write_bytes(film)
    assert not record.has(result.clip_digest, result.provenance.settings_digest)
    record.save(practice, result)
    judge_clip(record, practice, result, Thresholds())
    draw_clips(record, practice)
    write_page(record, practice, Thresholds())
    assert files(record.folder) == before


def test_a_player_s_file_goes_when_a_clip_in_it_is_another_s(
    record: Record, practice: Practice
) -> None:
    """Whom the coach names later must not be seen by whoever holds the link to that file."""
    theo, ellis = Player(14, "Theo Marsh"), Player(22, "Ellis Rowan")

    def with_defenders(a: Player, b: Player) -> Practice:
        notes = {"a.mp4": ClipNotes(defender=a), "b.mp4": ClipNotes(defender=b)}
        return dataclasses.replace(practice, notes=notes)

    def written(now: Practice, player: Player) -> Path:
        views = [
            OwnView(view_rep(1, now, (result, rep, VERDICT), Thresholds(), record.folder), None)
            for result in record.results(now)
            for rep in result.reps
            if now.notes_for(result.path).defender == player
        ]
        return write_player_page(now, player, views, 0, record.folder)

    first = with_defenders(theo, theo)
    own = written(first, theo)
    write_page(record, first, Thresholds())
    assert own.exists()
    later = with_defenders(theo, ellis)
    write_page(record, later, Thresholds())
    assert not own.exists()
    again, other = written(later, theo), written(later, ellis)
    write_page(record, later, Thresholds())
    assert again.exists() and other.exists()
    write_page(record, with_defenders(theo, theo), Thresholds())
    assert again.exists() and not other.exists()


def test_a_rep_that_cannot_be_shown_costs_itself(
    record: Record, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, _ = record.results(practice)
    drawn_rightly = rep_view.arrival_picture

    def defeated_once(rep: RepResult, *rest: Any) -> ArrivalPicture | None:
        monkeypatch.setattr(rep_view, "arrival_picture", drawn_rightly)
        raise ValueError(f"of rep {rep.number}")

    monkeypatch.setattr(rep_view, "arrival_picture", defeated_once)
    said: list[str] = []
    page = write_page(record, practice, Thresholds(), said.append).read_text("utf-8")
    sentence = (
        "a.mp4: rep 1 cannot be shown (ValueError: of rep 1); for details see posecheck.log in the "
        "output folder."
    )
    assert said == [sentence]
    assert "1 rep not shown" in page
    assert sentence in page
    assert second.clip_digest in page
    assert first.clip_digest not in page
    assert files(record.folder / "reps") == {"rep-002.html"}


@pytest.mark.parametrize("part", ["pictures", "series"])
def test_a_clip_whose_files_are_gone_costs_itself(
    record: Record, practice: Practice, part: str
) -> None:
    first, second, _ = record.results(practice)
    for path in (record.folder / part).glob(f"{first.clip_digest[:16]}-*"):
        path.unlink()
    said: list[str] = []
    page = write_page(record, practice, Thresholds(), said.append).read_text("utf-8")
    (sentence,) = said
    assert sentence.startswith("a.mp4 cannot be shown: ")
    assert "check the clips again" in sentence
    assert second.clip_digest in page
    assert f"{first.clip_digest}/" not in page
    faults = draw_clips(record, practice)
    assert [fault.split(": ")[0] for fault in faults] == ["a.mp4 could not be drawn on"]


def test_a_page_of_a_rep_that_cannot_be_written_costs_itself(
    record: Record, practice: Practice
) -> None:
    blocked = record.folder / "reps" / "rep-001.html"
    (blocked / "in the way").mkdir(parents=True)
    said: list[str] = []
    page = write_page(record, practice, Thresholds(), said.append).read_text("utf-8")
    (sentence,) = said
    assert sentence.startswith("a.mp4: rep 1 cannot be shown: ")
    assert "rep-001.html cannot be written" in sentence
    assert "reps/rep-001.html" not in page
    assert "reps/rep-002.html" in page


def test_names_of_the_greatest_length_are_drawn(record: Record, practice: Practice) -> None:
    path = practice.folder / f"{'long name ' * 24}{'x' * 11}.mp4"
    assert len(path.name) == 255
    result = measured(path)
    record.save(practice, result)
    judge_clip(record, practice, result, Thresholds())
    assert draw_clips(record, practice) == []
    page = write_page(record, practice, Thresholds()).read_text("utf-8")
    names = [name for name in drawn(record) if name.startswith("long-name")]
    assert len(names) == 1
    assert f"clips/{names[0]}" in page
    assert len(stills_of(record.folder, result, result.reps[0]).cells) == 5


def test_a_page_of_a_check_that_still_runs_says_so(record: Record, practice: Practice) -> None:
    at = dt.datetime(2026, 11, 26, 21, 3)
    page = write_page(record, practice, Thresholds(), running=Running(12, 28, at))
    said = (
        "The check was still running when this page was written, at 21:03 on 26 November 2026: "
        "12 clips done, 28 to come."
    )
    assert said in page.read_text("utf-8")
    write_page(record, practice, Thresholds())
    assert "still running" not in page.read_text("utf-8")
