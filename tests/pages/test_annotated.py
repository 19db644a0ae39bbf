"""Annotated clips: right times, right pictures, and a browser that plays them."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from browser import dump_dom, needs_browser
from factories import make_clip_result, make_rep_result

from posecheck.errors import UnreadableClip
from posecheck.measures.result import RepResult
from posecheck.pages import annotated
from posecheck.pages.annotated import annotated_name, write_annotated_clip
from posecheck.pages.cut import cut_around
from posecheck.pages.tuning import CLIP_MAX_RATE_HZ, CLIP_MAX_WIDTH_PX, KEY_FRAME_EVERY_S
from posecheck.reps.rep import ArrivalSource, Rep
from posecheck.video.clip import Clip, open_clip

GRASS = (60, 120, 70)


def film(path: Path, t_s: list[float], width: int = 640, height: int = 360) -> Clip:
    """A green film whose frames come at the given times."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.options = {"preset": "ultrafast", "crf": "10"}
        stream.codec_context.time_base = Fraction(1, 90_000)
        for time in t_s:
            frame = av.VideoFrame.from_ndarray(
                np.full((height, width, 3), GRASS, np.uint8), format="rgb24"
            )
            frame.pts, frame.time_base = round(time * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return open_clip(path)


def rep_on(clip: Clip, start_s: float, arrival_s: float | None, end_s: float) -> RepResult:
    """The upright rep with its bodies put onto this clip's frames at a third of their size."""
    rep = make_rep_result("upright")
    times = clip.t_s[(clip.t_s >= start_s) & (clip.t_s <= end_s)]
    picked = np.clip(
        np.searchsorted(rep.series.t_s - rep.series.t_s[0], times - start_s),
        0,
        len(rep.series.t_s) - 1,
    )
    arrays = {name: array[picked] for name, array in vars(rep.series).items()}
    arrays |= {"t_s": times}
    arrays |= {name: arrays[name] / 3 for name in ("defender_xy_px", "attacker_xy_px")}
    moments = Rep(start_s, None, arrival_s, end_s, ArrivalSource.ATTACKER if arrival_s else None)
    return replace(rep, rep=moments, series=replace(rep.series, **arrays))


def read(path: Path) -> tuple[list[float], list[np.ndarray]]:
    with av.open(str(path)) as container:
        frames = list(container.decode(video=0))
        times = [float(frame.pts * frame.time_base) for frame in frames]
        return times, [frame.to_ndarray(format="rgb24") for frame in frames]


def test_frames_keep_their_own_times_then_arrival_comes_again_slowly(tmp_path: Path) -> None:
    # A phone's variable rate: every third frame comes late.
    t_s = [i / 30 + (0.011 if i % 3 == 2 else 0.0) for i in range(75)]
    clip = film(tmp_path / "in.mp4", t_s)
    rep = rep_on(clip, start_s=1.0, arrival_s=1.81, end_s=2.3)
    write_annotated_clip(clip, rep, tmp_path / "out.mp4")
    times, _ = read(tmp_path / "out.mp4")

    shown = [t for t in clip.t_s if 0.5 <= t <= 2.3]
    assert times[: len(shown)] == pytest.approx([t - shown[0] for t in shown], abs=1e-4)
    about_arrival = [t for t in shown if 1.51 <= t <= 2.31]
    slow = times[len(shown) :]
    assert len(slow) == len(about_arrival)
    assert np.diff(slow) == pytest.approx(4 * np.diff(about_arrival), abs=1e-4)
    assert slow[0] > times[len(shown) - 1]


def test_the_body_is_drawn_only_while_it_was_measured(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(75)])
    rep = rep_on(clip, start_s=1.0, arrival_s=1.8, end_s=2.3)
    write_annotated_clip(clip, rep, tmp_path / "out.mp4")
    times, pictures = read(tmp_path / "out.mp4")
    for time, picture in zip(times[:40], pictures, strict=False):
        yellow = (picture[..., 0] > 200) & (picture[..., 1] > 170) & (picture[..., 2] < 130)
        assert yellow.any() == (time > 0.499), time


def test_a_fast_film_is_thinned_to_what_phones_play(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 240 for i in range(480)], width=320, height=180)
    write_annotated_clip(clip, rep_on(clip, 0.5, 1.2, 1.9), tmp_path / "out.mp4")
    times, _ = read(tmp_path / "out.mp4")
    assert np.diff(times).min() >= 0.9 / CLIP_MAX_RATE_HZ


def test_a_full_folder_of_temporary_files_is_no_hindrance(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "full"))
    monkeypatch.setattr(annotated, "on_disk", lambda: str(tmp_path))
    clip = film(tmp_path / "a.mp4", list(np.arange(0, 5, 0.2)))
    write_annotated_clip(clip, rep_on(clip, 1.0, 2.5, 4.0), tmp_path / "b.mp4")
    assert (tmp_path / "b.mp4").exists()


def test_without_arrival_nothing_is_slowed(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(60)])
    write_annotated_clip(clip, rep_on(clip, 0.5, None, 1.5), tmp_path / "out.mp4")
    times, _ = read(tmp_path / "out.mp4")
    assert times[-1] == pytest.approx(1.5, abs=0.04)


