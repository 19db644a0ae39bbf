"""Poses as arrays, and the readers' bookkeeping with a scripted model in place of the real one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from posecheck.errors import ModelError
from posecheck.maths.arrays import FloatArray
from posecheck.pose import reader as pose
from posecheck.pose.reader import PlayerReader, PoseReader
from posecheck.pose.reader_choice import Reader
from posecheck.pose.square import Square
from posecheck.pose.track import PlayerPose, PoseTrack

FRAME = np.zeros((480, 640, 3), dtype=np.uint8)
BODY = np.random.default_rng(4).uniform(size=(33, 2))
"""Landmarks of a made-up body, as shares of its box; two of them on the box's corners."""
BODY[0], BODY[32] = (0, 0), (1, 1)
BODY[27:29, 1] = 0.99  # ankles, below the shoulders


def body_in(box: tuple[float, float, float, float], visibility: float = 0.9) -> PlayerPose:
    left, top, right, bottom = box
    return PlayerPose(
        BODY * (right - left, bottom - top) + (left, top),
        np.zeros((33, 3)),
        np.full(33, visibility),
    )


class ScriptedModel:
    """Stands in for the model: ``script`` answers for each square, everything asked is kept."""

    def __init__(self, script: Callable[[Any], list[PlayerPose]]) -> None:
        self.script = script
        self.asked: list[Any] = []
        self.forgot_after: list[int] = []
        self.pointed_at: list[FloatArray] = []
        self.fills: PlayerPose | None = None
        self.closed = False

    def poses(self, picture: npt.NDArray[np.uint8], square: Any) -> list[PlayerPose]:
        assert picture.shape[0] == picture.shape[1]
        self.asked.append(square)
        return self.script(picture)

    def filling(
        self, picture: npt.NDArray[np.uint8], square: Any, box: FloatArray
    ) -> PlayerPose | None:
        self.pointed_at.append(box)
        return self.fills

    def forget(self) -> None:
        self.forgot_after.append(len(self.asked))

    def close(self) -> None:
        self.closed = True


def scripted(
    monkeypatch: pytest.MonkeyPatch, script: Callable[[Any], list[PlayerPose]]
) -> ScriptedModel:
    model = ScriptedModel(script)
    monkeypatch.setattr(pose, "open_landmarker", lambda *_, **__: model)
    return model


@pytest.mark.parametrize(
    ("wrong", "complaint"),
    [
        ({"xy_px": np.zeros((90, 33, 3))}, "xy_px: want (90, 33, 2), got (90, 33, 3)"),
        ({"world_m": np.zeros((90, 33, 2))}, "world_m: want (90, 33, 3), got (90, 33, 2)"),
        ({"score": np.zeros(90)}, "score: want (90, 33), got (90,)"),
        ({"t_s": np.zeros((90, 1))}, "t_s: want (n_frames,), got (90, 1)"),
        ({"score": np.zeros((89, 33))}, "score: want (90, 33), got (89, 33)"),
        ({"t_s": np.zeros(90)}, "t_s: want strictly increasing times"),
    ],
)
def test_track_is_checked_at_birth(wrong: dict[str, FloatArray], complaint: str) -> None:
    right = {
        "t_s": np.arange(90) / 30.0,
        "xy_px": np.zeros((90, 33, 2)),
        "world_m": np.zeros((90, 33, 3)),
        "score": np.zeros((90, 33)),
    }
    with pytest.raises(ValueError) as caught:
        PoseTrack(**(right | wrong))
    assert str(caught.value) == complaint


def test_pose_is_checked_at_birth() -> None:
    with pytest.raises(ValueError, match=r"^xy_px: want \(33, 2\), got \(17, 2\)$"):
        PlayerPose(np.zeros((17, 2)), np.zeros((33, 3)), np.zeros(33))


def test_frames_without_a_pose_are_nan() -> None:
    seen = body_in((0, 0, 10, 20))
    track = PoseTrack.from_poses(np.array([0.0, 0.03, 0.07]), [seen, None, seen])
    np.testing.assert_array_equal(track.xy_px[2], seen.xy_px)
    np.testing.assert_array_equal(track.score[0], seen.visibility)
    for array in (track.xy_px, track.world_m, track.score):
        assert np.isnan(array[1]).all()
        assert np.isfinite(array[[0, 2]]).all()
    with pytest.raises(ValueError, match=r"^poses: want one per frame \(3\), got 1$"):
        PoseTrack.from_poses(track.t_s, [seen])


