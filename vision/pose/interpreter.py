"""A TensorFlow Lite network with one input, run on one thread."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from vision.pose.native_log import native_log_aside


class Interpreter:
    """One loaded network; not to be shared between threads.

    Parameters
    ----------
    content
        The network, a flat buffer.
    shape
        Shape of its input, where the network leaves it open.
    """

    def __init__(self, content: bytes, shape: Sequence[int] | None = None) -> None:
        with native_log_aside():
            from ai_edge_litert import interpreter

            self._interpreter: Any = interpreter.Interpreter(model_content=content, num_threads=1)
            given = self._interpreter.get_input_details()[0]
            self._input = given["index"]
            if shape is not None:
                self._interpreter.resize_tensor_input(self._input, list(shape))
            self._interpreter.allocate_tensors()
            details = sorted(self._interpreter.get_output_details(), key=lambda d: str(d["name"]))
            self._outputs = [(str(detail["name"]), detail["index"]) for detail in details]
            # The native back end is made, and speaks, at the first run.
            self.run(np.zeros(given["shape"] if shape is None else shape, given["dtype"]))

    def run(self, values: npt.NDArray[Any]) -> dict[str, npt.NDArray[np.float32]]:
        """Run the network on one input; its outputs by name, in the order of their names."""
        self._interpreter.set_tensor(self._input, values)
        self._interpreter.invoke()
        return {name: self._interpreter.get_tensor(index) for name, index in self._outputs}
