"""Band systems are solved as the library solves them."""

import numpy as np
import pytest
from scipy.linalg import LinAlgError, solveh_banded

from counting.body.banded import solve_banded
from counting.body.skeleton import FloatArray


def system(n: int, width: int) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(n)
    band = rng.normal(size=(width + 1, n))
    band[-1] += 4.0 * width
    return np.asfortranarray(band), rng.normal(size=(n, 3))


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
