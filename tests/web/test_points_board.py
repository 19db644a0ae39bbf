"""Setting points in a page: what is shown, fitted, found and saved."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from films import write_film
from places import SAMPLES
from typer.testing import CliRunner

from posecheck.cli.commands import app
from posecheck.errors import SettingsError, UsageError
from posecheck.practice.field import closeout_layout
from posecheck.practice.notes import View
from posecheck.practice.reading import read_practice
from posecheck.web.points_board import FEW_MARKS_WARNING, PointsBoard

POINTS = closeout_layout().points
FAR = "clips/rep-13.mp4"


def practice(folder: Path, text: str = '[layout]\npreset = "five-spots"\n') -> Path:
    (folder / "practice.toml").write_text(text, "utf-8")
    return folder


@pytest.fixture
def small(tmp_path: Path) -> PointsBoard:
    """A film of 128 x 96 pixels, 25 grey frames that grow lighter, 40 ms apart."""
    write_film(tmp_path / "a.mp4")
    return PointsBoard(practice(tmp_path))


@pytest.fixture(scope="module")
def far(tmp_path_factory: pytest.TempPathFactory) -> PointsBoard:
    """The sample clip that shows the whole field from far away."""
    folder = practice(tmp_path_factory.mktemp("far"))
    (folder / "clips").mkdir()
    (folder / FAR).symlink_to(SAMPLES / FAR)
    return PointsBoard(folder)


def true_pixels(xyz_m: np.ndarray) -> np.ndarray:
    """Where points are in that clip, by OpenCV's projection from the clip's truth."""
    truth = np.load(SAMPLES / "truth" / "rep-13.npz")
    turn, _ = cv2.Rodrigues(truth["camera_rotation"][0].astype(float))
    shift = -truth["camera_rotation"][0].astype(float) @ truth["camera_centre_m"][0].astype(float)
    pixels, _ = cv2.projectPoints(
        xyz_m, turn, shift, truth["camera_matrix"][0].astype(float), np.zeros(4)
    )
    return pixels[:, 0]


def view(marks: dict[str, Any], size: tuple[int, int] = (1920, 1080)) -> dict[str, Any]:
    return {"name": "stand", "size": list(size), "time_s": 0.0, "marks": marks}


def true_marks(*names: str) -> dict[str, list[float]]:
    at = true_pixels(np.array([[*POINTS[name], 0.0] for name in names]))
    return {name: pixel.tolist() for name, pixel in zip(names, at, strict=True)}


def test_what_the_page_starts_from(small: PointsBoard) -> None:
    state = small.state()
    json.dumps(state)
    assert state["clips"] == [{"key": "a.mp4", "view": None, "spot": None}]
    assert [point["name"] for point in state["points"]][:1] == ["inside"]
    assert {point["name"]: tuple(point["at"]) for point in state["points"]} == dict(POINTS)
    assert state["crease_m"] == pytest.approx(2.7432)


def test_a_frame_is_the_one_nearest_in_time(small: PointsBoard) -> None:
    assert small.film.about("a.mp4") == {
        "size": [128, 96],
        "t_s": pytest.approx(np.arange(25) * 0.04),
    }
    jpeg = small.film.frame("a.mp4", 0.41)
    picture = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert picture.shape == (96, 128, 3)
    # Frame 10 of the film: 40 + 4 * 10.
    assert picture[20, 100] == pytest.approx([80, 80, 80], abs=4)
    assert small.film.frame("a.mp4", 99.0) != jpeg


def test_marks_that_fit_draw_the_field(far: PointsBoard) -> None:
    names = ["inside", "top", "top-right", "side-left", "side-right"]
    answer = far.fit(FAR, view(true_marks(*names)))
    json.dumps(answer)
    assert answer["fits"]
    assert (
        answer["sentence"] == "5 marked points, fit to 1 cm, lens 1.0x from these points; "
        "the phone is 2.2 m above the ground."
    )
    assert set(answer["errors_cm"]) == set(names)
    assert max(answer["errors_cm"].values()) < 1
    for name, pixel in answer["drawing"]["points"].items():
        assert pixel == pytest.approx(true_marks(name)[name], abs=1.5), name
    (ring,) = answer["drawing"]["crease"]
    angle = np.linspace(0, 2 * np.pi, 121)
    circle = 2.7432 * np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])
    assert np.array(ring) == pytest.approx(true_pixels(circle), abs=1.5)
    assert len(answer["drawing"]["grid"]) > 10


def test_marks_of_a_smaller_picture_are_scaled(far: PointsBoard) -> None:
    half = {
        n: [(x + 0.5) / 2 - 0.5, (y + 0.5) / 2 - 0.5] for n, (x, y) in true_marks(*POINTS).items()
    }
    answer = far.fit(FAR, view(half, (960, 540)))
    assert answer["fits"]
    assert max(answer["errors_cm"].values()) < 1


def test_four_points_come_with_a_warning(far: PointsBoard) -> None:
    answer = far.fit(FAR, view(true_marks("inside", "top", "top-right", "side-left")))
    assert answer["fits"]
    assert answer["sentence"].endswith(FEW_MARKS_WARNING)


def test_marks_that_do_not_fit_are_refused_in_a_sentence(far: PointsBoard) -> None:
    marks = true_marks("inside", "top", "top-right", "side-left", "side-right")
    marks["top"][0] += 80
    answer = far.fit(FAR, view(marks))
    assert not answer["fits"]
    assert answer["sentence"].startswith("The marks do not fit together, 'top' worst (")
    few = far.fit(FAR, view(true_marks("top")))
    assert few == {"fits": False, "sentence": "1 marked points are too few; mark at least 4."}


@pytest.mark.film
def test_points_are_found_and_then_fit(far: PointsBoard) -> None:
    answer = far.find(FAR)
    json.dumps(answer)
    assert answer["found"] == "6 cones and 2 goal posts found in the picture"
    for name, pixel in answer["marks"].items():
        # A cone 27 m away is 13 pixels wide.
        assert pixel == pytest.approx(true_marks(name)[name], abs=2.5), name
    assert far.fit(FAR, view(answer["marks"]))["fits"]


def test_a_film_without_cones_says_so(small: PointsBoard) -> None:
    answer = small.find("a.mp4")
    assert answer["found"] is None
    assert answer["sentence"].startswith("Not found: ")
    assert answer["sentence"].endswith(" Set them by hand.")


def test_what_is_saved_is_what_the_practice_says(small: PointsBoard) -> None:
    folder = small.practice.folder
    before = (folder / "practice.toml").read_bytes()
    unmarked = {"name": "later", "size": None, "time_s": 0.0, "marks": {}}
    saved = view({"top": [3.5, 4.25], "crease-left": [100, 20]}, (128, 96))
    assert small.save([saved, unmarked], {"a.mp4": "stand"}) == "points.toml"
    saved = read_practice(folder).notes_for(folder / "a.mp4").view
    assert saved == View("stand", (128, 96), 0.0, {"top": (3.5, 4.25), "crease-left": (100, 20)})
    assert (folder / "practice.toml").read_bytes() == before
    assert sorted(path.name for path in folder.iterdir()) == [
        "a.mp4",
        "points.toml",
        "practice.toml",
    ]
    again = PointsBoard(folder).state()
    assert [each["name"] for each in again["views"]] == ["stand", "later"]
    assert again["clips"][0]["view"] == "stand"


BAD_SAVES = {
    "unknown point": (
        [view({"tpo": [1, 2]})], {}, "stand: tpo is not a point of the layout; reload."
    ),
    "outside": ([view({"top": [1920, 2]})], {}, "stand: top is outside the picture; move it."),
    "two of a name": (
        [view({}), view({})], {}, "Two camera positions have the same name; change one."
    ),
    "unknown view": ([view({})], {"a.mp4": "x"}, "a.mp4 cannot be given to x; reload the page."),
    "not a number": (
        [view({"top": ["a", 2]})], {}, "The page sent something unreadable; reload it."
    ),
    "nameless": (
        [{**view({}), "name": " "}], {}, "A camera position has no name; give it one."
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD_SAVES)
def test_what_is_not_saved(small: PointsBoard, case: str) -> None:
    views, clips, sentence = BAD_SAVES[case]
    with pytest.raises(SettingsError) as caught:
        small.save(views, clips)
    assert str(caught.value) == sentence
    assert not (small.practice.folder / "points.toml").exists()


def test_a_practice_without_a_layout(tmp_path: Path) -> None:
    with pytest.raises(UsageError) as caught:
        PointsBoard(practice(tmp_path, 'name = "Tuesday"'))
    assert str(caught.value) == (
        f"{tmp_path / 'practice.toml'}: it has no layout, so there are no points to set; write "
        '[layout] and, below it, preset = "five-spots" into it.'
    )


def test_a_practice_without_clips(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="there are no clips in it; name their folder"):
        PointsBoard(practice(tmp_path))


def test_the_command_complains_about_a_folder_that_is_not_there(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["points", str(tmp_path / "nowhere")])
    assert isinstance(result.exception, UsageError)
    assert (
        str(result.exception) == f"{tmp_path / 'nowhere'}: there is no such folder; check the name."
    )
