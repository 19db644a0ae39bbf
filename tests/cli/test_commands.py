"""The commands as typed: whole output and exit code, with a scripted measuring function.

Clips are small real films, so that what is wrong with a file is found by really opening it; what
is measured in them is made up, by the kind of rep that their name begins with.
"""

from __future__ import annotations

import dataclasses
import functools
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import typer
from factories import KINDS, make_clip_result
from films import write_film, write_sound
from typer.testing import CliRunner

from posecheck.cli import commands as cli
from posecheck.cli import run
from posecheck.errors import ModelError, NothingToMeasure
from posecheck.files.one_at_a_time import one_at_a_time
from posecheck.measures.result import ClipResult
from posecheck.pages import publish
from posecheck.pages.mp4 import write_mp4
from posecheck.pipeline import batch
from posecheck.pipeline.limits import WORKER_BYTES
from posecheck.pipeline.provenance import provenance
from posecheck.pipeline.settings import Settings
from posecheck.pipeline.tasks import Task
from posecheck.pose.reader_choice import Reader
from posecheck.practice.practice import Practice
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record
from posecheck.video.clip import open_clip

Typed = Callable[..., tuple[int, str, str]]


def scripted_measure(
    path: Path, practice: Practice, settings: Settings, reader: None
) -> ClipResult:
    clip = open_clip(path)
    if path.name.startswith("nobody"):
        raise NothingToMeasure(path, "nobody closes out in it", "name only clips that show a rep")
    if path.name.startswith("stumble"):
        raise ZeroDivisionError("division by zero")
    kind = next((kind for kind in KINDS if path.name.startswith(kind)), "breakdown")
    made = provenance(settings, practice, path)
    result = make_clip_result(path, kind, clip_digest=clip.digest, provenance=made)
    return dataclasses.replace(result, n_frames=clip.n_frames)


def measure_with_remark(
    sentence: str, path: Path, practice: Practice, settings: Settings, reader: None
) -> ClipResult:
    result = scripted_measure(path, practice, settings, reader)
    reps = tuple(dataclasses.replace(rep, film=(sentence,)) for rep in result.reps)
    return dataclasses.replace(result, reps=reps)


