"""Arrays of strangers are read as numbers or refused in one line; nothing is run or blown up."""

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest

from vision import arrays
from vision.arrays import ArraysError, read_arrays


def npy(array: object, version: tuple[int, int] = (1, 0)) -> bytes:
    buffer = io.BytesIO()
    np.lib.format.write_array(buffer, np.asarray(array), version=version)
    return buffer.getvalue()


def header(text: str) -> bytes:
    """Write the header of an array file by hand, as the format's description has it (NEP 1)."""
    content = (text + "\n").encode()
    return b"\x93NUMPY\x01\x00" + len(content).to_bytes(2, "little") + content


def archive(tmp_path: Path, content: bytes, method: int = zipfile.ZIP_DEFLATED) -> Path:
    path = tmp_path / "arrays.npz"
    with zipfile.ZipFile(path, "w", method) as written:
        written.writestr("a.npy", content)
    return path


def test_what_numpy_saves_is_read(tmp_path: Path) -> None:
    path = tmp_path / "arrays.npz"
    np.savez_compressed(path, a=np.arange(6.0).reshape(2, 3), b=np.array(True), c=np.array("x"))
    read = read_arrays(path, ["a", "b", "c", "missing"])
    assert sorted(read) == ["a", "b", "c"]
    assert read["a"].tolist() == [[0, 1, 2], [3, 4, 5]]
    assert bool(read["b"]) is True
    assert str(read["c"]) == "x"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (npy(np.array([{}], dtype=object)), "holds object, not numbers"),
        (npy(np.zeros(2, dtype=[("x", "f8")])), "not numbers"),
        (npy(np.zeros(2, dtype="M8[s]")), "not numbers"),
        (npy(np.zeros(2), version=(2, 0)), "format 2.0"),
        (npy(np.asfortranarray(np.zeros((2, 3)))), "stored by columns"),
        (header("{'descr': '<f8', 'fortran_order': False, 'shape': (-1,), }"), "negative side"),
        (header("{'descr': '<U0', 'fortran_order': False, 'shape': (2,), }"), "empty texts"),
        (
            header("{'descr': '<f8', 'fortran_order': False, 'shape': (1000000000,), }"),
            "unpacks to 8,000,000,000 bytes",
        ),
        (npy(np.zeros(2))[:-1], "not of the size that its header says"),
        (npy(np.zeros(2)) + b"more", "not of the size that its header says"),
        (header("{'descr': '<f8'"), "no readable header"),
        (header("__import__('os').abort()"), "no readable header"),
        (b"", "no readable header"),
    ],
)
def test_anything_but_plain_numbers_of_the_stated_size_is_refused(
    tmp_path: Path, content: bytes, words: str
) -> None:
    with pytest.raises(ArraysError, match=words):
        read_arrays(archive(tmp_path, content), ["a"])


def test_only_the_ways_of_packing_that_numpy_uses_are_unpacked(tmp_path: Path) -> None:
    path = archive(tmp_path, npy(np.zeros(2)), zipfile.ZIP_LZMA)
    with pytest.raises(ArraysError, match="packed in a way that is not NumPy's"):
        read_arrays(path, ["a"])


def test_a_file_name_in_no_alphabet_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "arrays.npz"
    with zipfile.ZipFile(path, "w") as written:
        written.writestr("ä.npy", npy(np.zeros(2)))
    path.write_bytes(path.read_bytes().replace("ä".encode(), b"\xff\xff"))
    with pytest.raises(ArraysError, match="utf-8"):
        read_arrays(path, ["a"])


def test_a_damaged_archive_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    whole = archive(tmp_path, npy(np.arange(1000.0))).read_bytes()
    cut = tmp_path / "cut.npz"
    cut.write_bytes(whole[: len(whole) // 2])
    for path in (cut, tmp_path / "missing.npz", tmp_path):
        with pytest.raises(ArraysError):
            read_arrays(path, ["a"])


def test_an_entry_that_is_shorter_than_it_says_is_refused(tmp_path: Path) -> None:
    whole = npy(np.zeros(100))
    path = archive(tmp_path, whole[:-8])
    changed = bytearray(path.read_bytes())
    unpacked_size = changed.index(b"PK\x01\x02") + 24  # in the directory, which is what is read
    changed[unpacked_size : unpacked_size + 4] = len(whole).to_bytes(4, "little")
    path.write_bytes(bytes(changed))
    with pytest.raises(ArraysError, match="ends too early"):
        read_arrays(path, ["a"])


def test_a_huge_file_is_refused_unopened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = archive(tmp_path, npy(np.zeros(2)))
    monkeypatch.setattr(arrays, "MOST_FILE_BYTES", 10)
    with pytest.raises(ArraysError, match="larger than"):
        read_arrays(path, ["a"])
