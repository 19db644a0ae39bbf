"""A neural network in LiteRT: a picture in, arrays out. The only module that knows LiteRT."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from posecheck.maths.arrays import Image
from posecheck.pose.quiet import quiet_native

Float32Array = npt.NDArray[np.float32]


class Network:
    """One network for pictures of one size.

    Args:
        content: the network, a TFLite file.
        darkest: what a black pixel is in its input.
        brightest: what a white one is.
        threads: it computes on; they change no bit of what comes out.

    Raises:
        ValueError: the content is no network.
    """

    def __init__(self, content: bytes, darkest: float, brightest: float, threads: int = 1) -> None:
        from ai_edge_litert.interpreter import Interpreter

        with quiet_native():
            self._interpreter: Any = Interpreter(model_content=content, num_threads=threads)
            self._interpreter.allocate_tensors()
        (self._input,) = [each["index"] for each in self._interpreter.get_input_details()]
        self._outputs = [each["index"] for each in self._interpreter.get_output_details()]
        self._darkest = np.float32(darkest)
        self._step = np.float32((brightest - darkest) / 255)

    def outputs(self, picture_rgb: Image) -> list[Float32Array]:
        """What it makes of a picture ``(height, width, 3)`` uint8 of its own size.

        Copies, without the first axis: while anybody holds views of its memory it refuses the next
        picture, and a profiler that looks at the caller's frame holds them longer than the caller.
        """
        given = self._interpreter.tensor(self._input)()[0]
        np.multiply(picture_rgb, self._step, out=given)
        if self._darkest != 0:
            given += self._darkest
        del given
        self._interpreter.invoke()
        return [self._interpreter.get_tensor(index)[0] for index in self._outputs]
