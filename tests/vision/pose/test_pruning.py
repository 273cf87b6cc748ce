"""A network cut down to some of its outputs computes the same numbers in them."""

import numpy as np
import pytest
from ai_edge_litert.interpreter import Interpreter

from vision.pose.bundle import load_bundle
from vision.pose.pruning import with_outputs


def run(content: bytes, picture: np.ndarray) -> dict[str, np.ndarray]:
    interpreter = Interpreter(model_content=content, num_threads=1)
    interpreter.allocate_tensors()
    interpreter.set_tensor(interpreter.get_input_details()[0]["index"], picture)
    interpreter.invoke()
    return {
        detail["name"]: interpreter.get_tensor(detail["index"])
        for detail in interpreter.get_output_details()
    }


@pytest.mark.parametrize("model", ["full"])
@pytest.mark.slow
def test_what_is_left_is_as_before(model: str) -> None:
    content = load_bundle(model).landmarks
    picture = np.random.default_rng(1).random((1, 256, 256, 3), np.float32)
    whole, cut = run(content, picture), run(with_outputs(content, (0, 1, 3, 4)), picture)
    names = sorted(whole)
    assert sorted(cut) == [names[0], names[1], names[3], names[4]]
    for name, values in cut.items():
        assert values == pytest.approx(whole[name], rel=1e-5, abs=1e-5)


def test_the_outline_is_what_goes() -> None:
    content = load_bundle("full").landmarks
    picture = np.zeros((1, 256, 256, 3), np.float32)
    whole, cut = run(content, picture), run(with_outputs(content, (0, 1, 3, 4)), picture)
    (gone,) = whole.keys() - cut.keys()
    assert whole[gone].shape == (1, 256, 256, 1)
