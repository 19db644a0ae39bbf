"""Parts of films hold the film's own pictures at the film's own times."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from films import turn

from posecheck.errors import UnreadableClip
from posecheck.video.clip import open_clip
from posecheck.video.sound import read_sound
from posecheck.video.stream_copy import copy_part, suffix_of_parts

UNEVEN_MS = np.cumsum([0, *([33, 34, 33, 40, 27] * 60)])
"""Times of 301 pictures at a variable rate, 10 s."""


@dataclass(frozen=True)
class Kind:
    """A kind of film: container, codec and how its pictures are stored."""

    suffix: str
    codec: str
    options: dict[str, str]
    rotation_deg: int = 0
    sound: str | None = None

    def write(self, path: Path) -> Path:
        """Every picture another: a bar whose place and grey say its number."""
        with av.open(f"file:{path}", "w") as container:
            picture = container.add_stream(self.codec, rate=30)
            picture.width, picture.height, picture.pix_fmt = 160, 96, "yuv420p"
            picture.codec_context.time_base = Fraction(1, 1000)
            picture.options = self.options
            sound = container.add_stream(self.sound, rate=48000) if self.sound else None
            for number, time_ms in enumerate(UNEVEN_MS):
                frame = av.VideoFrame.from_ndarray(_picture(number), format="rgb24")
                frame.pts, frame.time_base = int(time_ms), Fraction(1, 1000)
                container.mux(picture.encode(frame))
            container.mux(picture.encode(None))
            if sound is not None:
                for at in range(470):
                    loud = np.full((1, 1024), np.sin(at / 3), np.float32)
                    heard = av.AudioFrame.from_ndarray(loud, format="fltp", layout="mono")
                    heard.sample_rate, heard.pts = 48000, 1024 * at
                    container.mux(sound.encode(heard))
                container.mux(sound.encode(None))
        if self.rotation_deg:
            turn(path, self.rotation_deg)
        return path


def _picture(number: int) -> np.ndarray:
    picture = np.full((96, 160, 3), 60, np.uint8)
    at = number * 7 % 140
    picture[:, at : at + 20] = 90 + number % 150
    picture[: number % 90] //= 2
    return picture


X264 = {"preset": "veryfast", "crf": "12"}
KINDS = {
    "mp4 with a key frame a second": Kind(".mp4", "libx264", X264 | {"g": "30"}),
    "mp4 with one key frame, as exported": Kind(".mp4", "libx264", X264 | {"g": "600"}),
    "mp4 without pictures out of order": Kind(".mp4", "libx264", X264 | {"bf": "0", "g": "45"}),
    "mp4 of open groups": Kind(
        ".mp4", "libx264", X264 | {"x264-params": "open-gop=1:keyint=30:bframes=3"}
    ),
    "mov turned, with sound": Kind(".mov", "libx264", X264 | {"g": "30"}, 90, "aac"),
    "mkv": Kind(".mkv", "libx264", X264 | {"g": "60"}),
    "ts with sound": Kind(".ts", "libx264", X264 | {"g": "30"}, 0, "aac"),
    "hevc in mov": Kind(".mov", "libx265", {"preset": "ultrafast", "x265-params": "log-level=0"}),
    "mpeg-4 part 2": Kind(".mp4", "mpeg4", {"g": "20", "bf": "2", "qscale": "2"}),
}


@pytest.fixture(params=KINDS, ids=[name.replace(" ", "-") for name in KINDS])
def kind(request: pytest.FixtureRequest) -> Kind:
    return KINDS[request.param]


@pytest.mark.parametrize(("from_s", "to_s"), [(4.31, 7.52), (0.0, 2.0), (8.0, 60.0)])
def test_a_part_holds_the_pictures_of_its_stretch_at_their_times(
    kind: Kind, from_s: float, to_s: float, tmp_path: Path
) -> None:
    film = kind.write(tmp_path / f"film{kind.suffix}")
    assert suffix_of_parts(film) == ".mp4"
    path = tmp_path / "part.mp4"
    begins_s, ends_s = copy_part(film, from_s, to_s, path)
    whole, part = open_clip(film), open_clip(path)
    wanted = whole.t_s[(whole.t_s >= from_s - 5e-4) & (whole.t_s < to_s - 5e-4)]
    assert begins_s == pytest.approx(wanted[0], abs=1e-6)
    n_more = part.n_frames - len(wanted)
    assert 0 <= n_more <= 4  # pictures shown later may be stored earlier
    first = int(np.argmin(np.abs(whole.t_s - begins_s)))
    same = slice(first, first + part.n_frames)
    np.testing.assert_allclose(part.t_s, whole.t_s[same] - begins_s, atol=2e-5)
    assert ends_s == pytest.approx(begins_s + part.t_s[-1], abs=0.08)
    assert (part.width_px, part.height_px) == (whole.width_px, whole.height_px)
    assert part.rotation_deg == whole.rotation_deg == kind.rotation_deg
    assert part.stated_s == pytest.approx(ends_s - begins_s, abs=0.1)  # that of the sound, too
    films = [frame.rgb for frame in whole.frames() if same.start <= frame.index < same.stop]
    for of_film, of_part in zip(films, part.frames(), strict=True):
        np.testing.assert_array_equal(of_part.rgb, of_film)


def test_the_same_stretch_gives_the_same_bytes(kind: Kind, tmp_path: Path) -> None:
    film = kind.write(tmp_path / f"film{kind.suffix}")
    for name in ("one.mp4", "other.mp4"):
        copy_part(film, 3.0, 6.0, tmp_path / name)
    assert (tmp_path / "one.mp4").read_bytes() == (tmp_path / "other.mp4").read_bytes()


@pytest.mark.parametrize("name", [name for name, kind in KINDS.items() if kind.sound])
def test_the_sound_stays_with_its_picture(name: str, tmp_path: Path) -> None:
    kind = KINDS[name]
    film, path = kind.write(tmp_path / f"film{kind.suffix}"), tmp_path / "part.mp4"
    begins_s, ends_s = copy_part(film, 4.31, 7.52, path)
    whole, part = read_sound(film), read_sound(path)
    assert whole is not None
    assert part is not None
    assert abs(part.start_s) < 0.05
    assert len(part.samples) / part.rate_hz == pytest.approx(ends_s - begins_s, abs=0.1)
    skip = round(0.2 * part.rate_hz)  # a decoder needs a packet or two to begin
    at = round((begins_s + part.start_s - whole.start_s) * part.rate_hz)
    heard = part.samples[skip : skip + 2 * part.rate_hz]
    # Times are rounded to a sample, which shows where the sound is cut off sharply.
    assert np.mean(np.abs(heard - whole.samples[at + skip : at + skip + len(heard)])) < 0.005


def test_what_the_phone_wrote_of_its_lens_is_kept(tmp_path: Path) -> None:
    film = Kind(".mov", "libx264", X264 | {"g": "30"}).write(tmp_path / "film.mov")
    tagged = tmp_path / "tagged.mov"
    key = "com.apple.quicktime.camera.focal_length.35mm_equivalent"
    with (
        av.open(str(film)) as plain,
        av.open(str(tagged), "w", options={"movflags": "use_metadata_tags"}) as out,
    ):
        out.metadata[key] = "26"
        stream = out.add_stream_from_template(plain.streams.video[0])
        for packet in plain.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                out.mux(packet)
    copy_part(tagged, 1.0, 3.0, tmp_path / "part.mp4")
    assert open_clip(tmp_path / "part.mp4").focal_35mm == 26


def test_hevc_is_marked_as_the_kind_that_every_player_takes(tmp_path: Path) -> None:
    film = KINDS["hevc in mov"].write(tmp_path / "film.mov")
    copy_part(film, 1.0, 3.0, tmp_path / "part.mp4")
    assert b"hvc1" in (tmp_path / "part.mp4").read_bytes()


def test_what_an_mp4_cannot_hold_stays_in_a_container_of_its_own(tmp_path: Path) -> None:
    film = Kind(".webm", "libvpx", {"g": "40", "deadline": "realtime"}).write(tmp_path / "a.webm")
    assert suffix_of_parts(film) == ".mkv"
    begins_s, _ = copy_part(film, 4.31, 7.52, tmp_path / "part.mkv")
    whole, part = open_clip(film), open_clip(tmp_path / "part.mkv")
    assert 4.31 - 1.6 <= begins_s <= 4.31  # the key frame before
    first = int(np.argmin(np.abs(whole.t_s - begins_s)))
    np.testing.assert_allclose(
        part.t_s, whole.t_s[first : first + part.n_frames] - begins_s, atol=1e-6
    )


def test_colours_stay_what_they_were_said_to_be(tmp_path: Path) -> None:
    options = X264 | {"g": "30", "x264-params": "colorprim=bt709:transfer=bt709:colormatrix=bt709"}
    film = Kind(".mp4", "libx264", options).write(tmp_path / "film.mp4")
    copy_part(film, 1.0, 3.0, tmp_path / "part.mp4")
    said = []
    for path in (film, tmp_path / "part.mp4"):
        with av.open(str(path)) as container:
            context = container.streams.video[0].codec_context
            said.append((context.color_primaries, context.color_trc, context.colorspace))
    assert said[0] == said[1] == (1, 1, 1)


def test_a_stretch_beyond_the_film_is_one_sentence(tmp_path: Path) -> None:
    film = Kind(".mp4", "libx264", X264).write(tmp_path / "film.mp4")
    with pytest.raises(UnreadableClip, match=r"film\.mp4: the stretch from 20\.0 to 24\.0 s"):
        copy_part(film, 20.0, 24.0, tmp_path / "part.mp4")
    assert list(tmp_path.iterdir()) == [film]
