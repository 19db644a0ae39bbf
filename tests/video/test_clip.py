"""Opening clips: times, turns, pixel formats, and every kind of file that is no clip."""

from __future__ import annotations

import itertools
import os
import socket
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from films import marked_picture, write_film, write_sound

from posecheck.errors import UnreadableClip, UsageError
from posecheck.video.clip import open_clip
from posecheck.video.folder import find_clips
from posecheck.video.sound import read_sound

UNEVEN_MS = [0, 33, 67, 100, 150, 180, 260, 261, 300]


def colours(rgb: np.ndarray) -> list[str]:
    """Colour in the middle of each quarter: top left, top right, bottom left, bottom right."""
    height, width = rgb.shape[:2]
    names = []
    for y, x in itertools.product((height // 4, 3 * height // 4), (width // 4, 3 * width // 4)):
        red, _, blue = rgb[y, x].astype(int)
        names.append("red" if red - blue > 80 else "blue" if blue - red > 80 else "grey")
    return names


def test_times_are_the_frames_own(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4", UNEVEN_MS))
    assert clip.t_s == pytest.approx(np.array(UNEVEN_MS) / 1000, abs=1e-9)
    assert clip.n_frames == 9
    frames = list(clip.frames())
    assert [frame.t_s for frame in frames] == list(clip.t_s)
    assert [frame.index for frame in frames] == list(range(9))
    # the right picture at the right time: grey is 40 + 4 per frame
    assert [int(frame.rgb[10, -10, 1]) for frame in frames] == pytest.approx(
        [40 + 4 * index for index in range(9)], abs=3
    )


def test_time_starts_at_the_first_frame(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mkv", range(5000, 5400, 40)))
    assert clip.t_s == pytest.approx(np.arange(0, 0.4, 0.04))


def test_slow_motion_is_played_at_the_speed_of_life(tmp_path: Path) -> None:
    """240 frames a second played at 25: a frame is 1/240 s, not 1/25 s."""
    clip = open_clip(write_film(tmp_path / "a.mp4", range(0, 1000, 40)), slow_motion=9.6)
    assert np.diff(clip.t_s) == pytest.approx(1 / 240)
    assert clip.rate_hz == pytest.approx(240)


def test_a_span_of_frames(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4", UNEVEN_MS))
    assert [frame.index for frame in clip.frames(0.1, 0.26)] == [3, 4, 5, 6]
    which = np.zeros(9, bool)
    which[[2, 7]] = True
    assert [frame.index for frame in clip.frames(which=which)] == [2, 7]
    assert [frame.index for frame in clip.frames(0.1, which=which)] == [7]


@pytest.mark.parametrize(
    ("rotation_deg", "upright"),
    [
        # red lies top left and blue bottom right in what is stored; worked by hand
        (0, ["red", "grey", "grey", "blue"]),
        (90, ["grey", "red", "blue", "grey"]),
        (180, ["blue", "grey", "grey", "red"]),
        (270, ["grey", "blue", "red", "grey"]),
    ],
)
def test_a_turned_phone(tmp_path: Path, rotation_deg: int, upright: list[str]) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4", rotation_deg=rotation_deg))
    assert clip.rotation_deg == rotation_deg
    size = (128, 96) if rotation_deg in (0, 180) else (96, 128)
    assert (clip.width_px, clip.height_px) == size
    rgb = next(clip.frames()).rgb
    assert rgb.shape == (size[1], size[0], 3)
    assert colours(rgb) == upright
    glimpse = next(clip.glimpses(64))
    assert glimpse.grey.shape == (size[1] * 64 // 128, size[0] * 64 // 128)
    assert np.array_equal(glimpse.rgb, rgb)


def test_a_turn_that_is_nearly_right_is_taken_as_right(tmp_path: Path) -> None:
    path = write_film(tmp_path / "a.mp4", rotation_deg=90)
    data = path.read_bytes()
    # a = sin 1 degree in 16.16 instead of 0
    start = data.index(b"tkhd") + 44
    path.write_bytes(data[:start] + (1144).to_bytes(4, "big") + data[start + 4 :])
    assert open_clip(path).rotation_deg == 90


@pytest.mark.parametrize(
    ("shape", "rotation_deg", "size"),
    [
        # 128 x 96 stored; worked by hand, nothing of the picture is made smaller
        (Fraction(4, 3), 0, (171, 96)),
        (Fraction(4, 3), 90, (96, 171)),
        (Fraction(2, 3), 0, (128, 144)),
        (Fraction(2, 3), 270, (144, 128)),
        (Fraction(1), 0, (128, 96)),
        # Nearly square, and what no picture is.
        (Fraction(1001, 1000), 0, (128, 96)),
        (Fraction(30, 1), 0, (128, 96)),
        (Fraction(1, 99), 180, (128, 96)),
    ],
)
def test_pixels_that_are_not_square(
    tmp_path: Path, shape: Fraction, rotation_deg: int, size: tuple[int, int]
) -> None:
    path = write_film(tmp_path / "a.mp4", pixel_shape=shape, rotation_deg=rotation_deg)
    clip = open_clip(path)
    assert (clip.width_px, clip.height_px) == size
    frame = next(clip.frames())
    assert frame.rgb.shape == (size[1], size[0], 3)
    # Where the red quarter ends is where it should be in the picture that is delivered.
    turned = {0: 0, 90: 3, 180: 2, 270: 1}[rotation_deg]
    upright = np.rot90(frame.rgb, k=4 - turned).astype(int)
    height, width = upright.shape[:2]
    red = upright[..., 0] - upright[..., 2] > 80
    assert red[height // 4].sum() == pytest.approx(width / 2, abs=2)
    assert red[:, width // 4].sum() == pytest.approx(height / 2, abs=2)
    glimpse = next(clip.glimpses(64))
    shrink = 64 / max(size)
    assert glimpse.grey.shape == (round(size[1] * shrink), round(size[0] * shrink))
    assert np.array_equal(glimpse.rgb, frame.rgb)


@pytest.mark.parametrize(
    ("size", "codec", "pix_fmt"),
    [
        ((128, 96), "libx264", "yuv420p"),
        ((128, 96), "libx264", "yuvj420p"),
        ((128, 96), "libx264", "yuv422p"),
        ((128, 96), "libx264", "yuv444p"),
        ((128, 96), "libx264", "yuv420p10le"),
        ((129, 97), "libx264", "yuv444p"),
        ((131, 67), "ffv1", "yuv420p"),
        ((130, 98), "libx264", "yuv420p"),
        ((128, 96), "ffv1", "gray"),
        ((128, 96), "ffv1", "bgr0"),
        ((128, 96), "mjpeg", "yuvj420p"),
        ((64, 64), "libx264", "yuv420p"),
    ],
)
def test_sizes_and_pixel_formats(
    tmp_path: Path, size: tuple[int, int], codec: str, pix_fmt: str
) -> None:
    path = write_film(tmp_path / "a.mkv", size=size, codec=codec, pix_fmt=pix_fmt)
    clip = open_clip(path)
    assert (clip.width_px, clip.height_px) == size
    assert clip.n_frames == 25
    frame = list(clip.frames())[20]
    assert frame.rgb.shape == (size[1], size[0], 3)
    assert frame.rgb.dtype == np.uint8
    grey_corner = frame.rgb[5, -5].astype(int)
    assert grey_corner == pytest.approx(marked_picture(20, *size)[5, -5].astype(int), abs=8)
    if pix_fmt != "gray":
        assert colours(frame.rgb) == ["red", "grey", "grey", "blue"]
    glimpse = list(clip.glimpses(10_000))[20]
    assert glimpse.grey.shape == (size[1], size[0])
    # brightness as published for standard-definition video, ITU-R BT.601: .299 R + .587 G + .114 B;
    # a picture may store it from 16 to 235 instead of 0 to 255
    luma = frame.rgb[5, -5].astype(float) @ (0.299, 0.587, 0.114)
    stored = 16 + luma * 219 / 255
    assert min(abs(glimpse.grey[5, -5] - luma), abs(glimpse.grey[5, -5] - stored)) < 4


@pytest.mark.parametrize(
    "name",
    [
        "zoé 日本 #1.mp4",
        "12:30 top.mp4",
        "concat:a.mp4",
        "50%03d.mp4",
        "-a.mp4",
        "a b'c\".mp4",
        os.fsdecode(b"caf\xe9 \xff.mp4"),
        "\x1b[2J\x07\nrep\u202e.mp4",
        "a" * 251 + ".mp4",
    ],
)
def test_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    write_film(tmp_path / name)
    assert open_clip(tmp_path / name).n_frames == 25
    assert read_sound(tmp_path / name) is None
    monkeypatch.chdir(tmp_path)
    assert open_clip(Path(name)).n_frames == 25


def test_the_digest_is_of_the_content(tmp_path: Path) -> None:
    """SHA-256 of the file as sha256sum prints it; of "abc": FIPS 180-2, appendix B.1."""
    from posecheck.files.digest import file_digest

    path = tmp_path / "a.mp4"
    path.write_bytes(b"abc")
    assert file_digest(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


# -- files that are damaged or no clips ----------------------------------------------------------


def cut(path: Path) -> None:
    """An MP4 copied only in part: the index at its end is missing."""
    write_film(path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])


def listen(path: Path) -> None:
    """A socket, which stays when nobody listens any more."""
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(path))


NO_VIDEO = "a.mp4: this is not a video, or it is damaged; copy it from the phone again."
TOO_FEW = "copy it from the phone again, or film the whole rep."


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda path: None, "a.mp4: there is no such file; check the name."),
        (Path.mkdir, "a.mp4: this is a folder; name the clips in it."),
        (os.mkfifo, "a.mp4: this is a pipe and no file; copy the film itself here."),
        (listen, "a.mp4: this is a socket and no file; copy the film itself here."),
        (
            lambda path: path.symlink_to("/dev/zero"),
            "a.mp4: this is a device and no file; copy the film itself here.",
        ),
        (Path.touch, "a.mp4: the file is empty; copy it from the phone again."),
        (lambda path: path.write_text("shopping list\n" * 500), NO_VIDEO),
        (lambda path: path.write_bytes(bytes(5000)), NO_VIDEO),
        (lambda path: path.write_text("#EXTM3U\n#EXTINF:9,\nhttp://localhost:9/a.ts\n"), NO_VIDEO),
        (
            lambda path: path.write_text("ffconcat version 1.0\nfile http://localhost:9/a\n"),
            NO_VIDEO,
        ),
        (cut, NO_VIDEO),
        (write_sound, "a.mp4: there is sound but no picture in it; film it again."),
        (
            lambda path: write_film(path, [0]),
            f"a.mp4: only 1 frame could be read from it; {TOO_FEW}",
        ),
        (
            lambda path: write_film(path, [0, 40, 80, 120]),
            f"a.mp4: only 4 frames could be read from it; {TOO_FEW}",
        ),
        (
            lambda path: write_film(path, size=(64, 62)),
            "a.mp4: the picture is only 64 x 62 pixels; film at 720p or better.",
        ),
    ],
)
def test_what_is_said_of_a_file(
    tmp_path: Path, make: Callable[[Path], object], sentence: str
) -> None:
    path = tmp_path / "a.mp4"
    make(path)
    with pytest.raises(UnreadableClip) as caught:
        open_clip(path)
    assert str(caught.value) == sentence
    assert caught.value.path == path


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (
            PermissionError(13, "Permission denied"),
            "a.mp4: you may not read this file; change its permissions or copy it again.",
        ),
        (
            OSError(5, "Input/output error"),
            "a.mp4: the file cannot be read (Input/output error); copy it from the phone again.",
        ),
    ],
)
def test_a_file_that_will_not_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, sentence: str
) -> None:
    path = write_film(tmp_path / "a.mp4")

    def refuse(self: Path, mode: str) -> None:
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(UnreadableClip) as caught:
        open_clip(path)
    assert str(caught.value) == sentence


def test_a_clip_that_vanishes_after_it_was_opened(tmp_path: Path) -> None:
    clip = open_clip(write_film(tmp_path / "a.mp4"))
    clip.path.unlink()
    with pytest.raises(UnreadableClip):
        next(clip.frames())


# -- finding clips -------------------------------------------------------------------------------


def test_clips_of_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = ["b.MP4", "c/a.mov", "c/d.mkv"]
    passed_over = [".b.mp4", ".hidden/a.mp4", "notes.txt", "done/clips/a.mp4", "done/record.sqlite"]
    for name in wanted + passed_over:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "c" / "loop").symlink_to(tmp_path)
    (tmp_path / "folder.mp4").mkdir()
    paths = [tmp_path / name for name in wanted]
    assert find_clips([tmp_path]) == paths
    # named twice, and a name that does not exist is kept so that it can be complained of
    gone = tmp_path / "gone.mp4"
    assert find_clips([paths[1], gone, tmp_path]) == [paths[1], gone, paths[0], paths[2]]
    monkeypatch.chdir(tmp_path)
    assert find_clips([Path("b.MP4"), tmp_path]) == [Path("b.MP4"), *paths[1:]]


