"""SHA-256 digests, hexadecimal: of bytes, of named values, of a clip's file."""

from __future__ import annotations

import hashlib
import json
import stat
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
        UnreadableClip: not there, no file, no permission, empty.
    """
    try:
        refuse_what_is_no_file(path)  # opening a pipe would wait for ever
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            size = file.tell()
    except FileNotFoundError:
        raise UnreadableClip(path, "there is no such file", "check the name") from None
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


def refuse_what_is_no_file(path: Path) -> None:
    """Refuse, without opening it, whatever is no file that ends somewhere.

    Raises:
        UnreadableClip: a folder, a pipe, a device.
        OSError: not there, or no permission.
    """
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise UnreadableClip(path, "this is a folder", "name the clips in it")
    if not stat.S_ISREG(mode):
        what = next((name for test, name in _NO_FILE if test(mode)), "no file")
        raise UnreadableClip(path, f"this is {what}", "copy the film itself here")


_NO_FILE = (
    (stat.S_ISFIFO, "a pipe and no file"),
    (stat.S_ISSOCK, "a socket and no file"),
    (stat.S_ISCHR, "a device and no file"),
    (stat.S_ISBLK, "a device and no file"),
)
