"""The network without its mask: fewer steps, the same numbers to the last bit."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from posecheck.pose.bundle import DETECTOR_MEMBER, LANDMARKS_MEMBER, litert_bundle
from posecheck.pose.cutting import without_output
from posecheck.pose.reader_choice import Reader

MASK = b"Identity_2"


def member(bundle: Path, name: str) -> bytes:
    with zipfile.ZipFile(bundle) as zipped:
        return zipped.read(name)


def graph_of(network: bytes) -> Any:
    from ai_edge_litert import schema_py_generated as tflite

    return tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(network, 0)).subgraphs[0]


def outputs(network: bytes, picture: np.ndarray) -> dict[str, np.ndarray]:
    from ai_edge_litert.interpreter import Interpreter

    interpreter = Interpreter(model_content=network, num_threads=1)
    interpreter.allocate_tensors()
    (given,) = interpreter.get_input_details()
    interpreter.set_tensor(given["index"], picture)
    interpreter.invoke()
    details = interpreter.get_output_details()
    return {each["name"]: interpreter.get_tensor(each["index"]) for each in details}


@pytest.mark.film
@pytest.mark.parametrize("variant", ["full", "heavy"])
def test_outputs_are_the_same_to_the_last_bit(
    pose_models: Callable[..., Path], variant: str
) -> None:
    whole = member(pose_models(Reader.LIBRARY, variant), LANDMARKS_MEMBER)
    cut = member(pose_models(Reader.LITERT, variant), LANDMARKS_MEMBER)
    fewer = len(graph_of(whole).operators) - len(graph_of(cut).operators)
    assert fewer >= 40
    for seed in range(3):
        picture = np.random.default_rng(seed).uniform(size=(1, 256, 256, 3)).astype(np.float32)
        before, after = outputs(whole, picture), outputs(cut, picture)
        assert before.keys() - after.keys() == {MASK.decode()}
        for name, numbers in after.items():
            assert numbers.tobytes() == before[name].tobytes(), name


@pytest.mark.film
def test_the_detector_stays_as_it_is(pose_models: Callable[..., Path]) -> None:
    before, after = (member(pose_models(reader), DETECTOR_MEMBER) for reader in Reader)
    assert before == after


@pytest.mark.film
def test_the_file_comes_to_the_same_bytes_each_time(pose_models: Callable[..., Path]) -> None:
    made = litert_bundle(pose_models(Reader.LIBRARY).read_bytes())
    assert made == pose_models(Reader.LITERT).read_bytes()


@pytest.mark.film
def test_an_output_that_is_not_there(pose_models: Callable[..., Path]) -> None:
    cut = member(pose_models(Reader.LITERT), LANDMARKS_MEMBER)
    with pytest.raises(
        ValueError, match=r"^output: the network has none of the name b'Identity_2'$"
    ):
        without_output(cut, MASK)
