"""Cells and thumbnails: one moment each, at its own time, at one scale, and said in the JSON."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from factories import make_clip_result, make_rep_result
from films import write_film

from posecheck.measures.result import ClipResult, RepResult
from posecheck.pages.drawing import draw_rep
from posecheck.pages.still_pictures import still_pictures
from posecheck.pages.stills import Stills, clip_times, drawn_path, stills_of
from posecheck.pages.tuning import CELL_PX, CELLS_S, THUMB_PX
from posecheck.video.clip import Clip, open_clip

# A phone's variable rate: every third frame comes late.
TIMES_MS = [33 * i + (11 if i % 3 == 2 else 0) for i in range(130)]


@pytest.fixture
def clip(tmp_path: Path) -> Clip:
    return open_clip(write_film(tmp_path / "film.mp4", TIMES_MS, size=(480, 270)))


def on(clip: Clip, kind: str = "upright", end_s: float = 3.3) -> tuple[ClipResult, RepResult]:
    """A made-up rep on this clip's frames, its bodies put onto a picture a quarter as large."""
    rep = make_rep_result(kind)
    times = clip.t_s[(clip.t_s >= rep.rep.start_s) & (clip.t_s <= end_s)]
    picked = np.clip(np.searchsorted(rep.series.t_s, times), 0, len(rep.series.t_s) - 1)
    arrays = {name: array[picked] for name, array in vars(rep.series).items()} | {"t_s": times}
    arrays |= {name: arrays[name] / 4 for name in ("defender_xy_px", "attacker_xy_px")}
    rep = replace(rep, series=replace(rep.series, **arrays))
    return make_clip_result(clip.path, reps=(rep,), clip_digest=clip.digest), rep


def test_five_cells_at_the_times_of_their_own_frames(clip: Clip, tmp_path: Path) -> None:
    result, rep = on(clip)
    draw_rep(clip, result, rep, tmp_path)
    stills = stills_of(tmp_path, result, rep)
    assert len(stills.cells) == 5
    assert rep.rep.arrival_s is not None
    for cell, wanted_s in zip(stills.cells, CELLS_S, strict=True):
        assert cell.offset_s == pytest.approx(wanted_s, abs=0.05)
        off_s = np.abs(clip.t_s - rep.rep.arrival_s - cell.offset_s).min()
        assert off_s < 0.001, "the moment said is that of a frame, not the moment wished for"
    for still, size in [*((cell, CELL_PX) for cell in stills.cells), (stills.thumb, THUMB_PX)]:
        assert still is not None
        picture = cv2.imread(str(tmp_path / still.file))
        assert picture.shape[1::-1] == (still.width_px, still.height_px) == size
        assert (tmp_path / still.file).stat().st_size < 25_000


def test_cells_are_at_one_scale_about_the_defender_and_he_fills_them(clip: Clip) -> None:
    _, rep = on(clip)
    cells = [each for each in still_pictures(clip, rep).wanted if each.which != "thumb"]
    assert len({(each.cut.right - each.cut.left) for each in cells}) == 1
    assert len({(each.cut.bottom - each.cut.top) for each in cells}) == 1
    for each in cells:
        (body, _), *others = each.bodies
        assert not others, "the cells are about the defender"
        shown = each.cut.points(body)
        assert np.ptp(shown[:, 1]) > 0.6 * CELL_PX[1]
        assert (shown > 0).all() and (shown < CELL_PX).all()


def test_a_frame_in_which_a_limb_jumped_gives_way_to_its_neighbour(clip: Clip) -> None:
    _, rep = on(clip)
    assert rep.rep.arrival_s is not None
    before = next(each for each in still_pictures(clip, rep).wanted if each.which == "2")
    body = rep.series.defender_xy_px.copy()
    body[np.abs(rep.series.t_s - clip.t_s[before.frame]) < 0.001, 25] = np.nan
    jumped = replace(rep, series=replace(rep.series, defender_xy_px=body))
    after = next(each for each in still_pictures(clip, jumped).wanted if each.which == "2")
    assert after.frame != before.frame
    assert np.isfinite(after.bodies[0][0]).all()
    assert after.offset_s == pytest.approx(-0.2, abs=0.05)


def test_without_arrival_a_thumbnail_from_the_middle_of_the_rep(clip: Clip, tmp_path: Path) -> None:
    result, rep = on(clip)
    moments = replace(rep.rep, arrival_s=None, source=None)
    rep = replace(rep, rep=moments, picture=None, picture_t_s=None)
    draw_rep(clip, result, rep, tmp_path)
    stills = stills_of(tmp_path, result, rep)
    assert stills.cells == ()
    assert stills.thumb is not None
    assert stills.thumb.offset_s == pytest.approx((moments.end_s - moments.start_s) / 2, abs=0.03)
    times = clip_times(tmp_path, result, rep)
    assert times is not None
    assert times.arrival_s is None and times.slow_from_s is None


def test_a_film_that_ends_early_has_fewer_cells(tmp_path: Path) -> None:
    short = open_clip(write_film(tmp_path / "short.mp4", range(0, 2400, 40), size=(480, 270)))
    _, rep = on(short)
    assert rep.rep.arrival_s == pytest.approx(2.3)
    which = [each.which for each in still_pictures(short, rep).wanted]
    assert which == ["1", "2", "3", "thumb"]


def test_a_defender_never_seen_leaves_a_thumbnail_of_the_whole_picture(clip: Clip) -> None:
    _, rep = on(clip)
    unseen = np.full_like(rep.series.defender_xy_px, np.nan)
    series = replace(rep.series, defender_xy_px=unseen, attacker_xy_px=unseen)
    (thumb,) = still_pictures(clip, replace(rep, series=series)).wanted
    assert (thumb.cut.left, thumb.cut.bottom - thumb.cut.top) == (24, 270)


def test_times_of_the_clip_lead_back_to_the_film(clip: Clip, tmp_path: Path) -> None:
    result, rep = on(clip)
    draw_rep(clip, result, rep, tmp_path)
    times = clip_times(tmp_path, result, rep)
    assert times is not None and times.arrival_s is not None and times.slow_from_s is not None
    assert len(times.frame_times_s) == len(times.film_times_s)
    assert times.start_s == pytest.approx(rep.rep.start_s - clip.t_s[0])  # no lead of half a second
    assert rep.rep.arrival_s is not None
    # The frame on show at arrival is the last one up to it.
    up_to = clip.t_s[clip.t_s <= rep.rep.arrival_s].max()
    assert times.clip_to_film(times.arrival_s) == pytest.approx(up_to)
    assert times.clip_to_film(times.slow_from_s) == pytest.approx(rep.rep.arrival_s - 0.3, abs=0.04)
    assert times.clip_to_film(-1.0) == times.film_times_s[0]
    assert times.duration_s == pytest.approx(times.frame_times_s[-1], abs=0.2)


def test_what_is_gone_or_damaged_is_not_offered(clip: Clip, tmp_path: Path) -> None:
    result, rep = on(clip)
    assert stills_of(tmp_path, result, rep) == Stills()
    draw_rep(clip, result, rep, tmp_path)
    whole = stills_of(tmp_path, result, rep)
    (tmp_path / whole.cells[1].file).unlink()
    assert stills_of(tmp_path, result, rep).cells == (whole.cells[0], *whole.cells[2:])
    (film,) = (tmp_path / "clips").glob("*.mp4")
    film.write_bytes(film.read_bytes()[:-100])
    assert clip_times(tmp_path, result, rep) is None
    drawn_path(tmp_path, result, rep).write_text('{"stills": {}')
    assert stills_of(tmp_path, result, rep) == Stills()
