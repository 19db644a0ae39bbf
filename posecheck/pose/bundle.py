"""Make the one file that a reader opens from the pose model's two networks.

It is a stored (uncompressed) zip of a person detector and a landmark model, for both readers. The
pose library needs to know how a network's input is scaled: the detector as published says so, the
landmark model does not, and it is written into it here. For LiteRT the landmark model's mask, which
nobody uses, is cut out.

The bytes depend only on the inputs and on the versions of ``flatbuffers`` and of the schemas
(pinned in pyproject.toml), so that the finished files have digests that can be checked.
"""

from __future__ import annotations

import io
import zipfile
from typing import Any

from posecheck.pose.cutting import MODEL_ID, without_output

DETECTOR_MEMBER = "pose_detector.tflite"
LANDMARKS_MEMBER = "pose_landmarks_detector.tflite"

_METADATA = "TFLITE_METADATA"
_METADATA_ID = b"M001"
_MASK = b"Identity_2"
"""The landmark model's output that shows which pixels are the person's."""


def pose_bundle(detector: bytes, landmarks: bytes) -> bytes:
    """The pose library's file.

    Args:
        detector: the person detector, a TFLite model that carries its metadata.
        landmarks: the landmark model, a TFLite model without metadata.
    """
    return _bundle(detector, _with_input_scale(landmarks, mean=0.0, std=255.0))


def litert_bundle(bundle: bytes) -> bytes:
    """LiteRT's file, made from the pose library's."""
    with zipfile.ZipFile(io.BytesIO(bundle)) as zipped:
        detector, landmarks = zipped.read(DETECTOR_MEMBER), zipped.read(LANDMARKS_MEMBER)
    return _bundle(detector, without_output(landmarks, _MASK))


def _bundle(detector: bytes, landmarks: bytes) -> bytes:
    bundle = io.BytesIO()
    with zipfile.ZipFile(bundle, "w", zipfile.ZIP_STORED) as zipped:
        for name, model in ((DETECTOR_MEMBER, detector), (LANDMARKS_MEMBER, landmarks)):
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            # Both default to the machine the program runs on.
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            zipped.writestr(entry, model)
    return bundle.getvalue()


def _with_input_scale(model: bytes, mean: float, std: float) -> bytes:
    """The TFLite model with a note that its input is ``(pixel - mean) / std``."""
    import flatbuffers
    import numpy as np
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    content = tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(model, 0))
    note = tflite.BufferT()
    note.data = np.frombuffer(
        _input_scale_metadata(mean, std, n_outputs=len(content.subgraphs[0].outputs)), np.uint8
    )
    content.buffers.append(note)
    entry = tflite.MetadataT()
    entry.name = _METADATA
    entry.buffer = len(content.buffers) - 1
    content.metadata.append(entry)
    return _packed(content, MODEL_ID, flatbuffers.Builder(len(model)))


def _input_scale_metadata(mean: float, std: float, n_outputs: int) -> bytes:
    import flatbuffers
    from mediapipe.tasks.metadata import metadata_schema_py_generated as schema

    scale = schema.NormalizationOptionsT()
    scale.mean, scale.std = [mean], [std]
    step = schema.ProcessUnitT()
    step.optionsType = schema.ProcessUnitOptions.NormalizationOptions
    step.options = scale
    picture = schema.ImagePropertiesT()
    picture.colorSpace = schema.ColorSpaceType.RGB
    content = schema.ContentT()
    content.contentPropertiesType = schema.ContentProperties.ImageProperties
    content.contentProperties = picture
    image = schema.TensorMetadataT()
    image.name, image.content, image.processUnits = "image", content, [step]
    graph = schema.SubGraphMetadataT()
    graph.inputTensorMetadata = [image]
    graph.outputTensorMetadata = [schema.TensorMetadataT() for _ in range(n_outputs)]
    metadata = schema.ModelMetadataT()
    metadata.name = "pose landmarks"
    metadata.subgraphMetadata = [graph]
    return _packed(metadata, _METADATA_ID, flatbuffers.Builder(0))


def _packed(content: Any, file_id: bytes, builder: Any) -> bytes:
    builder.Finish(content.Pack(builder), file_id)
    return bytes(builder.Output())
