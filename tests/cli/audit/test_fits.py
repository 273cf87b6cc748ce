"""Fits beside the landmarks: read back to the last bit, and never in anybody's way."""

from pathlib import Path

import numpy as np
import pytest

from cli.audit.fits import FitFiles
from vision.files import WriteError

ARRAYS = {"a": np.linspace(0.0, 1.0, 7) ** 0.5, "b": np.array(0.1)}


def test_what_was_put_is_taken_to_the_last_bit(tmp_path: Path) -> None:
    FitFiles(tmp_path).put("key", ARRAYS)
    taken = FitFiles(tmp_path).take("key", ARRAYS)
    assert taken is not None
    assert all(np.array_equal(taken[name], values) for name, values in ARRAYS.items())
    assert FitFiles(tmp_path).take("other", ARRAYS) is None


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_half_a_file_is_none(tmp_path: Path, share: float) -> None:
    FitFiles(tmp_path).put("key", ARRAYS)
    (file,) = tmp_path.glob("fit-*.npz")
    content = file.read_bytes()
    file.write_bytes(content[: int(share * len(content))])
    assert FitFiles(tmp_path).take("key", ARRAYS) is None


def test_a_flipped_bit_is_noticed(tmp_path: Path) -> None:
    FitFiles(tmp_path).put("key", ARRAYS)
    (file,) = tmp_path.glob("fit-*.npz")
    content = bytearray(file.read_bytes())
    content[content.index(ARRAYS["a"].tobytes()) + 20] ^= 1
    file.write_bytes(content)
    assert FitFiles(tmp_path).take("key", ARRAYS) is None


def test_where_nothing_can_be_written_it_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    shelf = FitFiles(tmp_path / "file")
    assert shelf.take("key", ARRAYS) is None
    with pytest.raises(WriteError, match="fit-key"):
        shelf.put("key", ARRAYS)
