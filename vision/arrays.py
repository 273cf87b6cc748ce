"""Reading ``.npz`` files from strangers: nothing is run, nothing is unpacked unseen.

An archive may bear a seal: words about it, and a digest that binds them to the content.
"""

import hashlib
import io
import math
import stat
import tokenize
import zipfile
import zlib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

MOST_FILE_BYTES: Final = 2 * 1024**3
MOST_ARRAY_BYTES: Final = 4 * 1024**3
"""What is larger is refused unread: no array of an hour's landmarks at 60 Hz is above 0.23 GB."""
_PART_BYTES: Final = 1024**2
"""Read at a time; the result does not depend on it."""
_KINDS: Final = "biufU"
_SUFFIX: Final = ".npy"
_METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_DAMAGE: Final = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OverflowError,
    UnicodeDecodeError,
)


class ArraysError(ValueError):
    """A file that is no ``.npz`` of plain arrays of a sane size; the message says why."""


def read_arrays(path: Path, names: Collection[str]) -> dict[str, npt.NDArray[Any]]:
    """Read the named arrays of an ``.npz`` file; those that are not in it are left out.

    Before anything is unpacked, each array's header is read: it must hold numbers, booleans or
    text, and its size must be what the archive says and sane. Pickled objects are refused.

    Raises
    ------
    ArraysError
        The file is missing, damaged, or holds what it should not.
    """
    try:
        facts = path.stat()
        if not stat.S_ISREG(facts.st_mode):
            raise ArraysError("it is a pipe, a device or the like, not an ordinary file")
        if facts.st_size > MOST_FILE_BYTES:
            raise ArraysError(f"larger than {MOST_FILE_BYTES >> 30} GiB")
        if not path.is_file():
            raise ArraysError("is not an ordinary file")
        with zipfile.ZipFile(path) as archive:
            entries = {info.filename: info for info in archive.infolist()}
            return {
                name: _array(archive, entries[name + _SUFFIX])
                for name in names
                if name + _SUFFIX in entries
            }
    except OSError as error:
        raise ArraysError(error.strerror or str(error)) from error
    except _DAMAGE as error:
        raise ArraysError(str(error)) from error


def packed(arrays: Mapping[str, npt.NDArray[Any]], words: str) -> bytes:
    """Write arrays as a sealed ``.npz``: byte-identical for equal arrays and words.

    Not compressed: coordinates would take a tenth less room and thirty times as long.
    """
    content = io.BytesIO()
    np.savez(content, **arrays)  # type: ignore[arg-type]
    with zipfile.ZipFile(content, "a") as archive:
        archive.comment = _seal(archive, words)
    return content.getvalue()


def seal_words(path: Path) -> str | None:
    """Give the words of an archive's seal if it fits what the archive says it holds, else None.

    The seal covers names, sizes and check sums of the arrays; each array is held against its check
    sum when it is read.
    """
    try:
        if not path.is_file():
            return None
        with zipfile.ZipFile(path) as archive:
            words = archive.comment.decode("ascii").rpartition(" ")[0]
            return words if words and archive.comment == _seal(archive, words) else None
    except (OSError, *_DAMAGE):
        return None


def _seal(archive: zipfile.ZipFile, words: str) -> bytes:
    held = [(entry.filename, entry.CRC, entry.file_size) for entry in archive.infolist()]
    return f"{words} {hashlib.sha256(repr([words, held]).encode()).hexdigest()}".encode("ascii")


def _array(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> npt.NDArray[Any]:
    if entry.compress_type not in _METHODS:
        raise ArraysError(f"{entry.filename} is packed in a way that is not NumPy's")
    with archive.open(entry) as stream:
        shape, dtype, header_bytes = _header(stream, entry.filename)
        size = math.prod(shape) * dtype.itemsize
        if size > MOST_ARRAY_BYTES:
            raise ArraysError(f"{entry.filename} unpacks to {size:,} bytes")
        if entry.file_size != header_bytes + size:
            raise ArraysError(f"{entry.filename} is not of the size that its header says")
        content = np.empty(size, dtype=np.uint8)
        at = 0
        while at < size and (part := stream.read(_PART_BYTES)):
            content[at : at + len(part)] = np.frombuffer(part, dtype=np.uint8)
            at += len(part)
    if at != size:
        raise ArraysError(f"{entry.filename} ends too early")
    return content.view(dtype).reshape(shape)


def _header(stream: Any, name: str) -> tuple[tuple[int, ...], np.dtype[Any], int]:
    """Read an array's header: its shape, its type, and how many bytes the header takes."""
    head = io.BytesIO(stream.read(8))
    try:
        major, minor = np.lib.format.read_magic(head)
        if (major, minor) != (1, 0):
            raise ArraysError(f"{name} is written in format {major}.{minor}")
        length = stream.read(2)
        text = stream.read(int.from_bytes(length, "little"))
        shape, fortran, dtype = np.lib.format.read_array_header_1_0(io.BytesIO(length + text))
    except (
        ValueError,
        TypeError,
        SyntaxError,
        tokenize.TokenError,
        MemoryError,
        RecursionError,
    ) as error:
        raise ArraysError(f"{name} has no readable header ({error})") from error
    if dtype.kind not in _KINDS or dtype.hasobject or dtype.names is not None:
        raise ArraysError(f"{name} holds {dtype}, not numbers")
    if fortran and len(shape) > 1:
        raise ArraysError(f"{name} is stored by columns")
    if any(side < 0 for side in shape):
        raise ArraysError(f"{name} has a negative side")
    if not dtype.itemsize:
        raise ArraysError(f"{name} holds empty texts")
    return shape, dtype, 10 + len(text)
