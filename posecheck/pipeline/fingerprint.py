"""The content of the code, nets and tables that make keypoints and measures, as one digest.

What is kept from run to run is keyed by it, so that a change of code can never leave old results
standing. Which files belong to it is not listed anywhere: it follows from the import statements,
beginning with the module that does the making. Version numbers of posecheck play no part.
"""

from __future__ import annotations

import ast
import hashlib
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import metadata, resources
from importlib.resources.abc import Traversable

PACKAGE = "posecheck"

MAKES_KEYPOINTS = "posecheck.pipeline.read"
MAKES_MEASURES = "posecheck.pipeline.measure"
MAKES_SCANS = "posecheck.scan.scan_film"

TABLE_SUFFIXES = (".npz", ".toml")
"""Nets and tables; those beside a module that is used count as used."""

COMPUTING_LIBRARIES = {
    "ai_edge_litert": "ai-edge-litert",
    "av": "av",
    "cv2": "opencv-contrib-python",
    "filterpy": "filterpy",
    "mediapipe": "mediapipe",
    "numpy": "numpy",
    "scipy": "scipy",
}
"""By the name they are imported by, distributions whose version may change a figure."""

OTHER_LIBRARIES = {
    "flatbuffers": "the pose model made with it is held against a digest",
    "platformdirs": "says where a file is, not what is in it",
    "pyarrow": "gives back the numbers it was given",
}
"""Libraries whose version cannot change a figure, and why."""


@dataclass(frozen=True)
class Sources:
    """Everything that a module runs on.

    Attributes:
        files: content by path within the package, e.g. ``"body/view.py"``.
        libraries: imported names of everything that is neither posecheck's nor Python's own.
    """

    files: dict[str, bytes]
    libraries: frozenset[str]

    def fingerprint(self) -> str:
        """SHA-256, hexadecimal, over files and versions of the libraries that compute."""
        digest = hashlib.sha256()
        for name, content in sorted(self.files.items()):
            digest.update(f"{name} {len(content)}\n".encode() + content)
        for library in sorted(self.libraries & COMPUTING_LIBRARIES.keys()):
            digest.update(f"{library} {_version(COMPUTING_LIBRARIES[library])}\n".encode())
        return digest.hexdigest()


@cache
def keypoints_fingerprint() -> str:
    """Of what makes keypoints: from a clip's pictures to the players' landmarks."""
    return sources_of(MAKES_KEYPOINTS).fingerprint()


@cache
def measures_fingerprint() -> str:
    """Of what makes measures, that of keypoints included; judging and pages are not."""
    return sources_of(MAKES_MEASURES).fingerprint()


@cache
def scans_fingerprint() -> str:
    """Of what scans long films."""
    return sources_of(MAKES_SCANS).fingerprint()


def sources_of(module: str, package: Traversable | None = None) -> Sources:
    """Follow a module's imports, those inside functions too, through the whole package.

    The package's own ``__init__.py`` is left out: it states the version and re-exports.

    Args:
        module: dotted name.
        package: the folder of posecheck, by default of the one that runs.
    """
    root = resources.files(PACKAGE) if package is None else package
    files: dict[str, bytes] = {}
    libraries: set[str] = set()
    todo, done = [module], {PACKAGE}
    while todo:
        name = todo.pop()
        if name in done:
            continue
        done.add(name)
        if name.partition(".")[0] != PACKAGE:
            libraries.add(name.partition(".")[0])
            continue
        parts = name.split(".")[1:]
        todo.append(name.rpartition(".")[0])
        inside = root.joinpath(*parts, "__init__.py").is_file()
        path = "/".join([*parts, "__init__.py"]) if inside else f"{'/'.join(parts)}.py"
        source = root.joinpath(*path.split("/"))
        if not source.is_file():
            continue  # a name that a module defines, not a module
        files[path] = source.read_bytes()
        files |= dict(_tables(root, parts if inside else parts[:-1]))
        here = name if inside else name.rpartition(".")[0]
        todo += imported(files[path].decode("utf-8"), here)
    return Sources(files, frozenset(libraries - sys.stdlib_module_names))


def _tables(root: Traversable, folder: list[str]) -> Iterator[tuple[str, bytes]]:
    for file in root.joinpath(*folder).iterdir():
        if file.name.endswith(TABLE_SUFFIXES):
            yield "/".join([*folder, file.name]), file.read_bytes()


_IMPORT = re.compile(
    r"^[ \t]*((?:from[ \t]+\S+[ \t]+)?import\b[ \t]*(?:\([^)]*\)|[^#\n]*))[ \t]*(?:#.*)?$", re.M
)
"""An import statement as ruff leaves it: it begins a line, and goes on to others only in brackets.
To parse these alone takes a tenth of the time that whole files take."""


def imported(source: str, package: str) -> set[str]:
    """Dotted names that a module's import statements mention, wherever they stand.

    Of ``from a.b import c`` both ``a.b`` and ``a.b.c``, as ``c`` may be a module.

    Args:
        source: the module's text.
        package: dotted name of the package it is in, from which relative imports start.
    """
    names: set[str] = set()
    for statement in _import_statements(source):
        if isinstance(statement, ast.Import):
            names |= {each.name for each in statement.names}
        elif isinstance(statement, ast.ImportFrom):
            above = package.split(".")
            above = above[: len(above) + 1 - statement.level] if statement.level else []
            base = ".".join([*above, *filter(None, [statement.module])])
            names |= {base} | {f"{base}.{each.name}" for each in statement.names}
    return names


def _import_statements(source: str) -> list[ast.AST]:
    try:
        return [ast.parse(match[1]).body[0] for match in _IMPORT.finditer(source)]
    except SyntaxError:  # a line of prose that begins with "import"
        return list(ast.walk(ast.parse(source)))


def _version(distribution: str) -> str:
    try:
        return metadata.version(distribution)
    except metadata.PackageNotFoundError:
        return "unknown"
