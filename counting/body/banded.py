"""Symmetric band systems, solved while other threads go on.

SciPy's own call keeps the interpreter for as long as it takes, which is half of all fitting; the
LAPACK routine behind it, called by its address, does not. Where that routine is another than the
one we know, SciPy's call has to do.
"""

import ctypes
import re
from typing import Final

import numpy as np
from scipy import LowLevelCallable
from scipy.linalg import LinAlgError, cython_lapack, lapack

from counting.body.skeleton import FloatArray

_INTEGER: Final = ctypes.POINTER(ctypes.c_int)
_NUMBERS: Final = ctypes.POINTER(ctypes.c_double)
_DOUBLE: Final = r"(double|\w+cython_lapack_d) \*"
_SIGNATURE: Final = re.compile(
    rf"void \(char \*, int \*, int \*, int \*, {_DOUBLE}, int \*, {_DOUBLE}, int \*, int \*\)"
)
"""As `ctypes` is told below; SciPy's own name for a double is a type of Cython's making."""


def solve_banded(band: FloatArray, right: FloatArray) -> FloatArray:
    """Solve for several right-hand sides by a Cholesky factor; both arrays are overwritten.

    Parameters
    ----------
    band
        (width + 1, n) upper diagonals as LAPACK stores them, by columns.
    right
        (n, k) right-hand sides.

    Raises
    ------
    LinAlgError
        The matrix is not positive definite.
    """
    solved, row = (_at_its_address if _dpbsv else _through_scipy)(band, right)
    if row:
        raise LinAlgError(f"no positive definite matrix up to row {row}")
    return solved


def _at_its_address(band: FloatArray, right: FloatArray) -> tuple[FloatArray, int]:
    assert _dpbsv is not None
    width, n = band.shape[0] - 1, band.shape[1]
    solved = np.asfortranarray(right)
    status = ctypes.c_int()
    _dpbsv(
        b"U",
        *(_whole(value) for value in (n, width, solved.shape[1])),
        band.ctypes.data_as(_NUMBERS),
        _whole(width + 1),
        solved.ctypes.data_as(_NUMBERS),
        _whole(n),
        ctypes.byref(status),
    )
    return solved, status.value


def _through_scipy(band: FloatArray, right: FloatArray) -> tuple[FloatArray, int]:
    _, solved, row = lapack.dpbsv(band, right, lower=0, overwrite_ab=1, overwrite_b=1)
    return solved, row


def _whole(value: int) -> "ctypes._Pointer[ctypes.c_int]":
    return ctypes.pointer(ctypes.c_int(value))


def _lapack(name: str, signature: re.Pattern[str]) -> "ctypes._FuncPointer | None":
    """Find a routine; None where it does not take what we would hand it, e.g. integers of 64 bits.

    The address knows no types: a call with others writes where it must not.
    """
    try:
        function = LowLevelCallable.from_cython(cython_lapack, name)
    except (ValueError, ImportError, AttributeError):
        return None
    if not signature.fullmatch(function.signature):
        return None
    address = ctypes.pythonapi.PyCapsule_GetPointer
    address.restype, address.argtypes = ctypes.c_void_p, (ctypes.py_object, ctypes.c_char_p)
    numbers = (_INTEGER, _INTEGER, _INTEGER, _NUMBERS, _INTEGER, _NUMBERS, _INTEGER, _INTEGER)
    kind = ctypes.CFUNCTYPE(None, ctypes.c_char_p, *numbers)
    return kind(address(function.function, function.signature.encode()))


_dpbsv: Final = _lapack("dpbsv", _SIGNATURE)