def test_film_of_other_kinds_is_read_or_named(tmp_path: Path) -> None:
    read = ["a.3gp", "a.avi", "a.M2TS", "a.mkv", "a.mpg", "a.mts", "a.ts", "a.webm", "a.wmv"]
    for name in [*read, "b.gif", "b.h264", "b.jpg", "b.txt"]:
        (tmp_path / name).touch()
    said: list[str] = []
    assert {clip.name for clip in find_clips([tmp_path], said.append)} == set(read)
    assert said == [
        f"{tmp_path / name}: this was passed over, it is no film that posecheck reads; export it "
        "as an MP4."
        for name in ("b.gif", "b.h264")
    ]


def test_a_folder_that_may_not_be_looked_into(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(UsageError) as caught:
        find_clips([tmp_path])
    assert str(caught.value) == (
        f"{tmp_path}: the folder cannot be looked into (Permission denied); change its permissions "
        "or name the clips themselves."
    )


def test_one_folder_that_may_not_be_looked_into_does_not_end_the_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a/1.mp4", "closed/2.mp4", "z/3.mp4"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).touch()
    inside = Path.iterdir

    def refuse(self: Path) -> Iterator[Path]:
        if self.name == "closed":
            raise PermissionError(13, "Permission denied")
        return inside(self)

    monkeypatch.setattr(Path, "iterdir", refuse)
    said: list[str] = []
    assert find_clips([tmp_path], said.append) == [tmp_path / "a/1.mp4", tmp_path / "z/3.mp4"]
    assert said == [
        f"{tmp_path}/closed: this folder was passed over, it cannot be looked into (Permission "
        "denied); change its permissions."
    ]


def test_links_that_lead_round_in_a_circle(tmp_path: Path) -> None:
    (tmp_path / "a.mp4").touch()
    (tmp_path / "self").symlink_to(tmp_path / "self")
    (tmp_path / "self.mp4").symlink_to(tmp_path / "self.mp4")
    (tmp_path / "up").symlink_to(tmp_path)
    said: list[str] = []
    assert find_clips([tmp_path], said.append) == [tmp_path / "a.mp4", tmp_path / "self.mp4"]
    assert said == [
        f"{tmp_path}/up: this link to a folder was passed over; put the folder itself here."
    ]


def test_results_that_are_named_are_said_to_be_no_film(tmp_path: Path) -> None:
    (tmp_path / "checked/clips").mkdir(parents=True)
    (tmp_path / "checked/record.sqlite").touch()
    (tmp_path / "checked/clips/a.mp4").touch()
    said: list[str] = []
    assert find_clips([tmp_path / "checked"], said.append) == []
    assert said == [
        f"{tmp_path}/checked: results of posecheck are no film; name the practice's folder."
    ]
