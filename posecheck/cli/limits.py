"""Which limits a practice is judged by.

A coach's own are kept with the practice: in ``thresholds.toml`` in its folder, else in that of its
season, else in the record, where whatever it was judged by last stays until he names others or the
usual ones.
"""

from __future__ import annotations

import dataclasses
import os
from dataclasses import dataclass
from pathlib import Path

from posecheck.errors import UsageError
from posecheck.files.names import RECORD_FILE, SEASON_FILE, THRESHOLDS_FILE
from posecheck.files.places import there
from posecheck.files.results_folder import holds_results
from posecheck.judging.thresholds import (
    DEFAULT_THRESHOLDS,
    Thresholds,
    limit_words,
    read_thresholds,
)
from posecheck.practice.practice import Practice
from posecheck.store.record import Record


@dataclass(frozen=True)
class Limits:
    """Limits, and where they come from.

    Attributes:
        thresholds: themselves.
        come_from: in words, empty for the usual ones.
        lost: a sentence where others may have been kept and are gone.
    """

    thresholds: Thresholds
    come_from: str
    lost: str = ""

    def words(self, practice: Practice) -> str:
        """Where they come from and how they differ from the usual; empty when they do not."""
        own, usual = map(dataclasses.asdict, (self.thresholds, DEFAULT_THRESHOLDS))
        changed = [
            f"{what.lower()} {figure}"
            for name, value in own.items()
            if value != usual[name]
            for what, figure in [limit_words(name, value, practice.units)]
        ]
        if not changed:
            return self.lost
        return f"Judged by your own limits ({self.come_from}): {'; '.join(changed)}."


def limits_of_last_time(practice: Practice, folder: Path, file: Path | None, usual: bool) -> Limits:
    """As :func:`limits_for`, for a practice that may never have been checked; ``folder`` is that of
    its results, and is not made."""
    if not there(folder / RECORD_FILE):
        limits = limits_for(practice, None, file, usual)
        if limits.thresholds != DEFAULT_THRESHOLDS or usual or not holds_results(folder):
            return limits
        lost = (
            f"{folder / RECORD_FILE}: the record of earlier checks is gone, and with it any limits "
            "of your own that were named then; judged by the usual ones."
        )
        return dataclasses.replace(limits, lost=lost)
    with Record(folder / RECORD_FILE) as record:
        return limits_for(practice, record, file, usual)


def limits_for(
    practice: Practice, record: Record | None, file: Path | None = None, usual: bool = False
) -> Limits:
    """The limits for a practice.

    Args:
        practice: that is judged.
        record: with its earlier verdicts, None when there is none yet.
        file: that the coach names now.
        usual: whether he asks for the usual limits.

    Raises:
        UsageError: both a file and the usual ones are asked for.
        SettingsError: a file of limits cannot be used.
    """
    if file is not None and usual:
        raise UsageError("--thresholds and --usual are both given; leave one out.")
    if usual:
        return Limits(DEFAULT_THRESHOLDS, "")
    if file is not None:
        return Limits(read_thresholds(file), file.name)
    kept = practice.folder / THRESHOLDS_FILE
    if os.path.lexists(kept):  # a link that leads nowhere is said, not passed over
        return Limits(read_thresholds(kept), f"{THRESHOLDS_FILE} in the practice's folder")
    shared = practice.folder.parent / THRESHOLDS_FILE
    if there(shared) and there(shared.parent / SEASON_FILE):
        return Limits(read_thresholds(shared), f"{THRESHOLDS_FILE} in the season's folder")
    last = None if record is None else record.last_thresholds(practice)
    return Limits(last or DEFAULT_THRESHOLDS, "as last time; the usual ones with --usual")
