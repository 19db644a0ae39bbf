"""A film of three sample clips, joined packet by packet: three reps, read as each clip alone is.

Nothing is encoded again, and a cut is a copy, so what a cut shows are the clip's own pictures, from
its first one on. It ends earlier, two seconds after the run, and that is all that may differ.
"""

from __future__ import annotations

from pathlib import Path
from shutil import copy

import av
import pytest

from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.judging.verdict import Call
from posecheck.measures.result import ClipResult
from posecheck.pipeline.batch import check_clips
from posecheck.pipeline.judge import judge_clip
from posecheck.pipeline.measure_task import open_reader
from posecheck.pipeline.settings import Settings
from posecheck.practice.cuts import FilmCuts, StretchKind
from posecheck.practice.found_cuts import read_cuts
from posecheck.practice.reading import read_practice
from posecheck.store.record import Record

SAMPLE = Path(__file__).parents[2] / "sample_clips"
CLIPS = ("rep-01", "rep-03", "rep-05")
"""Filmed from three places."""

PAUSE_S = 3.0
"""For so long the last picture of each clip stands: everybody has come to rest."""

pytestmark = [pytest.mark.film, pytest.mark.usefixtures("pose_model")]


def join(clips: list[Path], film: Path) -> list[float]:
    """The clips one after another, each of their packets as it is; when each begins."""
    begins: list[float] = []
    with av.open(str(film), "w") as out:
        with av.open(str(clips[0])) as first:
            stream = out.add_stream_from_template(first.streams.video[0])
        at = 0
        for clip in clips:
            with av.open(str(clip)) as container:
                own = container.streams.video[0]
                assert own.time_base is not None
                begins.append(float(at * own.time_base))
                last = at
                for packet in container.demux(own):
                    if packet.dts is None or packet.pts is None:
                        continue
                    packet.pts, packet.dts = packet.pts + at, packet.dts + at
                    last = max(last, packet.pts)
                    packet.stream = stream
                    out.mux(packet)
                at = last + round(PAUSE_S / own.time_base)
    return begins


FoundAndRead = tuple[FilmCuts, list[float], list[tuple[ClipResult, ClipResult, Call, Call]]]


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> FoundAndRead:
    """What was found in the film, when each clip begins in it, and each rep in clip and cut."""
    folder = tmp_path_factory.mktemp("film")
    (folder / "practice.toml").write_text('name = "A film"\n', "utf-8")
    clips = [Path(copy(SAMPLE / "clips" / f"{name}.mp4", folder)) for name in CLIPS]
    begins = join(clips, folder / "film.mp4")
    practice = read_practice(folder)
    results: dict[str, ClipResult] = {}
    calls: dict[str, Call] = {}
    with Record(folder / "checked" / "record.sqlite", make=True) as record:
        check_clips(
            [*clips, folder / "film.mp4"], practice, Settings(), record, 1, open_reader=open_reader
        )
        for result in record.results(practice):
            assert result.fault is None, result.fault
            (verdict,) = judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
            results[practice.shown_name(result.path)] = result
            calls[practice.shown_name(result.path)] = verdict.call
    (cuts,) = read_cuts(folder / "checked")
    alone = [f"{name}.mp4" for name in CLIPS]
    cut = [name for name in results if name not in alone]
    return (
        cuts,
        begins,
        [
            (results[one], results[other], calls[one], calls[other])
            for one, other in zip(alone, cut, strict=True)
        ],
    )


def test_three_reps_are_cut_out_at_the_changes_of_the_camera(checked: FoundAndRead) -> None:
    cuts, begins, _ = checked
    assert [each.kind for each in cuts.stretches] == [StretchKind.REP] * 3
    assert cuts.camera_changes_s == pytest.approx(begins[1:], abs=0.05)
    assert [each.from_s for each in cuts.stretches] == pytest.approx(begins, abs=0.05)


def test_each_rep_is_read_as_its_clip_alone_is(checked: FoundAndRead) -> None:
    _, _, reps = checked
    for clip, cut, call, call_of_cut in reps:
        (one,), (other,) = clip.reps, cut.reps
        assert other.rep.arrival_s == pytest.approx(one.rep.arrival_s, abs=1 / 30)
        assert other.rep.start_s == pytest.approx(one.rep.start_s, abs=1 / 30)
        # A cut that ends earlier is smoothed otherwise at its end, and may show less of it.
        assert call_of_cut in (call, Call.CANT_TELL)
        assert other.roles == one.roles
