"""Which files results are keyed by: all that make them, and none besides."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
import textwrap
from importlib import metadata
from pathlib import Path

import pytest
from places import SAMPLES

import posecheck
from posecheck.pipeline import fingerprint
from posecheck.pipeline.fingerprint import (
    COMPUTING_LIBRARIES,
    MAKES_KEYPOINTS,
    MAKES_MEASURES,
    OTHER_LIBRARIES,
    TABLE_SUFFIXES,
    imported,
    keypoints_fingerprint,
    measures_fingerprint,
    sources_of,
)

PACKAGE = Path(posecheck.__file__).parent
MODULES = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The package as it is, in a folder where it may be changed."""
    ignore = shutil.ignore_patterns("__pycache__")
    return Path(shutil.copytree(PACKAGE, tmp_path / "posecheck", ignore=ignore))


def fingerprints(package: Path) -> tuple[str, str]:
    """Of what makes keypoints, of what makes measures."""
    return tuple(
        sources_of(module, package).fingerprint() for module in (MAKES_KEYPOINTS, MAKES_MEASURES)
    )


def change_a_byte(file: Path) -> None:
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(data)


def append(file: Path) -> None:
    """Change a file: what follows a net's arrays is as good as another net."""
    if file.suffix == ".npz":
        file.write_bytes(file.read_bytes() + b"\n")
        return
    file.write_text(file.read_text("utf-8") + "\n# a word more\n", "utf-8")


def test_a_copy_has_the_fingerprint_of_the_package_that_runs(copy: Path) -> None:
    assert fingerprints(copy) == (keypoints_fingerprint(), measures_fingerprint())


@pytest.mark.parametrize(
    ("file", "keypoints_too"),
    [
        ("errors.py", True),
        ("maths/boxes.py", True),
        ("video/clip.py", True),
        ("camera/motion_estimator.py", True),
        ("pose/reader.py", True),
        ("pose/manifest.toml", True),
        ("players/__init__.py", True),
        ("players/roles.py", True),
        ("keypoints/landmark_tracks.py", True),
        ("ground/find/points.py", True),
        ("ground/from_points.py", True),
        ("store/keypoints.py", True),
        ("pipeline/read.py", True),
        ("pipeline/known_ground.py", True),
        ("keypoints/smoothing.py", False),
        ("body/stance_net.py", False),
        ("body/stance_net.npz", False),
        ("body/feet_net.npz", False),
        ("ground/from_players.py", False),
        ("ground/tracks.py", False),
        ("reps/splitting.py", False),
        ("filming/grading.py", False),
        ("measures/intervals.py", False),
        ("measures/intervals.toml", False),
        ("pipeline/observe.py", False),
        ("pipeline/measure.py", False),
    ],
)
def test_a_change_of_what_makes_results_shows(copy: Path, file: str, keypoints_too: bool) -> None:
    before = fingerprints(copy)
    append(copy / file)
    after = fingerprints(copy)
    assert (before[0] != after[0]) == keypoints_too
    assert before[1] != after[1]


def test_one_byte_of_any_file_is_enough(copy: Path) -> None:
    for module in (MAKES_KEYPOINTS, MAKES_MEASURES):
        before = sources_of(module, copy)
        assert any(name.endswith(".npz") for name in sources_of(MAKES_MEASURES, copy).files)
        for name in before.files:
            content = (copy / name).read_bytes()
            if not content:
                continue
            if name.endswith(".py"):
                (copy / name).write_bytes(content + b"#")
            else:
                change_a_byte(copy / name)
            assert sources_of(module, copy).fingerprint() != before.fingerprint(), name
            (copy / name).write_bytes(content)
        assert sources_of(module, copy).fingerprint() == before.fingerprint()


@pytest.mark.parametrize(
    "file",
    [
        "__init__.py",  # the version
        "judging/rules.py",
        "judging/thresholds.toml",
        "store/record.py",
        "store/database.py",
        "pipeline/batch.py",
        "pipeline/capacity.py",
        "pipeline/frames_done.py",
        "pipeline/limits.py",
        "pipeline/measure_task.py",
        "pipeline/stretches.py",
        "pipeline/tasks.py",
        "pipeline/workers.py",
        "pipeline/judge.py",
        "scoring/accuracy.py",
        "pages/overlay.py",
        "pages/templates/practice.html",
        "web/app.py",
        "cli/run.py",
    ],
)
def test_a_change_of_what_only_uses_results_does_not(copy: Path, file: str) -> None:
    before = fingerprints(copy)
    append(copy / file)
    assert fingerprints(copy) == before


def test_a_new_file_counts_as_soon_as_it_is_imported(copy: Path) -> None:
    before = fingerprints(copy)
    (copy / "reps" / "other.py").write_text("LATE_S = 1.0\n")
    assert fingerprints(copy) == before
    splitting = copy / "reps" / "splitting.py"
    text = splitting.read_text("utf-8")
    splitting.write_text(text + "\ndef late():\n    from posecheck.reps import other\n")
    files = sources_of(MAKES_MEASURES, copy).files
    assert "reps/other.py" in files


