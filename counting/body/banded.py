"""Symmetric band systems, solved while other threads go on.

SciPy's own call keeps the interpreter for as long as it takes, which is half of all fitting; the
LAPACK routine behind it, called by its address, does not.
"""

import ctypes
from typing import Final

import numpy as np
from scipy import LowLevelCallable
from scipy.linalg import LinAlgError, cython_lapack

from counting.body.skeleton import FloatArray

_INTEGER: Final = ctypes.POINTER(ctypes.c_int)
_NUMBERS: Final = ctypes.POINTER(ctypes.c_double)


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
    if status.value:
        raise LinAlgError(f"no positive definite matrix up to row {status.value}")
    return solved


def _whole(value: int) -> "ctypes._Pointer[ctypes.c_int]":
    return ctypes.pointer(ctypes.c_int(value))


def _lapack(name: str) -> "ctypes._FuncPointer":
    function = LowLevelCallable.from_cython(cython_lapack, name)
    address = ctypes.pythonapi.PyCapsule_GetPointer
    address.restype, address.argtypes = ctypes.c_void_p, (ctypes.py_object, ctypes.c_char_p)
    numbers = (_INTEGER, _INTEGER, _INTEGER, _NUMBERS, _INTEGER, _NUMBERS, _INTEGER, _INTEGER)
    kind = ctypes.CFUNCTYPE(None, ctypes.c_char_p, *numbers)
    return kind(address(function.function, function.signature.encode()))


_dpbsv: Final = _lapack("dpbsv")
