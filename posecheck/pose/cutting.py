"""Cut out of a network what makes an output that nobody uses.

The bytes depend only on the input and on the versions of ``flatbuffers`` and of the schema, which
comes with LiteRT (both pinned in pyproject.toml), so that the result has a digest that can be
checked.
"""

from __future__ import annotations

from typing import Any

MODEL_ID = b"TFL3"
"""What a TFLite file says it is."""


def without_output(network: bytes, output: bytes) -> bytes:
    """The network without one of its outputs, and without every step that only leads there.

    What is left computes the same numbers, to the last bit.

    Args:
        network: a TFLite file of one graph.
        output: name of the output.

    Raises:
        ValueError: the network has no such output.
    """
    import flatbuffers
    from ai_edge_litert import schema_py_generated as tflite

    model = tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(network, 0))
    (graph,) = model.subgraphs
    kept = [index for index in graph.outputs if graph.tensors[index].name != output]
    if len(kept) == len(graph.outputs):
        raise ValueError(f"output: the network has none of the name {output!r}")
    graph.outputs = kept
    graph.operators = _steps_to(kept, graph.operators)
    # Metadata speak of every output, and nobody reads them.
    model.metadata = None
    _empty_unused(model, graph)
    builder = flatbuffers.Builder(len(network))
    builder.Finish(model.Pack(builder), MODEL_ID)
    return bytes(builder.Output())


def _steps_to(outputs: list[int], operators: list[Any]) -> list[Any]:
    """The operators that the outputs depend on, in the order in which they run."""
    needed = set(outputs)
    steps = []
    for operator in reversed(operators):
        if needed.intersection(operator.outputs):
            needed.update(operator.inputs)
            steps.append(operator)
    return steps[::-1]


def _empty_unused(model: Any, graph: Any) -> None:
    """Drop the constants that only the operators cut out read."""
    used = {*graph.inputs, *graph.outputs}
    for operator in graph.operators:
        used.update(operator.inputs, operator.outputs)
    buffers = {graph.tensors[index].buffer for index in used if index >= 0}
    for number, buffer in enumerate(model.buffers):
        if number not in buffers:
            buffer.data = None
