"""What the networks' native runtime prints of itself, kept from the user.

The runtime says which back end it made with C's ``fprintf(stderr, ...)``; neither its Python
interface nor an environment variable turns that off (ai-edge-litert 2.3.0). Only C's own variable
``stderr`` is pointed elsewhere meanwhile. File descriptor 2, on which Python's error stream, its
tracebacks and the progress of other threads are written, is never touched.
"""

import contextlib
import ctypes
import os
import platform
import threading
from collections.abc import Iterator
from functools import cache
from typing import Final

_TURN: Final = threading.Lock()


@contextlib.contextmanager
def native_log_aside() -> Iterator[None]:
    """Drop what C code prints on ``stderr``; one thread at a time.

    Elsewhere than with the GNU C library, whose variable may be written, nothing is dropped.
    """
    with _TURN:
        stream = _c_stderr()
        nowhere = None if stream is None else _nowhere()
        if stream is None or nowhere is None:
            yield
            return
        kept = stream.value
        stream.value = nowhere
        try:
            yield
        finally:
            stream.value = kept


@cache
def _c_stderr() -> ctypes.c_void_p | None:
    if platform.libc_ver()[0] != "glibc":
        return None
    return ctypes.c_void_p.in_dll(ctypes.CDLL(None), "stderr")


@cache
def _nowhere() -> int | None:
    """Address of a C stream to the null device, opened once and never closed."""
    open_stream = ctypes.CDLL(None).fopen
    open_stream.restype = ctypes.c_void_p
    address: int | None = open_stream(os.devnull.encode(), b"w")
    return address
