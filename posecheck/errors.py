"""Everything posecheck raises on purpose.

    PosecheckError
    ├── UsageError              the request itself is wrong (exit code 2)
    │   └── SettingsError       a practice, roster or thresholds file that cannot be used
    ├── ModelError              the pose model cannot be set up or opened
    ├── ClusterError            other machines do not answer, or cannot do the work
    ├── RecordError             the record (database, keypoint files) cannot be read or written
    └── ClipError               one clip cannot be measured; a batch goes on
        ├── UnreadableClip      not a video, damaged, no permission, no picture in it
        └── NothingToMeasure    a good film that shows no player or no rep
            └── SeveralPlaces   it shows a rep from more than one place of the camera

Every message is one sentence: the file, what is wrong, what to do.
"""

from __future__ import annotations

from pathlib import Path

from posecheck.printable import printable


class PosecheckError(Exception):
    """Base of all errors a user can mend; its text is fit to be shown as it is."""


class UsageError(PosecheckError):
    """The request cannot be carried out as given."""


class SettingsError(UsageError):
    """A settings file is missing, malformed or asks for nonsense."""


class ModelError(PosecheckError):
    """The pose model is not there, not whole, or cannot be fetched."""


class ClusterError(PosecheckError):
    """Other machines do not answer, or cannot do the work."""


class RecordError(PosecheckError):
    """The record of past practices cannot be read or written."""


class ClipError(PosecheckError):
    """One clip cannot be measured.

    Attributes:
        path: the clip.
        fault: what is wrong with it, without the file's name.
        remedy: what the user can do.
    """

    def __init__(self, path: Path, fault: str, remedy: str) -> None:
        self.path = path
        self.fault = fault
        self.remedy = remedy
        super().__init__(path, fault, remedy)

    def __str__(self) -> str:
        return f"{printable(self.path.name)}: {self.fault}; {self.remedy}."


class UnreadableClip(ClipError):
    """The file holds no film that can be decoded."""


class NothingToMeasure(ClipError):
    """The film is sound but shows no player, or no rep."""


class SeveralPlaces(NothingToMeasure):
    """The film goes on from another place, and there is a run there: no one clip, but a film to be
    cut into clips."""
