"""Judging a practice of 200 drawn reps again is a matter of seconds, pages and all.

Measured is the processor's time, which other programs on the machine change little.
"""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

from drawn_practice import draw
from factories import KINDS, make_clip_result

from posecheck.judging.thresholds import Thresholds
from posecheck.pages.publish import write_page
from posecheck.pipeline import judge as judging
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


def test_judging_again(tmp_path: Path) -> None:
    practice = Practice(tmp_path, "Tuesday")
    with Record(tmp_path / "checked/record.sqlite", make=True) as record:
        for number in range(200):
            kind = list(KINDS)[number % len(KINDS)]
            record.save(practice, make_clip_result(tmp_path / f"rep-{number:03}.mp4", kind))
        limits = Thresholds()
        judging.keep(record, judging.rejudge(record, practice, limits), limits)
        draw(record.folder, [(each, each.reps[0]) for each in record.results(practice)])
        write_page(record, practice, limits)
        limits = dataclasses.replace(limits, min_knee_bend_deg=60.0)
        started_s = time.process_time()
        rejudged = judging.rejudge(record, practice, limits)
        judging.keep(record, rejudged, limits)
        judged_s = time.process_time() - started_s
        write_page(record, practice, limits)
        published_s = time.process_time() - started_s
    assert len(rejudged) == 200
    assert any(each.changed for each in rejudged)
    assert judged_s < 2
    assert published_s < 4
