"""SHA-256 digests, hexadecimal: of bytes, of named values, of a clip's file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from posecheck.errors import UnreadableClip


def bytes_digest(data: bytes) -> str:
    """SHA-256 of bytes."""
    return hashlib.sha256(data).hexdigest()


def facts_digest(facts: Mapping[str, object]) -> str:
    """SHA-256 of named values that JSON can hold, or sets of them.

    The order of the keys and of the members of a set does not matter.
    """
    return bytes_digest(json.dumps(facts, sort_keys=True, default=sorted).encode())


def file_digest(path: Path) -> str:
    """SHA-256 of a clip's content.

    Raises:
        UnreadableClip: not there, no permission, empty.
    """
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            size = file.tell()
    except FileNotFoundError:
        raise UnreadableClip(path, "there is no such file", "check the name") from None
    except IsADirectoryError:
        raise UnreadableClip(path, "this is a folder", "name the clips in it") from None
    except PermissionError:
        raise UnreadableClip(
            path, "you may not read this file", "change its permissions or copy it again"
        ) from None
    except OSError as error:
        raise UnreadableClip(
            path, f"the file cannot be read ({error.strerror})", "copy it from the phone again"
        ) from None
    if size == 0:
        raise UnreadableClip(path, "the file is empty", "copy it from the phone again")
    return digest
