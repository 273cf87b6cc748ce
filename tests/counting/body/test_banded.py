"""Band systems are solved as the library solves them."""

import numpy as np
import pytest
from scipy.linalg import LinAlgError, solveh_banded

from counting.body import banded
from counting.body.banded import solve_banded
from counting.body.skeleton import FloatArray


def system(n: int, width: int) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(n)
    band = rng.normal(size=(width + 1, n))
    band[-1] += 4.0 * width
    return np.asfortranarray(band), rng.normal(size=(n, 3))


@pytest.fixture(params=["at its address", "through SciPy"], autouse=True)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "through SciPy":
        monkeypatch.setattr(banded, "_dpbsv", None)
    else:
        assert banded._dpbsv is not None, "SciPy's routine is no longer called by its address"
    return str(request.param)


@pytest.mark.parametrize(("n", "width"), [(1, 0), (7, 2), (300, 50)])
def test_it_is_the_library_s_solution_to_the_last_bit(n: int, width: int) -> None:
    band, right = system(n, width)
    expected = solveh_banded(band, right)
    assert np.array_equal(solve_banded(band, right), expected)


def test_what_has_no_minimum_is_refused() -> None:
    band, right = system(20, 3)
    band[-1, 11] = -1.0
    with pytest.raises(LinAlgError, match="row 12"):
        solve_banded(band, right)


class Routine:
    """A routine as SciPy hands it out; its address is nowhere."""

    function = None

    def __init__(self, signature: str) -> None:
        self.signature = signature


DOUBLE = "__pyx_t_5scipy_6linalg_13cython_lapack_d *"


@pytest.mark.parametrize(
    "signature",
    [
        f"void (char *, long *, long *, long *, {DOUBLE}, long *, {DOUBLE}, long *, long *)",
        f"void (char *, int *, int *, int *, {DOUBLE}, int *, {DOUBLE}, int *, int *, int)",
        f"void (char *, int *, int *, int *, float *, int *, {DOUBLE}, int *, int *)",
        "",
    ],
)
def test_a_routine_that_takes_something_else_is_never_called(
    monkeypatch: pytest.MonkeyPatch, signature: str
) -> None:
    class Callables:
        @staticmethod
        def from_cython(_module: object, _name: str) -> Routine:
            return Routine(signature)

    monkeypatch.setattr(banded, "LowLevelCallable", Callables)
    assert banded._lapack("dpbsv", banded._SIGNATURE) is None


def test_a_library_without_the_routine_is_no_error() -> None:
    assert banded._lapack("no such routine", banded._SIGNATURE) is None