@pytest.mark.parametrize("size", [(1920, 1080), (270, 478), (642, 362)])
def test_sizes_are_even_and_not_too_wide(tmp_path: Path, size: tuple[int, int]) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(30)], *size)
    write_annotated_clip(clip, rep_on(clip, 0.5, 0.7, 0.9), tmp_path / "out.mp4")
    with av.open(str(tmp_path / "out.mp4")) as container:
        stream = container.streams.video[0]
        assert stream.width <= CLIP_MAX_WIDTH_PX
        assert stream.width % 2 == stream.height % 2 == 0
        assert stream.codec_context.name == "h264"
        assert stream.codec_context.pix_fmt == "yuv420p"


def test_the_index_stands_before_the_pictures(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(30)])
    write_annotated_clip(clip, rep_on(clip, 0.3, 0.7, 0.9), tmp_path / "out.mp4")
    content = (tmp_path / "out.mp4").read_bytes()
    assert content.index(b"moov") < content.index(b"mdat")


def test_a_key_frame_every_half_second_and_none_refers_ahead(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(90)])
    times = write_annotated_clip(clip, rep_on(clip, 0.8, 1.8, 2.6), tmp_path / "out.mp4")
    with av.open(str(tmp_path / "out.mp4")) as container:
        packets = [each for each in container.demux(video=0) if each.pts is not None]
    keys = [float(each.pts * each.time_base) for each in packets if each.is_keyframe]
    assert keys[0] == 0
    # The next frame after half a second; in the slow part frames are 0.13 s apart.
    assert max(np.diff([*keys, times.frame_times_s[-1]])) < KEY_FRAME_EVERY_S + 0.134
    assert [each.pts for each in packets] == [each.dts for each in packets]
    assert times.duration_s > times.frame_times_s[-1], "the last frame is shown too"


def test_the_caption_is_clear_of_the_players_controls(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(60)])
    write_annotated_clip(clip, rep_on(clip, 0.5, 1.2, 1.6), tmp_path / "out.mp4")
    first = read(tmp_path / "out.mp4")[1][0].astype(int)  # before the rep nobody is drawn
    dark = (np.abs(first - GRASS).max(axis=2) > 40).mean(axis=1)
    rows = np.flatnonzero(dark > 0.5)
    assert rows.min() == 0 and rows.max() < 0.15 * len(first)
    assert not dark[round(0.85 * len(first)) :].any()


def test_a_rep_outside_the_film_leaves_no_file(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(30)])
    rep = rep_on(clip, 0.3, 0.7, 0.9)
    late = replace(rep, rep=replace(rep.rep, start_s=50.0, arrival_s=51.0, end_s=52.0))
    with pytest.raises(UnreadableClip, match="no frame of the rep"):
        write_annotated_clip(clip, late, tmp_path / "late.mp4")
    assert [path.name for path in tmp_path.iterdir()] == ["in.mp4"]


def test_names_are_safe_and_differ_by_rep_and_content() -> None:
    result = make_clip_result(Path("clips/Zoë's rep #1 (top).MOV"))
    first, second = make_rep_result(number=1), make_rep_result(number=2)
    name = annotated_name(result, first)
    assert re.fullmatch(r"[A-Za-z0-9-]+\.mp4", name)
    other = replace(result, clip_digest="0" * 64)
    assert len({name, annotated_name(result, second), annotated_name(other, first)}) == 3


def test_a_cut_takes_points_where_it_takes_pixels() -> None:
    picture = np.zeros((360, 640, 3), np.uint8)
    picture[200, 300] = 255
    cut = cut_around(np.array([(280.0, 150.0), (320.0, 250.0)]), 640, 360, max_width_px=4000)
    shown = cut.picture(picture)[..., 0].astype(float)
    rows, columns = np.mgrid[: shown.shape[0], : shown.shape[1]]
    weight = np.clip(shown, 0, None)
    centre = np.array([(columns * weight).sum(), (rows * weight).sum()]) / weight.sum()
    assert cut.points(np.array([300.0, 200.0])) == pytest.approx(centre, abs=0.1)


@pytest.mark.parametrize(
    "points",
    [
        np.full((4, 2), np.nan),
        np.array([(-50.0, -50.0)]),
        np.array([(0.0, 0.0), (639.0, 359.0)]),
        np.array([(639.0, 359.0)]),
    ],
)
def test_a_cut_stays_within_the_picture(points: np.ndarray) -> None:
    cut = cut_around(points, 640, 360, max_width_px=400)
    assert 0 <= cut.left < cut.right <= 640
    assert 0 <= cut.top < cut.bottom <= 360
    assert cut.width_px <= 400


@needs_browser
def test_a_browser_plays_it(tmp_path: Path) -> None:
    clip = film(tmp_path / "in.mp4", [i / 30 for i in range(60)])
    write_annotated_clip(clip, rep_on(clip, 0.6, 1.2, 1.6), tmp_path / "out.mp4")
    (tmp_path / "page.html").write_text(
        "<video muted autoplay src=out.mp4></video><script>"
        "const film = document.querySelector('video');"
        "film.addEventListener('loadeddata', () =>"
        " document.title = `${film.readyState} ${film.duration} ${film.videoWidth}`);"
        "</script>"
    )
    dom = dump_dom(tmp_path / "page.html", tmp_path / "profile")
    title = re.search(r"<title>(\d) ([\d.]+) (\d+)</title>", dom)
    assert title is not None
    assert int(title[1]) >= 2, "HAVE_CURRENT_DATA"
    times, _ = read(tmp_path / "out.mp4")
    assert float(title[2]) == pytest.approx(times[-1], abs=0.2)
    assert int(title[3]) > 0