@given(
    box=st.tuples(
        st.floats(-50, 600), st.floats(-50, 400), st.floats(4, 500), st.floats(4, 500)
    ).map(lambda b: (b[0], b[1], b[0] + b[2], b[1] + b[3])),
    at=st.tuples(st.integers(0, 639), st.integers(0, 479)),
)
def test_a_marked_pixel_is_found_again_through_the_crop(
    box: tuple[float, float, float, float], at: tuple[int, int]
) -> None:
    """Paint one pixel; where it lies in the crop must map back to where it was painted."""
    frame = FRAME.copy()
    frame[at[1], at[0]] = 255
    square = Square.around(box, margin=0.25)
    crop = square.picture(frame, max_side=10_000)
    inside = (
        square.left <= at[0] < square.left + square.side
        and square.top <= at[1] < square.top + square.side
    )
    assert crop.any() == inside
    if inside:
        row, column = np.argwhere(crop[..., 0])[0]
        # The model gives shares of the picture from edge to edge; a pixel's centre is at + 0.5.
        share = np.array([column + 0.5, row + 0.5]) / square.side
        np.testing.assert_allclose(square.to_frame(share), at, atol=1e-6)


@given(side=st.integers(400, 900) | st.sampled_from([1280, 1284, 1600, 2000]))
def test_shrinking_the_crop_moves_nothing(side: int) -> None:
    """The centre of mass of a bright patch is where it was, to a tenth of a pixel, or to a
    thirtieth of one of the crop's."""
    frame = np.zeros((1000, 1000, 3), dtype=np.uint8)
    frame[300:360, 200:240] = 200
    square = Square(left=100, top=100, side=side)
    crop = square.picture(frame, max_side=320)
    assert crop.shape == (320, 320, 3)
    rows, columns = np.indices(crop.shape[:2]) + 0.5
    weight = crop[..., 0] / crop[..., 0].sum(dtype=float)
    share = np.array([(columns * weight).sum(), (rows * weight).sum()]) / 320
    np.testing.assert_allclose(
        square.to_frame(share), (219.5, 329.5), atol=max(0.1, side / 320 / 30)
    )


@given(tall=st.integers(300, 2000))
def test_a_large_square_can_be_halved_twice(tall: int) -> None:
    square = Square.around((100, 50, 149, 49 + tall), margin=0.25)
    assert 1.5 * tall <= square.side < 1.5 * tall + 4.5
    assert square.side % 4 == 0 or square.side <= 640


def test_square_holds_the_box_and_its_margin() -> None:
    square = Square.around((100, 50, 149, 149), margin=0.25)
    # 50 x 100 pixels: the longer side is 100, with a quarter of it on both sides 150.
    assert (square.left, square.top, square.side) == (50, 25, 150)


def test_people_seen_in_two_regions_are_counted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    one, same_again = body_in((100, 100, 160, 300), 0.8), body_in((103, 98, 163, 299), 0.9)
    other = body_in((150, 100, 210, 300), 0.7)
    answers = iter([[one, other], [same_again]])
    model = scripted(monkeypatch, lambda _: next(answers))
    with PoseReader(Path("model")) as reader:
        people = reader.find_people(FRAME, [(0, 0, 639, 479), (50, 50, 249, 349)])
    assert people == [same_again, other]  # the surer reading of each, surest first
    assert [square.side for square in model.asked] == [640, 300]
    assert model.closed


def test_reader_keeps_to_the_players_body(monkeypatch: pytest.MonkeyPatch) -> None:
    box = (200.0, 100.0, 260.0, 300.0)
    model = scripted(monkeypatch, lambda _: [body_in(box)])
    with PlayerReader(Path("model")) as reader:
        found = reader.read(FRAME, box)
    assert found is not None
    np.testing.assert_allclose(found.box_xyxy, box)
    assert model.forgot_after == []