def test_a_table_beside_a_module_counts(copy: Path) -> None:
    (copy / "reps" / "moments.toml").write_text("late_s = 1.0\n")
    assert "reps/moments.toml" in sources_of(MAKES_MEASURES, copy).files


def test_nothing_else_lies_in_the_rooms() -> None:
    """What makes results is code or tables, so that no other kind of file needs to count."""
    for name in sources_of(MAKES_MEASURES).files:
        for file in (PACKAGE / name).parent.iterdir():
            known = (".py", ".typed", *TABLE_SUFFIXES)
            assert file.is_dir() or file.name.endswith(known), file


# -- import statements ---------------------------------------------------------------------------


def exactly(source: str, package: str) -> set[str]:
    """The same as :func:`imported` from the whole syntax tree."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names |= imported(ast.unparse(node), package)
    return names


@pytest.mark.parametrize("name", MODULES)
def test_no_import_of_the_package_is_overlooked(name: str) -> None:
    source = (PACKAGE / name).read_text("utf-8")
    assert imported(source, "posecheck") >= exactly(source, "posecheck")
    # Only names in import statements are followed; the public door is not.
    if name != "__init__.py":
        assert "import_module" not in source
        assert "__import__" not in source


@pytest.mark.parametrize(
    ("source", "names"),
    [
        ("import numpy as np", {"numpy"}),
        ("import os, sys  # both", {"os", "sys"}),
        ("from a.b import c", {"a.b", "a.b.c"}),
        ("def f():\n    from a import b as c\n", {"a", "a.b"}),
        ("from a import (\n    b,  # noqa\n    c,\n)  # a remark\n", {"a", "a.b", "a.c"}),
        ("from a import (\n    b,  # in (brackets)\n    c,\n)\n", {"a", "a.b", "a.c"}),
        ("from a import b, \\\n    c", {"a", "a.b", "a.c"}),
        ("from . import c", {"x.y", "x.y.c"}),
        ("from .c import d", {"x.y.c", "x.y.c.d"}),
        ("from ..c import d", {"x.c", "x.c.d"}),
        ('"""Prose\nimport is a word, and\nfrom a to b import goods.\n"""\nimport a', {"a"}),
        ("important = 1\nfrom_here = 2", set()),
    ],
)
def test_names_of_import_statements(source: str, names: set[str]) -> None:
    assert imported(source, "x.y") == names


# -- libraries -----------------------------------------------------------------------------------


def test_every_library_is_known_to_compute_or_not_to() -> None:
    """Who imports another one must say whether its version can change a figure."""
    assert sources_of(MAKES_MEASURES).libraries <= COMPUTING_LIBRARIES.keys() | OTHER_LIBRARIES
    assert not COMPUTING_LIBRARIES.keys() & OTHER_LIBRARIES.keys()
    for distribution in COMPUTING_LIBRARIES.values():
        assert metadata.version(distribution)


def test_another_version_of_what_computes_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    sources = sources_of(MAKES_MEASURES)
    before, version = sources.fingerprint(), metadata.version
    monkeypatch.setattr(
        fingerprint.metadata, "version", lambda name: version(name) + "+" * (name == "pyarrow")
    )
    assert sources.fingerprint() == before
    monkeypatch.setattr(
        fingerprint.metadata, "version", lambda name: version(name) + "+" * (name == "scipy")
    )
    assert sources.fingerprint() != before


# -- against what really runs --------------------------------------------------------------------


@pytest.mark.film
def test_every_module_that_runs_while_a_clip_is_measured_counts(
    pose_model: Path, tmp_path: Path
) -> None:
    """Twice, so that landmarks are read from the film and from where they are kept."""
    program = f"""
        import sys
        from pathlib import Path
        from posecheck.pipeline.measure import measure_clip
        from posecheck.pipeline.read import open_reader
        from posecheck.pipeline.settings import Settings
        from posecheck.practice.field import closeout_layout
        from posecheck.practice.layout import Layout
        from posecheck.practice.notes import ClipNotes
        from posecheck.practice.practice import Practice

        clip = Path({str(SAMPLES / "clips" / "rep-05.mp4")!r})
        notes = {{clip.name: ClipNotes(spot="side-left")}}
        settings = Settings(keypoints_folder=Path({str(tmp_path)!r}))
        for layout in (closeout_layout(), Layout()):  # known points, and the players alone
            practice = Practice(clip.parent, "p", layout=layout, notes=notes)
            with open_reader(settings) as reader:
                for _ in range(2):
                    assert measure_clip(clip, practice, settings, reader).reps
        for name, module in list(sys.modules.items()):
            if name.split(".")[0] == "posecheck":
                print(Path(module.__file__).as_posix())
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(program)],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    ran = {Path(line).relative_to(PACKAGE).as_posix() for line in done.stdout.splitlines()}
    assert "measures/of_rep.py" in ran
    assert ran - sources_of(MAKES_MEASURES).files.keys() == {"__init__.py"}
