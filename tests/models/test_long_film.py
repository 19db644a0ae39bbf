"""A long film made from clips, with its truth, and what a check found of it held against that."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from extra import needs_models_extra

from models.data import long_film
from models.data.long_film import LongFilm, TrueRep, make_long_film
from models.data.long_film_check import Beside, Checked, FoundRep, matched

pytestmark = needs_models_extra("pandas")

RATE_HZ = 30


def rendered(folder: Path, name: str, lightness: int, size=(320, 180), arrives=True) -> None:
    """A clip of 60 frames that get lighter, with as much truth as a long film asks for."""
    import av

    for inside in ("clips", "truth"):
        (folder / inside).mkdir(parents=True, exist_ok=True)
    with av.open(str(folder / "clips" / f"{name}.mp4"), "w") as container:
        stream = container.add_stream("libx264", rate=RATE_HZ)
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p"
        for at in range(60):
            picture = np.full((size[1], size[0], 3), lightness + at, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    moments = (
        {"start_s": 0.4, "arrival_s": 1.5} if arrives else {"start_s": None, "arrival_s": None}
    )
    facts = {"kind": "clean", "spot": "top", "view": "tripod", "defender": 1, **moments}
    (folder / "truth" / f"{name}.json").write_text(json.dumps(facts), "utf-8")
    scene = {"body": 1, "heights_m": [1.8, 1.8]}
    (folder / "truth" / f"{name}.scene.json").write_text(json.dumps(scene), "utf-8")
    names = [
        f"{side}_{part}"
        for part in ("hip", "knee", "ankle", "shoulder")
        for side in ("left", "right")
    ]
    joints = np.zeros((60, len(names), 3))
    joints[..., 2] = [1.0, 1.0, 0.5, 0.5, 0.1, 0.1, 1.5, 1.5]
    joints[:, ::2, 0], joints[:, 1::2, 0] = -0.1, 0.1
    joints[..., 1] = 10.0
    arrays = {
        "t_s": np.arange(60) / RATE_HZ,
        "joint_names": np.array(names),
        "defender_joints_m": joints,
        "knee_flexion_deg": np.zeros((60, 2)),
        "trunk_lean_deg": np.zeros(60),
        "camera_matrix": np.tile([[300.0, 0, 160], [0, 300, 90], [0, 0, 1]], (60, 1, 1)),
        # Looks along y, x to the right, the picture's y down.
        "camera_rotation": np.tile([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]], (60, 1, 1)),
        "camera_centre_m": np.tile([0.0, 0.0, 1.0], (60, 1)),
    }
    np.savez(folder / "truth" / f"{name}.npz", **arrays)


@pytest.fixture(scope="module")
def rendered_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rendered")
    for number, lightness in enumerate((20, 90, 160)):
        rendered(folder, f"foreign-{number:03d}", lightness)
    rendered(folder, "foreign-900", 20, size=(180, 320))
    return folder


@pytest.fixture(scope="module")
def made(rendered_in: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, LongFilm]:
    into = tmp_path_factory.mktemp("long")
    return into, make_long_film([rendered_in], [], into, 0.7, 3)


def lightness(film: LongFilm) -> np.ndarray:
    """Of every frame of the film, in order; a frame's number is its time."""
    import av

    levels = []
    with av.open(str(film.path)) as container:
        for at, frame in enumerate(container.decode(video=0)):
            assert frame.pts * frame.time_base == pytest.approx(at / RATE_HZ)
            levels.append(float(frame.to_ndarray(format="gray")[::40, ::40].mean()))
    return np.array(levels)


def test_the_film_shows_what_its_truth_says(made: tuple[Path, LongFilm]) -> None:
    _, film = made
    levels = lightness(film)
    assert len(levels) == round(film.duration_s * RATE_HZ) >= 0.7 * 60 * RATE_HZ
    assert film.reps
    for rep in film.reps:
        # The truth says that it starts in the clip's frame 12 and arrives in frame 45.
        began = round((rep.start_s - 0.4) * RATE_HZ)
        assert rep.arrival_s - rep.start_s == pytest.approx(1.1, abs=1e-3)
        assert round(rep.end_s * RATE_HZ) - began == 60
        steps = np.diff(levels[began : began + 60])
        assert steps.mean() == pytest.approx(levels[began + 59] / 59 - levels[began] / 59)
        assert 0.6 < steps.mean() < 1.2, "it gets lighter as the clip does"
        # Then they walk back: the same pictures the other way round, slowly.
        back = np.diff(levels[began + 61 : began + 60 + 120])
        assert -0.6 < back.mean() < -0.2
        assert film.during(rep.arrival_s) == "rep"
        assert film.during(rep.end_s + 1) == "players walk back"
        assert film.during(rep.start_s - 0.6) == "players wait"


def test_hips_are_where_the_camera_sees_them(made: tuple[Path, LongFilm]) -> None:
    # Straight ahead at the height of the lens, 10 m away: the middle of the picture.
    (hip,) = {rep.hip_xy for rep in made[1].reps}
    assert hip == (0.5, 0.5)
    # And so they are from the clip's first picture on.
    for rep in made[1].reps:
        assert rep.seen_from_s == pytest.approx(rep.start_s - 0.4, abs=1e-3)


def test_clips_of_another_shape_are_left_out(made: tuple[Path, LongFilm]) -> None:
    assert {rep.clip for rep in made[1].reps} <= {"foreign-000", "foreign-001", "foreign-002"}


