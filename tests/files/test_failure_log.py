"""What is written down when posecheck itself fails."""

from __future__ import annotations

from pathlib import Path

from posecheck.files.failure_log import log_failure


def test_failures_are_added_with_what_failed_and_where(tmp_path: Path) -> None:
    for clip in ("a.mp4", "b.mp4"):
        try:
            1 / 0  # noqa: B018
        except ZeroDivisionError as error:
            log = log_failure(tmp_path, clip, error)
    assert log == tmp_path / "posecheck.log"
    text = log.read_text("utf-8")
    assert text.index("a.mp4") < text.index("b.mp4")
    assert text.count("ZeroDivisionError: division by zero") == 2
    assert text.count(f'File "{__file__}"') == 2