def test_reader_looks_again_with_others_painted_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bright second player stands in the crop; the model prefers him while he is visible."""
    box, neighbour = (200.0, 100.0, 260.0, 300.0), (270.0, 100.0, 330.0, 300.0)
    frame = FRAME.copy()
    frame[100:300, 272:330] = 255
    model = scripted(monkeypatch, lambda picture: [body_in(neighbour if picture.any() else box)])
    with PlayerReader(Path("model")) as reader:
        found = reader.read(frame, box)
    assert found is not None
    np.testing.assert_allclose(found.box_xyxy, box)
    assert model.forgot_after == [1]  # the wrong body is not followed into the second look


def test_a_body_read_head_down_is_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The model turns the picture as the body lies that it follows: it would go on like that."""
    box = (200.0, 100.0, 260.0, 300.0)
    upright = body_in(box)
    head_down = replace(upright, xy_px=upright.xy_px * (1, -1) + (0, 400))
    np.testing.assert_allclose(head_down.box_xyxy, box)
    answers = iter([[head_down], [upright]])
    model = scripted(monkeypatch, lambda _: next(answers))
    with PlayerReader(Path("model")) as reader:
        assert reader.read(FRAME, box) is upright
    assert model.forgot_after == [1]


def test_reader_would_rather_see_nothing_than_another_player(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    model = scripted(monkeypatch, lambda _: [body_in((270, 100, 330, 300))])
    model.fills = body_in((270, 100, 330, 300))
    with PlayerReader(Path("model")) as reader:
        assert reader.read(FRAME, (200, 100, 260, 300)) is None
    assert model.forgot_after == [1, 2, 2]


def test_reader_points_the_model_at_a_player_whom_it_does_not_find(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    box = (200.0, 100.0, 260.0, 300.0)
    model = scripted(monkeypatch, lambda _: [])
    model.fills = body_in(box)
    with PlayerReader(Path("model")) as reader:
        assert reader.read(FRAME, box) is model.fills


def test_a_player_is_looked_for_with_room_around_his_box(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a box that ends where he does, or before, the model reads him too small."""
    model = scripted(monkeypatch, lambda _: [])
    with PoseReader(Path("model")) as reader:
        reader.person_in(FRAME, (200.0, 100.0, 260.0, 300.0))
    np.testing.assert_allclose(model.pointed_at, [(194, 80, 266, 320)])


def test_reader_does_not_take_the_body_of_one_who_stands_in_front(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Read is a body that covers a third of the player's box and more of the other's."""
    box, front = np.array([200.0, 100, 260, 300]), np.array([230.0, 110, 300, 330])
    scripted(monkeypatch, lambda _: [body_in((228, 108, 290, 320))])
    with PlayerReader(Path("model")) as reader:
        assert reader.read(FRAME, box) is not None
        assert reader.read(FRAME, box, [front]) is None


@pytest.mark.parametrize("box", [(np.nan, 0, 1, 1), (10, 10, 10, 20), (10, 20, 20, 10)])
def test_reader_refuses_a_box_that_is_none(
    monkeypatch: pytest.MonkeyPatch, box: tuple[float, float, float, float]
) -> None:
    scripted(monkeypatch, lambda _: [])
    with PlayerReader(Path("model")) as reader, pytest.raises(ValueError, match=r"^box_xyxy: want"):
        reader.read(FRAME, box)


@pytest.mark.film
@pytest.mark.parametrize("reader", Reader)
def test_file_that_is_no_model(tmp_path: Path, reader: Reader) -> None:
    path = tmp_path / f"pose_full{reader.suffix}"
    path.write_bytes(b"not a model")
    with pytest.raises(ModelError) as caught:
        PoseReader(path)
    assert str(caught.value) == (
        f"{path} cannot be opened as a pose model; set the model up again with `posecheck model`."
    )


@pytest.mark.film
@pytest.mark.parametrize("reader", Reader)
def test_an_empty_picture_holds_nobody_and_says_nothing(
    pose_models: Callable[[Reader], Path], reader: Reader, capfd: pytest.CaptureFixture[str]
) -> None:
    model = pose_models(reader)
    with PoseReader(model) as reader_of_all, PlayerReader(model) as player:
        assert reader_of_all.read(FRAME) == []
        assert player.read(FRAME, (200, 100, 260, 300)) is None
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")