def test_the_camera_moves_where_nobody_walks_back_or_runs(made: tuple[Path, LongFilm]) -> None:
    _, film = made
    begins = {at for at, _ in film.pieces}
    assert film.camera_changes_s
    for change in film.camera_changes_s:
        assert round(change, 3) in begins
        assert not any(rep.start_s < change < rep.end_s for rep in film.reps)


def test_what_is_made_is_used_again(
    made: tuple[Path, LongFilm], rendered_in: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    into, film = made
    written = json.loads((into / "long-0.7-3.json").read_text("utf-8"))
    assert [rep["arrival_s"] for rep in written["reps"]] == [rep.arrival_s for rep in film.reps]
    monkeypatch.setattr(long_film, "_pictures", lambda piece: pytest.fail("made again"))
    before = film.path.read_bytes()
    film.path.unlink()
    assert make_long_film([rendered_in], [], into, 0.7, 3) == film
    assert film.path.read_bytes() == before


# -- what was found ------------------------------------------------------------------------------


def true_rep(arrival_s: float) -> TrueRep:
    return TrueRep(
        "foreign-001", arrival_s - 2, arrival_s, arrival_s + 1, (0.5, 0.5), 0.3, arrival_s - 3
    )


def found_rep(arrival_s: float | None) -> FoundRep:
    at = 0.0 if arrival_s is None else arrival_s
    return FoundRep(at - 2, arrival_s, (0.5, 0.5))


def test_each_true_rep_goes_with_one_that_was_found() -> None:
    true = [true_rep(10.0), true_rep(30.0), true_rep(50.0)]
    found = [found_rep(50.4), found_rep(10.45), found_rep(9.9), found_rep(30.6), found_rep(None)]
    # 30.6 is too far off, of the two near 10 the nearer counts, and the other is a false one.
    assert matched(true, found) == {0: 2, 2: 0}
    assert matched(true, []) == {}
    assert matched([], found) == {}


def checked(outcomes: str, false: int) -> Checked:
    """A check with a letter for each rep: found, listed, lost."""
    words = {"f": "found", "n": "listed", "l": "lost"}
    reps = tuple(
        Beside("moving-1", 0.0, 2.0, 3.0, words[each], None, 1.0, 1.5, 0.1, -0.2, True)
        if each == "f"
        else Beside("foreign-1", 0.0, 2.0, 3.0, words[each], each == "n")
        for each in outcomes
    )
    missed = tuple((float(at), "players walk back") for at in range(false))
    return Checked(40.0, reps, missed, 5, 10, 9, 1200.0, 600.0, 2, "0.12.0")


def test_shares_are_of_true_reps_and_of_what_is_given_as_reps() -> None:
    from models.score.long_film import asked, figures

    found, false = asked(checked("f" * 97 + "nnl", 3))
    assert (found.n, found.figure, found.reached) == (100, "97%", True)
    assert (false.n, false.figure, false.reached) == (100, "3%", True)
    found, false = asked(checked("f" * 96 + "nnll", 4))
    assert (found.reached, false.reached) == (False, False)
    table = figures(checked("fff" + "nl", 1)).figure
    assert table["reps found, listed as not sure, lost"] == "3 / 1 / 1"
    assert table["the same of moving film"] == "3 / 0 / 0"
    assert table["the same of foreign film"] == "0 / 1 / 1"
    assert table["the same of clips whose rep is found in the clip by itself"] == "0 / 1 / 0"
    assert table["cut out from before the start to 0.3 s after arrival"] == "3 of 5"
    assert not any("into view" in each for each in table.index)  # not known
    assert table["arrival off by (median)"] == "0.20 s, nine in ten within 0.20 s"
    assert table["processor time for a minute of film"] == "30.0 s"


def test_an_expected_arrival_is_found_and_counted_apart() -> None:
    from models.score.long_film import asked, figures

    seen = checked("ffn", 0)
    first, *others = seen.reps
    one = replace(seen, reps=(replace(first, expected=True), *others))
    assert asked(one) == asked(seen)
    assert figures(one).figure["found by an arrival that is expected, not seen"] == "1 of 2"


def test_a_start_out_of_the_picture_is_counted_apart() -> None:
    from models.score.long_film import figures

    def beside(before_s: float, start_off_s: float, seen_from_s: float) -> Beside:
        found = ("found", None, before_s, 1.5, start_off_s, 0.0, True, seen_from_s)
        return Beside("foreign-1", 10.0, 12.0, 13.0, *found)

    reps = (beside(1.5, 0.1, 9.0), beside(-0.5, 1.2, 11.0), beside(-0.5, 0.6, 10.2))
    table = figures(Checked(1.0, reps, (), 0, 0, 0, 60.0, 60.0, 1, "0.12.0")).figure
    assert table["cut out from before the start to 0.3 s after arrival"] == "1 of 3"
    assert table["cut out so, or from before he comes into view (2 do, running)"] == "2 of 3"
    assert table["start off by (median)"].startswith("0.60 s")
    assert table["start off by (median) where it is in the picture"].startswith("0.10 s")


def test_a_film_in_which_nothing_was_found_is_scored_too() -> None:
    from models.cards.write import long_film_tables
    from models.score.long_film import asked

    found, false = asked(checked("ll", 0))
    assert (found.figure, found.reached, false.figure, false.reached) == ("0%", False, "0%", True)
    assert "nan" not in str(long_film_tables(checked("ll", 0)))
    assert "| 3 / 0 / 0 |" in str(long_film_tables(checked("fff", 0))["figures"])
