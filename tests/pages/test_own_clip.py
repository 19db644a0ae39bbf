"""A player's own film: nobody else can be made out in it, and it says nothing of itself."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from factories import make_rep_result
from PIL import Image

from posecheck.camera.motion import CameraMotion
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import nearest_frame
from posecheck.measures.result import RepResult
from posecheck.pages.blurring import cell_px, shown_alone
from posecheck.pages.own_clip import (
    OwnFilm,
    bridged,
    others_px,
    own_film,
    standing_px,
    windows,
    with_post,
)
from posecheck.pages.tuning import OWN_CLIP_PX
from posecheck.players.track import Followed, PlayerTrack
from posecheck.pose.reader import PoseReader
from posecheck.pose.skeleton import SKELETON
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.video.clip import Clip, open_clip
from posecheck.video.own_film import COMMENT

ROUNDING = float(np.sqrt(20 / 12))
"""Detail of a picture that has none, rounded to whole numbers: the weights of the Laplacian, 4 and
four times 1, on an error of 1/sqrt(12)."""

SAMPLE = Path(__file__).resolve().parents[2] / "sample_clips"


class Scene:
    """A rendered clip with the true places of both players."""

    def __init__(self, name: str) -> None:
        self.clip: Clip = open_clip(SAMPLE / "clips" / f"{name}.mp4")
        self.truth = np.load(SAMPLE / "truth" / f"{name}.npz")
        self.defender, self.attacker = self._seen("defender"), self._seen("attacker")

    def _seen(self, who: str) -> FloatArray:
        """``(n, 33, 2)`` landmarks in the picture, NaN for what truth does not name."""
        joints = self.truth[f"{who}_joints_m"] - self.truth["camera_centre_m"][:, None]
        rays = np.einsum(
            "nij,njk,nlk->nli",
            self.truth["camera_matrix"],
            self.truth["camera_rotation"],
            joints,
        )
        points = rays[..., :2] / rays[..., 2:]
        landmarks = np.full((len(points), 33, 2), np.nan)
        for number, name in enumerate(self.truth["joint_names"]):
            if name in SKELETON.names:
                landmarks[:, SKELETON.index(str(name))] = points[:, number]
        return landmarks

    @property
    def rep(self) -> RepResult:
        usual = make_rep_result()
        t_s = self.clip.t_s
        n = len(t_s)
        series = replace(
            usual.series,
            t_s=t_s,
            **{name: np.full(n, np.nan) for name in ("knee_bend_deg", "trunk_lean_deg")},
            speed_mps=np.full(n, np.nan),
            defender_xy_m=np.full((n, 2), np.nan),
            attacker_xy_m=np.full((n, 2), np.nan),
            defender_xy_px=self.defender,
            attacker_xy_px=np.full((n, 33, 2), np.nan),  # the tracks alone must do
        )
        moments = Rep(float(t_s[0]), None, float(t_s[80]), float(t_s[-1]), ArrivalSource.ATTACKER)
        return replace(usual, rep=moments, series=series, picture_t_s=float(t_s[80]))

    @property
    def followed(self) -> Followed:
        """Both players with the boxes that a tracker would give them."""
        n = len(self.clip.t_s)
        tracks = tuple(
            PlayerTrack(number, box_of(points), np.ones(n, dtype=bool))
            for number, points in enumerate((self.defender, self.attacker))
        )
        still = CameraMotion(np.broadcast_to(np.eye(3), (n, 3, 3)).copy(), np.ones(n, dtype=bool))
        return Followed(self.clip.t_s, tracks, still)


def box_of(points: FloatArray) -> FloatArray:
    low, high = np.nanmin(points, axis=1), np.nanmax(points, axis=1)
    margin = 0.1 * (high - low)[:, 1:]
    return np.concatenate([low - margin, high + margin], axis=1)


@pytest.fixture(scope="module")
def reader(pose_model: Path) -> object:
    with PoseReader(pose_model) as opened:
        yield opened


def frames_of(film: OwnFilm) -> list[np.ndarray]:
    with av.open(io.BytesIO(film.mp4)) as container:
        return [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]


def detail(picture: np.ndarray) -> float:
    return float(cv2.Laplacian(picture.astype(np.float32), cv2.CV_32F).std())


@pytest.mark.film
@pytest.mark.parametrize("name", ["rep-02", "rep-04", "rep-06", "rep-12"])
def test_where_the_attacker_is_nobody_can_be_made_out(name: str, reader: PoseReader) -> None:
    """Side-on, from in front, from behind and with a moving camera; also where the two cross."""
    scene = Scene(name)
    rep = scene.rep
    boxes, tall = others_px(scene.followed, rep), standing_px(rep.series)
    found_before = found_after = 0
    which = np.zeros(scene.clip.n_frames, dtype=bool)
    which[30::12] = True
    for frame in scene.clip.frames(which=which):
        i = frame.index
        cell = cell_px(scene.clip.height_px, tall[i])
        shown = shown_alone(frame.rgb, scene.defender[i], tall[i], boxes[i], cell)
        left, top, right, bottom = box_of(scene.attacker[i : i + 1])[0].round().astype(int)
        inside = np.s_[max(0, top) : bottom, max(0, left) : right]
        assert detail(shown[inside]) < ROUNDING < 0.1 * detail(frame.rgb[inside])
        around = [left - 60, top - 60, right + 60, bottom + 60]
        for picture in (frame.rgb, shown):
            poses = reader.find_people(picture, [around])
            his = [p for p in poses if _on(p.xy_px, scene.attacker[i], scene.defender[i])]
            if picture is shown:
                found_after += len(his)
            else:
                found_before += len(his)
    assert found_before >= 5  # the same search does find him in the film itself
    assert found_after == 0


def _on(pose: FloatArray, attacker: FloatArray, defender: FloatArray) -> bool:
    """Whether a pose lies on the attacker, and not on the defender beside him."""
    hips = pose[[23, 24]].mean(axis=0)
    to_attacker, to_defender = (
        float(np.hypot(*(hips - body[[23, 24]].mean(axis=0)))) for body in (attacker, defender)
    )
    tall = float(np.ptp(attacker[:, 1][np.isfinite(attacker[:, 1])]))
    return to_attacker < 0.25 * tall and to_attacker < to_defender


@pytest.mark.film
def test_the_film_shows_one_player_and_carries_no_word(reader: PoseReader) -> None:
    scene = Scene("rep-02")
    film = own_film(scene.clip, scene.rep, scene.followed)
    frames = frames_of(film)
    assert all(frame.shape == (OWN_CLIP_PX[1], OWN_CLIP_PX[0], 3) for frame in frames)
    whole = [0, 0, *OWN_CLIP_PX]
    assert max(len(reader.find_people(frame, [whole])) for frame in frames[::10]) == 1

    with av.open(io.BytesIO(film.mp4)) as container:
        assert [stream.type for stream in container.streams] == ["video"]
        tags = {**container.metadata, **container.streams.video[0].metadata}
    # The same words in every film of posecheck's, so that none is ever taken for a rep.
    assert tags.pop("comment") == COMMENT
    assert set(tags) <= {"major_brand", "minor_version", "compatible_brands", "language",
                         "handler_name", "vendor_id"}  # fmt: skip
    assert tags.get("language", "und") == "und"
    assert tags.get("handler_name", "VideoHandler") == "VideoHandler"
    lower = film.mp4.lower()
    for word in (b"x264", b"lavc", b"lavf", b"libav", b"creation", b"rep-02", b"sample"):
        assert word not in lower
    assert b"\xa9too" not in film.mp4  # where an MP4 names its maker
    assert _creation_times(film.mp4) == {0}

    with Image.open(io.BytesIO(film.jpeg)) as still:
        assert not still.getexif()
        assert set(still.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert still.size == OWN_CLIP_PX


@pytest.mark.film
def test_with_the_attacker_in_the_picture_still_only_one_player_is_found(
    reader: PoseReader,
) -> None:
    scene = Scene("rep-02")
    rep = replace(scene.rep, series=replace(scene.rep.series, attacker_xy_px=scene.attacker))
    frames = frames_of(own_film(scene.clip, rep, scene.followed))
    whole = [0, 0, *OWN_CLIP_PX]
    assert max(len(reader.find_people(frame, [whole])) for frame in frames[::5]) == 1


def _creation_times(mp4: bytes) -> set[int]:
    """What the headers of film, track and medium say of when they were made and changed."""
    times = set()
    for name in (b"mvhd", b"tkhd", b"mdhd"):
        at = mp4.index(name) + 4
        assert mp4[at] == 0  # version 0: 32-bit times after version and flags
        times |= {int.from_bytes(mp4[at + k : at + k + 4]) for k in (4, 8)}
    return times


def test_whoever_is_lost_for_a_while_stays_hidden_where_he_was() -> None:
    rep = make_rep_result()
    n = len(rep.series.t_s)
    box = np.tile([1400.0, 270.0, 1600.0, 610.0], (n, 1))
    box[40:] = np.nan
    still = CameraMotion(np.broadcast_to(np.eye(3), (n, 3, 3)).copy(), np.ones(n, dtype=bool))
    track = PlayerTrack(0, box, np.ones(n, dtype=bool))
    boxes = others_px(Followed(rep.series.t_s, (track,), still), rep)
    assert all(any(np.array_equal(each, box[0]) for each in frame) for frame in boxes)


def test_the_player_s_own_track_hides_nothing() -> None:
    rep = make_rep_result()
    rep = replace(
        rep,
        series=replace(rep.series, attacker_xy_px=np.full_like(rep.series.attacker_xy_px, np.nan)),
    )
    n = len(rep.series.t_s)
    seen = np.isfinite(rep.series.defender_xy_px).all(axis=(1, 2))
    box = np.full((n, 4), np.nan)
    box[seen] = box_of(rep.series.defender_xy_px[seen])
    still = CameraMotion(np.broadcast_to(np.eye(3), (n, 3, 3)).copy(), np.ones(n, dtype=bool))
    own = PlayerTrack(0, box, seen)
    assert all(len(each) == 0 for each in others_px(Followed(rep.series.t_s, (own,), still), rep))


def test_short_gaps_of_the_outline_are_bridged_and_long_ones_are_not() -> None:
    t_s = np.arange(30) / 30
    xy = np.stack([np.arange(30.0), 2 * np.arange(30.0)], axis=1)[:, None].repeat(33, axis=1)
    gone = xy.copy()
    gone[5:8] = np.nan  # 0.13 s from sight to sight
    gone[15:25] = np.nan  # 0.37 s
    filled = bridged(t_s, gone)
    assert np.allclose(filled[:15], xy[:15])
    assert np.isnan(filled[15:25]).all()


@pytest.mark.parametrize("heights_off", [-1.2, -1.0, 0.0, 1.0, 1.2])
def test_the_piece_shown_holds_both_at_arrival(heights_off: float) -> None:
    rep = make_rep_result()
    arrival_s = rep.rep.arrival_s
    assert arrival_s is not None
    i = nearest_frame(rep.series.t_s, arrival_s)
    tall = standing_px(rep.series)
    his_x = rep.series.defender_xy_px[i, :, 0]
    attacker = rep.series.attacker_xy_px.copy()
    attacker[..., 0] += his_x.mean() + heights_off * tall[i] - attacker[i, :, 0].mean()
    cut = windows(replace(rep.series, attacker_xy_px=attacker), tall, (1920, 1080))[i]
    feet_x = attacker[i, list(SKELETON.indices("left_ankle", "right_ankle")), 0]
    assert cut.left < feet_x.mean() < cut.right
    assert cut.left < his_x.min() and his_x.max() < cut.right


def test_where_the_attacker_is_not_seen_the_player_stays_in_the_middle() -> None:
    rep = make_rep_result()
    series = replace(rep.series, attacker_xy_px=np.full_like(rep.series.attacker_xy_px, np.nan))
    tall = standing_px(series)
    for i, cut in enumerate(windows(series, tall, (1920, 1080))):
        his_x = series.defender_xy_px[i, :, 0]
        if np.isfinite(his_x).all() and cut.left > 0 and cut.right < 1920:
            off = (cut.left + cut.right) / 2 - (his_x.min() + his_x.max()) / 2
            assert abs(off) < 0.2 * tall[i]  # the piece glides, and he stops at once


def test_the_upright_stands_where_anything_of_the_attacker_is_seen() -> None:
    blank = np.zeros((480, 480, 3), np.uint8)
    body = np.full((33, 2), np.nan)
    assert not with_post(blank, body).any()
    for name, y in (("nose", 100.0), ("left_shoulder", 130.0), ("right_hip", 210.0)):
        body[SKELETON.index(name)] = 300.0, y
    rows, columns = np.nonzero(with_post(blank, body).any(axis=2))
    assert abs(rows.min() - 100) < 6 and abs(rows.max() - 210) < 6
    assert abs(columns.mean() - 300) < 2
    # Once a foot is seen, it stands there.
    body[SKELETON.index("left_ankle")] = 320.0, 300.0
    rows, columns = np.nonzero(with_post(blank, body).any(axis=2))
    assert abs(rows.max() - 300) < 6 and abs(columns.mean() - 320) < 2
