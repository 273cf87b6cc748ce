"""How far a film's own scatter moves the table's error, worked by hand from its model.

The logarithm of a film's true error over the table's is normal with standard deviation 0.4, and
0.35 more for each power of e of the error factor. That of the median distance from the median has
the variance 1 / (2 · 0.37 (n - 1)): half as much information as a standard deviation's, times its
efficiency of 0.37 (Rousseeuw and Croux 1993).
"""

from dataclasses import replace

import numpy as np
import pytest

from counting.checks.errors import with_errors
from counting.checks.table import Values, packaged_table

TABLE_CM = 2.0
ENTRY = replace(
    packaged_table().entries["hip crease above knee top / standing"], within={"side": TABLE_CM}
)
NORMAL = 1.4826
"""Standard deviations of normal values in their median distance from the median."""


def own_error_cm(scatter_cm, factor=1.0):
    """Errors of eleven reps that lie so far apart; the middle five within it, for the median."""
    away = np.array([-9, -8, -3, -1, -0.5, 0.0, 0.5, 1, 3, 8, 9]) * scatter_cm / NORMAL / 3.0
    n = len(away)
    unsure = np.full(n, TABLE_CM * np.sqrt(factor**2 - 1.0))
    return with_errors(Values(away, unsure, 0.0, np.ones(n), 1.0), ENTRY, "side").own_error


def gain(model_variance, n=11):
    """Share of what the scatter says that is believed: normal regression."""
    return model_variance / (model_variance + 1 / (2 * 0.37 * (n - 1)))


@pytest.mark.parametrize("ratio", [0.5, 0.9, 1.1])
def test_half_of_what_eleven_reps_say_is_believed(ratio):
    """0.16 / (0.16 + 0.135) = 0.54 of the logarithm."""
    assert own_error_cm(ratio * TABLE_CM) == pytest.approx(TABLE_CM * ratio ** gain(0.4**2))


def test_where_all_are_badly_seen_the_table_says_less_and_the_reps_more():
    assert own_error_cm(0.5 * np.e * TABLE_CM, np.e) == pytest.approx(
        TABLE_CM * np.e * 0.5 ** gain(0.4**2 + 0.35**2)
    )


def test_reps_that_read_alike_are_known_better_but_not_as_well_as_they_are_alike():
    """No ratio under a twentieth, and none above 1.2, is believed."""
    assert own_error_cm(0.0) == pytest.approx(TABLE_CM * 0.05 ** gain(0.4**2))
    assert own_error_cm(0.03 * TABLE_CM) == pytest.approx(TABLE_CM * 0.05 ** gain(0.4**2))
    assert own_error_cm(0.07 * TABLE_CM) == pytest.approx(TABLE_CM * 0.07 ** gain(0.4**2))
    assert own_error_cm(5.0 * TABLE_CM) == pytest.approx(TABLE_CM * 1.2 ** gain(0.4**2))