def no_reader(settings: Settings) -> None:
    return None


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Typed:
    """Type a command; gives the exit code and what came out on both streams."""
    scripted = functools.partial(batch.check_clips, measure=scripted_measure, open_reader=no_reader)
    monkeypatch.setattr(run, "check_clips", scripted)
    monkeypatch.setattr(run, "pose_model_path", lambda variant, folder, reader: Path("pose.task"))
    # Drawing takes its time and has its own tests.
    monkeypatch.setattr("posecheck.pages.draw_tasks.drawing_of", lambda *_: None)

    def type_in(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["posecheck", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capfd.readouterr()
        return ended.value.code or 0, out, err

    return type_in


_films: dict[str, bytes] = {}


def film(path: Path) -> Path:
    """A film of its own for each name: 320 x 240 pixels, 4 seconds."""
    if path.name not in _films:
        # A time of its own for the last frame makes each film's content differ.
        end_ms = 4000 + len(_films)
        _films[path.name] = write_film(
            path, [*range(0, 4000, 100), end_ms], size=(320, 240)
        ).read_bytes()
    path.write_bytes(_films[path.name])
    return path


def rep_lines(out: str) -> list[str]:
    """The lines of finished reps whose player is named."""
    return [line for line in out.splitlines() if re.search(r"\.mp4  .* \(\d+\)  ", line)]


PRACTICE = """
name = "Tuesday"
[layout]
preset = "five-spots"
[plan]
top-left = "alley"
[[players]]
number = 12
name = "Zoé [Vale]"
[[players]]
number = 7
name = "Sam Birch"
[[clips]]
file = "upright-1.mp4"
spot = "top-left"
defender = 12
[[clips]]
file = "breakdown-1.mp4"
spot = "top-left"
defender = 7
[[clips]]
file = "unclear-1.mp4"
defender = 7
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A practice of three clips: an upright run-out, a breakdown, and one that shows too little."""
    folder = tmp_path / "tuesday"
    folder.mkdir()
    (folder / "practice.toml").write_text(PRACTICE, encoding="utf-8")
    for name in ("upright-1", "breakdown-1", "unclear-1"):
        film(folder / f"{name}.mp4")
    return folder


# -- check ---------------------------------------------------------------------------------------


def test_a_practice_is_checked(typed: Typed, folder: Path) -> None:
    code, out, err = typed("check", folder, "--jobs", "1")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith("breakdown-1.mp4  Sam Birch (7)  clear  ")
    assert lines[1].startswith("unclear-1.mp4  Sam Birch (7)  can't tell  ")
    assert lines[2].startswith("upright-1.mp4  Zoé [Vale] (12)  FLAGGED  ")
    assert "17°" in lines[2]  # the one reason, with its figure
    film = (
        "The film is good enough for 3 of 3 reps. What would help most (3 of 3): film from nearer."
    )
    assert film in lines
    shown = (line for line in lines[3:] if line.strip() and "─" not in line and line != film)
    table = [line.split() for line in shown]
    assert table == [
        ["Defender", "Reps", "FLAGGED", "clear", "can't", "tell"],
        ["Sam", "Birch", "(7)", "2", "0", "1", "1"],
        ["Zoé", "[Vale]", "(12)", "1", "1", "0", "0"],
        ["all", "3", "1", "1", "1"],
        ["Spot", "Force", "him", "On", "plan", "Off", "plan", "Can't", "tell", "Share"],
        # Half of two within 1.645 / (2 + 1.645^2) * sqrt(2 / 4 + 1.645^2 / 4) = 0.38 (Wilson).
        ["top-left", "down", "the", "alley", "1", "1", "0", "12", "to", "88", "%"],
        ["not", "stated", "0", "0", "1"],
        ["all", "1", "1", "1", "12", "to", "88", "%"],
        ["The", "page:", str(folder / "checked" / "practice.html")],
    ]
    assert "Zoé [Vale]" in (folder / "checked" / "practice.html").read_text("utf-8")


def test_at_the_end_it_says_how_to_name_who_is_not(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hint = "Nobody is named in 1 rep. To say who it is: posecheck names "
    assert "posecheck names" not in typed("check", folder, "--jobs", "1")[1]
    text = (folder / "practice.toml").read_text("utf-8")
    (folder / "practice.toml").write_text(text.removesuffix("defender = 7\n"), "utf-8")
    monkeypatch.chdir(folder.parent)
    assert typed("check", folder.name)[1].splitlines()[-1] == f"{hint}{folder.name}"
    out = typed("check", folder.name, "--out", "of tuesday", "--jobs", "1")[1]
    assert out.splitlines()[-1] == f"{hint}'of tuesday'"


def test_in_a_pipe_there_are_no_control_codes(typed: Typed, folder: Path) -> None:
    code, out, _ = typed("check", folder)
    assert code == 0
    assert "\x1b" not in out
    assert "\r" not in out
    # and a line is not broken up, however long
    assert len(rep_lines(out)) == 3


def test_what_was_measured_before_is_only_counted(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    film(folder / "late.mp4")
    code, out, _ = typed("check", folder)
    assert code == 0
    lines = out.splitlines()
    assert lines[0].startswith("late.mp4  unknown 1  clear  ")
    assert lines[1] == "3 clips measured before."
    code, out, _ = typed("check", folder, "--afresh")
    assert "measured before" not in out
    assert len([line for line in out.splitlines() if ".mp4  " in line]) == 4


def test_single_clips_of_a_practice(typed: Typed, folder: Path, tmp_path: Path) -> None:
    """The practice is the one whose folder the clips lie in, or the folder above it."""
    (folder / "clips").mkdir()
    inner = film(folder / "clips" / "upright-2.mp4")
    code, out, _ = typed("check", inner, folder / "upright-1.mp4", "--out", tmp_path / "out")
    assert code == 0
    assert "upright-1.mp4  Zoé [Vale] (12)  FLAGGED" in out
    assert "clips/upright-2.mp4  unknown 1  FLAGGED" in out
    assert f"The page: {tmp_path / 'out' / 'practice.html'}" in out
    assert not (folder / "checked").exists()


def annotated(path: Path) -> Path:
    path.parent.mkdir(exist_ok=True)
    picture = np.zeros((64, 96, 3), np.uint8)
    write_mp4(path, (96, 64), ((i / 10, picture) for i in range(20)))
    return path


def test_a_record_moved_away_makes_no_reps_of_annotated_clips(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    annotated(folder / "checked/clips/upright-1-1-0123abcd.mp4")
    (folder / "checked/record.sqlite").rename(folder.parent / "record.sqlite")
    code, out, err = typed("check", folder)
    assert (code, err) == (0, "")
    assert "upright-1-1" not in out
    assert "passed over" not in out, "nobody named them"
    assert out.splitlines()[0] == (
        f"{folder}/checked/record.sqlite: the record of earlier checks is gone, and with it any "
        "limits of your own that were named then; judged by the usual ones."
    )
    # Nor do they count when all of the results are moved, or are named themselves.
    (folder / "checked/clips").rename(folder / "old clips")
    code, out, _ = typed("check", folder)
    assert code == 0
    assert out.splitlines()[0] == "1 film made by posecheck was passed over."
    code, out, _ = typed("check", folder / "old clips", "--out", folder / "old clips/out")
    assert code == 4
    assert out.splitlines() == [
        "1 film made by posecheck was passed over.",
        f"There are no clips in {folder}/old clips.",
    ]
    assert not (folder / "old clips/out").exists()


def test_a_folder_of_somebody_else_is_not_written_into(typed: Typed, folder: Path) -> None:
    other = folder.parent / "pictures"
    other.mkdir()
    (other / "dog.jpg").touch()
    code, out, err = typed("check", folder, "--out", other)
    assert (code, out) == (2, "")
    assert err == (
        f"posecheck: {other}: there are other files in this folder and no results of posecheck; "
        "name a new one with --out.\n"
    )
    assert [path.name for path in other.iterdir()] == ["dog.jpg"]
    (folder / "checked").mkdir()
    film(folder / "checked/upright-9.mp4")
    code, _, err = typed("check", folder)
    assert code == 2
    assert err.startswith(f"posecheck: {folder}/checked: there are other files in this folder")
    assert [path.name for path in (folder / "checked").iterdir()] == ["upright-9.mp4"]


def test_a_clip_that_is_taken_away_is_said_once(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    away = folder / "unclear-1.mp4"
    data = away.read_bytes()
    away.unlink()
    sentence = (
        "No longer there: unclear-1.mp4; off the page until it is back, its figures stay on record."
    )
    code, out, _ = typed("check", folder)
    assert code == 0
    assert sentence in out.splitlines()
    assert "unclear-1.mp4" not in (folder / "checked/practice.html").read_text("utf-8")
    _, out, _ = typed("check", folder)
    assert sentence not in out
    assert "0 of 3 reps judged differently." in typed("rejudge", folder)[1], "it still counts"
    assert typed("rep", folder, "unclear-1")[0] == 0
    away.write_bytes(data)
    _, out, _ = typed("check", folder)
    assert [line.split()[0] for line in rep_lines(out)] == ["unclear-1.mp4"]
    assert "unclear-1.mp4" in (folder / "checked/practice.html").read_text("utf-8")


def test_pipes_and_devices_cost_only_themselves(typed: Typed, folder: Path) -> None:
    os.mkfifo(folder / "pipe.mp4")
    (folder / "zero.mp4").symlink_to("/dev/zero")
    code, out, _ = typed("check", folder)
    assert code == 3
    assert "pipe.mp4: this is a pipe and no file; copy the film itself here." in out.splitlines()
    assert "zero.mp4: this is a device and no file; copy the film itself here." in out.splitlines()
    assert len(rep_lines(out)) == 3


def test_a_clip_and_a_link_to_it_are_measured_once(typed: Typed, folder: Path) -> None:
    (folder / "z-link.mp4").symlink_to(folder / "upright-1.mp4")
    code, out, _ = typed("check", folder, folder / "upright-1.mp4", folder / "z-link.mp4")
    assert code == 0
    assert "z-link.mp4: the same film as upright-1.mp4." in out.splitlines()
    assert len(rep_lines(out)) == 3


def test_a_forgotten_clip_is_passed_over_until_that_is_taken_back(
    typed: Typed, folder: Path
) -> None:
    typed("check", folder)
    code, out, _ = typed("forget", folder, "--player", "12", "--yes")
    assert code == 0
    assert "nothing is left of name and clips." in out
    passed_over = (
        "1 clip passed over, forgotten on request; posecheck forget with --clip NAME --again takes "
        "that back."
    )
    for more in ((), ("--afresh",)):
        code, out, _ = typed("check", folder, *more)
        assert code == 0
        assert passed_over in out.splitlines()
        assert "upright-1" not in (folder / "checked/practice.html").read_text("utf-8")
    assert typed("forget", folder, "--clip", "upright-1", "--again")[0] == 0
    _, out, _ = typed("check", folder)
    assert [line.split()[0] for line in rep_lines(out)] == ["upright-1.mp4"]


def test_copies_and_entries_without_a_clip_are_mentioned(typed: Typed, folder: Path) -> None:
    (folder / "a copy.mp4").write_bytes((folder / "upright-1.mp4").read_bytes())
    (folder / "unclear-1.mp4").unlink()
    code, out, _ = typed("check", folder)
    assert code == 0
    assert "a copy.mp4: the same film as upright-1.mp4." in out.splitlines()
    assert out.splitlines()[0] == ("Not there, though practice.toml names it: unclear-1.mp4.")


def test_an_entry_of_a_clip_elsewhere_is_mentioned(typed: Typed, folder: Path) -> None:
    (folder / "upright-1.mp4").rename(folder.parent / "upright-1.mp4")
    long = "x" * 300 + ".mp4"
    text = (folder / "practice.toml").read_text("utf-8")
    text = text.replace('"upright-1.mp4"', f'"{folder.parent}/upright-1.mp4"')
    in_practice(folder, text + f'[[clips]]\nfile = "{long}"\n')
    _, out, _ = typed("check", folder)
    assert out.splitlines()[:2] == [
        f"Not there, though practice.toml names it: {long}.",
        f"Not in the practice's folder, though practice.toml names it: {folder.parent}/"
        "upright-1.mp4.",
    ]


# -- bad input -----------------------------------------------------------------------------------


def cut(path: Path) -> None:
    film(path)
    path.write_bytes(path.read_bytes()[:2000])


SAID = {
    # name of the case: (what stands in the place of the clip, what is said of it)
    "nothing": (
        lambda path: None,
        "bad.mp4: there is no such file; check the name.",
    ),
    "empty": (
        Path.touch,
        "bad.mp4: the file is empty; copy it from the phone again.",
    ),
    "text": (
        lambda path: path.write_text("shopping list\n" * 99),
        "bad.mp4: this is not a video, or it is damaged; copy it from the phone again.",
    ),
    "cut short": (
        cut,
        "bad.mp4: this is not a video, or it is damaged; copy it from the phone again.",
    ),
    "sound only": (
        write_sound,
        "bad.mp4: there is sound but no picture in it; film it again.",
    ),
    "one frame": (
        lambda path: write_film(path, [0]),
        "bad.mp4: only 1 frame could be read from it; copy it from the phone again, or film the "
        "whole rep.",
    ),
    "tiny": (
        lambda path: write_film(path, size=(62, 32)),
        "bad.mp4: the picture is only 62 x 32 pixels; film at 720p or better.",
    ),
}


@pytest.mark.parametrize("case", SAID)
def test_a_bad_clip_is_reported_and_the_others_go_on(typed: Typed, folder: Path, case: str) -> None:
    make, sentence = SAID[case]
    bad = folder / "bad.mp4"
    make(bad)
    good = [folder / "upright-1.mp4", folder / "breakdown-1.mp4"]
    code, out, err = typed("check", good[0], bad, good[1])
    assert code == 3
    assert err == ""
    lines = out.splitlines()
    assert sentence in lines
    assert len(rep_lines(out)) == 2
    assert "1 of 3 clips could not be measured." in lines
    # alone it is the end of the matter, and the page still says so
    code, out, err = typed("check", bad, "--out", folder / "alone")
    if not bad.exists():  # a name mistyped
        assert code == 2 and not (folder / "alone").exists()
        return
    assert code == 4
    assert sentence in out.splitlines()
    assert "bad.mp4" in (folder / "alone" / "practice.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        (
            "nobody.mp4",
            "nobody.mp4: nobody closes out in it; name only clips that show a rep.",
        ),
        (
            "stumble.mp4",
            "stumble.mp4: posecheck itself failed on it (ZeroDivisionError: division by zero); "
            "please report this with the file posecheck.log from the output folder.",
        ),
    ],
)
def test_a_good_film_that_cannot_be_measured(
    typed: Typed, folder: Path, name: str, sentence: str
) -> None:
    film(folder / name)
    code, out, _ = typed("check", folder)
    assert code == 3
    assert sentence in out.splitlines()
    assert len(rep_lines(out)) == 3


def test_a_clip_that_may_not_be_read(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = Path.open

    def refuse(self: Path, *args: object, **keywords: object) -> object:
        if self.name == "unclear-1.mp4":
            raise PermissionError(13, "Permission denied")
        return opened(self, *args, **keywords)

    monkeypatch.setattr(Path, "open", refuse)
    code, out, _ = typed("check", folder)
    assert code == 3
    assert (
        "unclear-1.mp4: you may not read this file; change its permissions or copy it again."
    ) in out.splitlines()
    assert len(rep_lines(out)) == 2


def test_a_folder_without_clips(typed: Typed, tmp_path: Path) -> None:
    assert typed("check", tmp_path) == (4, f"There are no clips in {tmp_path}.\n", "")


def in_practice(folder: Path, text: str) -> Path:
    (folder / "practice.toml").write_text(text)
    return folder


def thresholds(folder: Path, text: str) -> Path:
    (folder / "limits.toml").write_text(text)
    return folder / "limits.toml"


USAGE = {
    # name of the case: (the words typed, the sentence)
    "practice.toml": (
        lambda folder: ["check", in_practice(folder, "[plan]\ntpo = 'alley'")],
        "{folder}/practice.toml: [plan] tpo is not a known spot; did you mean 'top'?",
    ),
    "thresholds": (
        lambda folder: [
            "check", folder, "--thresholds", thresholds(folder, "min_knee_bend_deg = 'deep'")
        ],
        "{folder}/limits.toml: min_knee_bend_deg is 'deep'; give a number without quotes.",
    ),
    "no thresholds": (
        lambda folder: ["check", folder, "--thresholds", folder / "none.toml"],
        "{folder}/none.toml: there is no such file; check the name.",
    ),
    "mistyped": (
        lambda folder: ["check", folder.parent / "tuseday"],
        "{parent}/tuseday: there is no such folder or clip; did you mean {parent}/tuesday?",
    ),
    "mistyped inside": (
        lambda folder: ["rejudge", folder.parent / "Tuesday" / "checkt"],
        "{parent}/Tuesday/checkt: there is no such folder; did you mean {parent}/tuesday?",
    ),
    "nowhere": (
        lambda folder: ["check", folder / "zzz"],
        "{folder}/zzz: there is no such folder or clip; check the name.",
    ),
    "no clip": (
        lambda folder: ["check", folder / "uprihgt-1.mp4"],
        "{folder}/uprihgt-1.mp4: there is no such folder or clip; did you mean "
        "{folder}/upright-1.mp4?",
    ),
    "accuracy nowhere": (
        lambda folder: ["accuracy", folder / "zzz"],
        "{folder}/zzz: there is no such folder; check the name.",
    ),
    "a file": (
        lambda folder: ["benchmark", folder / "upright-1.mp4"],
        "{folder}/upright-1.mp4: this is a file; name the folder it lies in.",
    ),
    "own limits and the usual": (
        lambda folder: ["check", folder, "--usual", "--thresholds", thresholds(folder, "")],
        "--thresholds and --usual are both given; leave one out.",
    ),
    "nothing to judge": (
        lambda folder: ["rejudge", folder],
        "{folder}: nothing has been checked here; run posecheck check first, or name the folder "
        "given to --out.",
    ),
    "nothing to show": (
        lambda folder: ["rep", folder, "upright-1"],
        "{folder}: nothing has been checked here; run posecheck check first, or name the folder "
        "given to --out.",
    ),
    "thresholds are there": (
        lambda folder: ["thresholds", thresholds(folder, "")],
        "{folder}/limits.toml: there is a file of this name already; name another, or delete it "
        "first.",
    ),
    "thresholds into a folder": (
        lambda folder: ["thresholds", folder],
        "{folder}: this is a folder; name a file in it.",
    ),
    "a page in place of another file": (
        lambda folder: ["accuracy", folder, "--page", in_practice(folder, "") / "practice.toml"],
        "{folder}/practice.toml: there is a file of this name already; name another, or delete it "
        "first.",
    ),
    "thresholds nowhere": (
        lambda folder: ["thresholds", folder / "none" / "limits.toml"],
        "{folder}/none/limits.toml: it cannot be written (No such file or directory); name another "
        "place.",
    ),
    "model": (
        lambda folder: ["model", "--variant", "huge"],
        "There is no pose model variant 'huge'; choose one of lite, full, heavy.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", USAGE)
def test_a_request_that_cannot_be_carried_out(typed: Typed, folder: Path, case: str) -> None:
    words, sentence = USAGE[case]
    code, out, err = typed(*words(folder))
    assert (code, out) == (2, "")
    assert err == f"posecheck: {sentence.format(folder=folder, parent=folder.parent)}\n"
    assert not (folder / "checked").exists()


@pytest.mark.parametrize(
    "words", [["check"], ["check", "x", "--jobs", "0"], ["check", "x", "--reach", "far"], ["chekc"]]
)
def test_words_that_make_no_command(typed: Typed, words: list[str]) -> None:
    code, out, err = typed(*words)
    assert (code, out) == (2, "")
    assert "Usage: posecheck" in err


def test_a_model_that_cannot_be_had_ends_the_run_before_it_begins(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nowhere(variant: str, models: Path | None, reader: Reader) -> Path:
        raise ModelError("The pose model cannot be fetched; check the network.")

    monkeypatch.setattr(run, "pose_model_path", nowhere)
    code, out, err = typed("check", folder)
    assert (code, out) == (1, "")
    assert err == "posecheck: The pose model cannot be fetched; check the network.\n"


def test_a_record_that_is_none(typed: Typed, folder: Path) -> None:
    (folder / "checked").mkdir()
    record = folder / "checked" / "record.sqlite"
    record.write_text("shopping list " * 99)
    code, _, err = typed("check", folder)
    assert code == 1
    assert err == (
        f"posecheck: {record}: this is no record of posecheck; move it away or use --out.\n"
    )


@pytest.mark.parametrize(
    ("what", "sentence"),
    [
        (
            "publish.write_page",
            "The page could not be written (RuntimeError: out of ink); all measures are kept; for "
            "details see posecheck.log in the output folder.",
        ),
        (
            "draw_tasks.drawing_of",
            "The clips could not be drawn on (RuntimeError: out of ink); all measures are kept; "
            "for details see posecheck.log in the output folder.",
        ),
    ],
)
def test_a_page_that_fails_costs_no_measure(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch, what: str, sentence: str
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("out of ink")

    with monkeypatch.context() as broken:
        broken.setattr(f"posecheck.pages.{what}", fail)
        code, out, _ = typed("check", folder)
    assert code == 1
    assert sentence in out.splitlines()
    assert "RuntimeError: out of ink" in (folder / "checked" / "posecheck.log").read_text()
    code, out, _ = typed("check", folder)
    assert code == 0
    assert "3 clips measured before." in out.splitlines()


def test_fewer_workers_where_memory_is_short(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "processors", lambda: 8)
    monkeypatch.setattr(run, "free_bytes", lambda: 2 * WORKER_BYTES + 100_000_000)
    free_gb = f"{(2 * WORKER_BYTES + 100_000_000) / 1e9:.1f}"
    said = f"2 clips at once and not 8: {free_gb} GB of memory are free; --jobs says otherwise."
    assert said in typed("check", folder)[1].splitlines()
    assert said not in typed("check", folder, "--jobs", "1")[1]


def test_ctrl_c_keeps_what_is_done(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And leaves the page of it."""
    checked = run.check_clips

    def stopped(*args: object, **keywords: object) -> None:
        on_result = args[5]

        def and_press(each: object) -> None:
            on_result(each)
            signal.raise_signal(signal.SIGINT)

        checked(*args[:5], and_press, **keywords)

    with monkeypatch.context() as interrupted:
        interrupted.setattr(run, "check_clips", stopped)
        code, out, err = typed("check", folder, "--jobs", "1")
    assert (code, err) == (130, "")
    page = folder / "checked" / "practice.html"
    assert out.splitlines()[-2:] == [
        f"The page: {page}",
        "Stopped: 1 of 3 clips are done and kept; run the same command to go on.",
    ]
    assert "1</b> rep:" in page.read_text("utf-8")
    assert "still running" not in page.read_text("utf-8")
    code, out, _ = typed("check", folder)
    assert code == 0
    assert "1 clip measured before." in out.splitlines()


@dataclasses.dataclass(frozen=True)
class ScriptedDrawing(Task):
    """Does what the clip's name says."""

    def run(self, reader: None) -> list[str]:
        if self.name.startswith("unclear"):
            os.kill(os.getpid(), signal.SIGKILL)
        if self.name.startswith("upright"):
            raise RuntimeError("out of ink")
        return [f"{self.name}: cannot be drawn on."]


def test_what_cannot_be_drawn_is_said_and_costs_no_measure(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def scripted(record: object, practice: Practice, result: ClipResult) -> Task:
        return ScriptedDrawing(practice.clip_key(result.path), result.path, 60.0)

    monkeypatch.setattr("posecheck.pages.draw_tasks.drawing_of", scripted)
    code, out, _ = typed("check", folder, "--jobs", "1")
    assert code == 1  # posecheck itself failed at one of them
    lines = out.splitlines()
    assert "breakdown-1.mp4: cannot be drawn on." in lines
    assert (
        "unclear-1.mp4: it could not be drawn on, its worker was stopped from outside twice; run "
        "the same command again."
    ) in lines
    assert (
        "The clips could not be drawn on (RuntimeError: out of ink); all measures are kept; for "
        "details see posecheck.log in the output folder."
    ) in lines
    assert len(rep_lines(out)) == 3
    assert (folder / "checked" / "practice.html").exists()


def test_ctrl_c_while_what_is_on_record_passes_by(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed("check", folder)
    is_forgotten = Record.is_forgotten

    def pressed(record: Record, digest: str) -> bool:
        signal.raise_signal(signal.SIGINT)
        monkeypatch.setattr(Record, "is_forgotten", is_forgotten)
        return is_forgotten(record, digest)

    monkeypatch.setattr(Record, "is_forgotten", pressed)
    code, out, err = typed("check", folder)
    assert (code, err) == (130, "")
    assert out.splitlines()[-1].startswith("Stopped: 1 of 3 clips are done and kept")
    assert "<b>3</b> reps:" in (folder / "checked" / "practice.html").read_text("utf-8")


def test_a_second_ctrl_c_stops_at_once(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def press(*_: object, **__: object) -> None:
        signal.raise_signal(signal.SIGINT)

    with monkeypatch.context() as interrupted:
        interrupted.setattr(run, "say_rep", press)
        interrupted.setattr("posecheck.pages.publish.write_page", press)
        code, out, err = typed("check", folder, "--jobs", "1")
    assert (code, err) == (130, "")
    assert out.splitlines()[-1] == (
        "Stopped at once; what is done is kept, run the same command to go on."
    )


def test_ctrl_c_while_the_page_is_written(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page is written to its end."""
    write = publish.write_page

    def pressed(*args: object, **keywords: object) -> Path:
        signal.raise_signal(signal.SIGINT)
        return write(*args, **keywords)

    monkeypatch.setattr("posecheck.pages.publish.write_page", pressed)
    monkeypatch.setattr("posecheck.cli.along.Along.write", lambda *_: None)
    code, out, err = typed("check", folder)
    assert (code, err) == (130, "")
    assert out.splitlines()[-1].startswith("Stopped: 3 of 3 clips are done and kept")
    assert "<b>3</b> reps:" in (folder / "checked" / "practice.html").read_text("utf-8")


def test_a_second_check_waits_for_the_first(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    results = folder / "checked"
    held = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, pathlib, posecheck.files.one_at_a_time as one\n"
            "with one.one_at_a_time(pathlib.Path(sys.argv[1])):\n"
            "    print('held', flush=True)\n"
            "    sys.stdin.read()",
            str(results),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert held.stdout is not None and held.stdout.readline() == "held\n"
    code, _, err = typed("rejudge", folder, "--keep")
    assert code == 2  # nothing has been checked yet
    threading.Timer(1.5, held.kill).start()
    code, out, err = typed("check", folder)
    assert (code, err) == (0, "")
    said = f"Another check is running in {results}; this one waits until it has ended, and then "
    assert out.splitlines().count(said + "measures what is left.") == 1
    held.communicate()


# -- the other commands --------------------------------------------------------------------------


def test_rejudging_shows_what_would_change_and_keeps_it_when_asked(
    typed: Typed, folder: Path
) -> None:
    typed("check", folder)
    for path in [*folder.glob("*.mp4"), *folder.rglob("*.parquet")]:
        path.unlink()  # neither film nor series is needed
    # The made-up breakdown has 58 degrees of bend, 52 to 64.
    limits = thresholds(folder, "min_knee_bend_deg = 70")
    code, out, err = typed("rejudge", folder, "--thresholds", limits)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Judged by your own limits (limits.toml): knee bend, at least 70°."
    assert lines[1].startswith("breakdown-1.mp4  Sam Birch (7)  clear -> FLAGGED  ")
    assert "70°" in lines[1]
    assert lines[-1].endswith(" of 3 reps judged differently.")
    # without --keep nothing is kept
    assert typed("rejudge", folder)[1] == "0 of 3 reps judged differently.\n"


def test_rejudging_with_keep_writes_verdicts_and_page(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    page = folder / "checked" / "practice.html"
    before = page.read_text("utf-8")
    limits = thresholds(folder, "min_knee_bend_deg = 70")
    code, out, _ = typed("rejudge", folder / "checked", "--thresholds", limits, "--keep")
    assert code == 0
    assert out.splitlines()[-1] == f"The page: {page}"
    assert page.read_text("utf-8") != before
    again = typed("rejudge", folder, "--thresholds", limits)
    assert again[1].endswith("0 of 3 reps judged differently.\n")


def test_verdicts_are_not_kept_while_a_check_runs(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    with one_at_a_time(folder / "checked"):
        assert typed("rejudge", folder)[0] == 0
        code, _, err = typed("rejudge", folder, "--keep")
    assert code == 1
    assert err == (
        f"posecheck: {folder / 'checked'}: a check is running in this folder; let it finish or "
        "stop it with Ctrl-C, then run the same command again.\n"
    )


def test_rejudging_reads_the_plan_again(typed: Typed, folder: Path) -> None:
    """The made-up breakdown arrives half a metre topside: right for "alley", wrong for "middle"."""
    typed("check", folder)
    in_practice(folder, PRACTICE.replace('"alley"', '"middle"'))
    _, out, _ = typed("rejudge", folder)
    assert "breakdown-1.mp4  Sam Birch (7)  clear -> FLAGGED" in out
    assert "    Came from the wrong side: clear -> FLAGGED" in out.splitlines()


def test_a_spot_put_right_by_hand_turns_the_sides(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    path = folder / "practice.toml"
    before = path.read_text("utf-8")
    changed = before.replace(
        'file = "upright-1.mp4"\nspot = "top-left"', 'file = "upright-1.mp4"\nspot = "side-right"'
    )
    assert changed != before

    def side() -> float:
        with Record(folder / "checked/record.sqlite") as record:
            (rep,) = (
                each
                for each in record.measured_reps(read_practice(folder))
                if "upright" in str(each.clip)
            )
        return rep.measures["approach_offset_m"].value

    assert side() == -0.4
    path.write_text(changed, "utf-8")
    _, out, _ = typed("rejudge", folder)
    assert out.splitlines()[0] == (
        "Another spot than when it was measured: upright-1.mp4. Sides are those of the new spot; "
        "posecheck check measures again, since the spot helps to tell who is who."
    )
    assert side() == -0.4  # only looked at
    _, kept, _ = typed("rejudge", folder, "--keep")
    assert kept.startswith(out)
    assert side() == 0.4
    _, out, _ = typed("rejudge", folder)
    assert "Another spot" not in out
    path.write_text(before, "utf-8")
    assert "Another spot" in typed("rejudge", folder, "--keep")[1]
    assert side() == -0.4


def test_a_rep_in_full(typed: Typed, folder: Path) -> None:
    typed("check", folder)
    for name in ("upright-1", "upright-1.mp4", str(folder / "upright-1.mp4")):
        code, out, err = typed("rep", folder, name)
        assert (code, err) == (0, "")
        lines = out.splitlines()
        assert lines[0] == "upright-1.mp4  Zoé [Vale] (12)"
        assert lines[1].startswith("FLAGGED  ")
        assert lines[2] == (
            "The defender leaves at 0.40 s, brakes at 1.70 s, arrives at 2.30 s, give or take "
            "0.08 s; the defender is the one who leaves the inside. Distances from 6 marked "
            "points, fit to 4 cm."
        )
        cells = [re.split(r"\s{2,}", line.strip()) for line in lines]
        assert ["Knee bend", "17°", "11 to 23°", "38 of 41 frames"] in cells
        assert ["Arrival speed", "5.6 m/s", "5.4 to 5.8 m/s", "38 of 41 frames"] in cells
        assert ["Base", "1.0", "0.8 to 1.1", "38 of 41 frames"] in cells
        assert "FLAGGED  Ran out upright" in lines
        film = lines.index("Film: usable.")
        assert lines[film + 1] == (
            "    size: usable, he is 160 px tall at arrival. Move 3 m nearer, so that he is 200 px "
            "tall."
        )


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["uprihgt-1"], "uprihgt-1: no clip of this name is on record; did you mean upright-1?"),
        (["zzz"], "zzz: no clip of this name is on record; the page lists all that are."),
        (["upright-1", "2"], "upright-1.mp4: there is no rep 2 in it; it holds 1 rep."),
    ],
)
def test_a_rep_that_is_not_there(
    typed: Typed, folder: Path, words: list[str], sentence: str
) -> None:
    code, _, err = typed("check", folder)
    assert (code, err) == (0, "")
    assert typed("rep", folder, *words) == (2, "", f"posecheck: {sentence}\n")


def test_a_clip_without_a_rep(typed: Typed, folder: Path) -> None:
    film(folder / "nobody.mp4")
    typed("check", folder)
    sentence = "nobody.mp4: nobody closes out in it; name only clips that show a rep."
    assert typed("rep", folder, "nobody") == (4, f"{sentence}\n", "")


def test_limits_of_his_own_are_kept_until_the_coach_asks_for_the_usual(
    typed: Typed, folder: Path
) -> None:
    """A breakdown of 58 degrees is clear by the usual 45, and stays high where 70 are asked for."""

    def judged(*words: object) -> tuple[str, list[str]]:
        _, out, _ = typed(*words)
        said = [line for line in out.splitlines() if line.startswith("Judged by")]
        flagged = "Sam Birch (7) 2 2 0 0" in " ".join(out.split())
        return "flagged" if flagged else "clear", said

    own = "knee bend, at least 70°."
    assert judged("check", folder) == ("clear", [])
    limits = thresholds(folder, "min_knee_bend_deg = 70")
    named = judged("check", folder, "--thresholds", limits)
    assert named == ("flagged", [f"Judged by your own limits (limits.toml): {own}"])
    as_last_time = f"Judged by your own limits (as last time; the usual ones with --usual): {own}"
    assert judged("check", folder) == ("flagged", [as_last_time])
    assert judged("rejudge", folder)[1] == [as_last_time]
    assert judged("check", folder, "--usual") == ("clear", [])
    assert judged("check", folder) == ("clear", [])
    # A file of the usual name in the practice's folder needs no naming.
    limits.rename(folder / "thresholds.toml")
    in_folder = f"Judged by your own limits (thresholds.toml in the practice's folder): {own}"
    assert judged("check", folder) == ("flagged", [in_folder])


def test_limits_that_a_link_no_longer_leads_to_are_not_dropped(typed: Typed, folder: Path) -> None:
    (folder / "thresholds.toml").symlink_to(folder / "gone.toml")
    code, out, err = typed("check", folder)
    assert (code, out) == (2, "")
    assert err == f"posecheck: {folder}/thresholds.toml: there is no such file; check the name.\n"


def test_marks_that_were_refused_are_said_once(
    typed: Typed, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sentence = "The marked points were not used: view 'side': its marks do not fit together."

    measure = functools.partial(measure_with_remark, sentence)
    scripted = functools.partial(batch.check_clips, measure=measure, open_reader=no_reader)
    monkeypatch.setattr(run, "check_clips", scripted)
    _, out, _ = typed("check", folder, "--jobs", "1")
    assert [line for line in out.splitlines() if "marked points" in line] == [
        f"{sentence} (breakdown-1.mp4, unclear-1.mp4, upright-1.mp4)"
    ]


def test_a_short_name_that_means_several_clips(typed: Typed, folder: Path) -> None:
    (folder / "left").mkdir()
    (folder / "left" / "upright-1.mp4").write_bytes((folder / "upright-1.mp4").read_bytes())
    write_film(folder / "upright-1.mp4", range(0, 3000, 100), size=(320, 240))
    typed("check", folder)
    assert typed("rep", folder, "upright-1") == (
        2,
        "",
        "posecheck: upright-1: 2 clips go by this name; name one of left/upright-1.mp4, "
        "upright-1.mp4.\n",
    )
    code, out, _ = typed("rep", folder, "left/upright-1.mp4")
    assert code == 0 and out.startswith("left/upright-1.mp4")


def test_help_shows_every_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    commands = typer.main.get_command(cli.app).commands  # type: ignore[attr-defined]
    for name, command in commands.items():
        shown = CliRunner().invoke(cli.app, [name, "--help"]).output
        wanted = [
            option
            for option in command.params
            if not option.required
            and option.name != "help"
            and not getattr(option, "is_flag", 0)
            # One of two ways to say whom: there is no default.
            and (name, option.name) != ("player", "number")
        ]
        assert shown.count("[default:") >= len(wanted), (name, [o.name for o in wanted])


def test_a_thresholds_file_that_is_written_can_be_used(typed: Typed, folder: Path) -> None:
    limits = folder / "limits.toml"
    code, out, err = typed("thresholds", limits)
    assert (code, err) == (0, "")
    assert out == (
        f"{limits} is written; edit it, then: posecheck rejudge FOLDER --thresholds {limits}\n"
        "In the practice's folder under the name thresholds.toml it is used without being named.\n"
    )
    typed("check", folder)
    # it holds the usual limits
    _, out, _ = typed("rejudge", folder, "--thresholds", limits)
    assert out == "0 of 3 reps judged differently.\n"


def test_the_model_is_set_up(typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "posecheck.pose.model_files.pose_model_path",
        lambda variant, folder, reader: folder / f"pose_{variant}.task",
    )
    assert typed("model", "--variant", "heavy", "--models", tmp_path) == (
        0,
        f"The pose model is ready: {tmp_path / 'pose_heavy.task'}\n",
        "",
    )


@pytest.mark.parametrize("npm", [True, False])
def test_the_heavy_model_is_set_up_where_npm_is(
    typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, npm: bool
) -> None:
    files = "posecheck.pose.model_files"
    monkeypatch.setattr(
        f"{files}.pose_model_path", lambda variant, folder, reader: folder / f"pose_{variant}.task"
    )
    monkeypatch.setattr(f"{files}.shutil.which", lambda tool: f"/bin/{tool}" if npm else None)
    code, out, err = typed("model", "--models", tmp_path)
    assert (code, err) == (0, "")
    first, second = out.splitlines()
    assert first == f"The pose model is ready: {tmp_path / 'pose_full.task'}"
    assert second == (
        f"The one for arrivals too: {tmp_path / 'pose_heavy.task'}"
        if npm
        else "The heavy model, for a second look at arrivals, comes through npm, which is not "
        "installed; everything works without it."
    )


def test_without_the_heavy_model_the_set_up_succeeds(
    typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def path(variant: str, folder: Path, reader: Reader) -> Path:
        if variant == "heavy":
            raise ModelError("It could not be fetched.")
        return folder / f"pose_{variant}.task"

    monkeypatch.setattr("posecheck.pose.model_files.pose_model_path", path)
    monkeypatch.setattr("posecheck.pose.model_files.shutil.which", lambda tool: f"/bin/{tool}")
    code, out, err = typed("model", "--models", tmp_path)
    assert (code, err) == (0, "")
    assert out.splitlines()[1] == (
        "It could not be fetched. That was the heavy model, for a second look at arrivals; "
        "everything works without it."
    )


def test_the_demo_checks_the_sample_practice(
    typed: Typed, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posecheck.cli.demo.sample_practice_folder", lambda: folder)
    code, out, _ = typed("demo", "--out", tmp_path / "demo")
    assert code == 0
    assert out.splitlines()[-1] == f"The page: {tmp_path / 'demo' / 'practice.html'}"
    assert not (folder / "checked").exists()


def test_the_demo_without_a_checkout(
    typed: Typed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("posecheck.__file__", str(tmp_path / "posecheck" / "__init__.py"))
    assert typed("demo") == (
        2,
        "",
        "posecheck: The sample practice is not installed with posecheck; clone the repository and "
        "run posecheck demo from the checkout, or check clips of your own.\n",
    )


def test_help_is_instant_and_tells_the_exit_codes() -> None:
    """Nothing heavy is loaded by help, not even numpy."""
    program = (
        "import sys; sys.argv = ['posecheck', '--help']\n"
        "from posecheck.cli.commands import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'mediapipe', 'cv2', 'av', 'pyarrow', 'numpy', 'scipy', 'jinja2'}\n"
        "print('loaded:', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "loaded: []"
    said = " ".join(done.stdout.split())
    for code in ("0 all clips measured", "2 the command or a settings file", "130 stopped"):
        assert code in said


# -- files of any name and kind ------------------------------------------------------------------

ODD_NAMES = [
    os.fsdecode(b"breakdown caf\xe9.mp4"),  # no UTF-8
    "breakdown \x1b[2J\x07\nand \u202e.mp4",
    "breakdown-" + "b" * 241 + ".mp4",  # 255 bytes, the most that a file system takes
    "breakdown <b>&amp;\"'.mp4",
]


def test_names_of_any_bytes_are_measured_and_shown_safely(typed: Typed, tmp_path: Path) -> None:
    for name in ODD_NAMES:
        film(tmp_path / name)
    os.mkfifo(tmp_path / "pipe \x1b.mp4")
    film(tmp_path / os.fsdecode(b"nobody \xff.mp4"))
    code, out, err = typed("check", tmp_path, "--jobs", "1")
    assert (code, err) == (3, "")
    assert len(re.findall(r"^breakdown.*  clear  ", out, re.MULTILINE)) == len(ODD_NAMES)
    for shown in (
        r"breakdown caf\xe9.mp4  ",
        r"breakdown \x1b[2J\x07\nand \u202e.mp4  ",
        f"breakdown-{'b' * 241}.mp4  ",
        r"pipe \x1b.mp4: this is a pipe and no file; copy the film itself here.",
        r"nobody \xff.mp4: nobody closes out in it",
    ):
        assert shown in out
    assert not set(out) & set("\x1b\x07\u202e")
    page = (tmp_path / "checked" / "practice.html").read_bytes().decode("utf-8")
    assert not set(page) & set("\x1b\x07\u202e")
    # What was measured is on record under the same names.
    code, out, _ = typed("check", tmp_path, "--jobs", "1")
    assert code == 3
    assert f"{len(ODD_NAMES) + 1} clips measured before." in out
    code, out, err = typed("rep", tmp_path, ODD_NAMES[0])
    assert (code, err) == (0, "")
    assert r"breakdown caf\xe9.mp4" in out
