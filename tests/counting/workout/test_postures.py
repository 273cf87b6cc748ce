"""How far the shoulders are above where they were in standing."""

import numpy as np
import pytest

from counting.workout.postures import _raised

RATE_HZ = 10.0


def before_and_after_a_hang(*parts: tuple[float, float]) -> float:
    """Give how far a hang 1.3 high is above standing, which comes before it and in reverse after.

    Each part is a height of the shoulders in standing and how long it lasts in seconds.
    """
    standing = np.repeat([p[0] for p in parts], [round(p[1] * RATE_HZ) for p in parts])
    hang = np.full(30, 1.3)
    shoulder = np.concatenate([standing, hang, standing[::-1]])
    on_the_floor = np.ones(shoulder.size, dtype=bool)
    on_the_floor[standing.size : standing.size + hang.size] = False
    raised = _raised(shoulder, on_the_floor, RATE_HZ)[~on_the_floor]
    assert np.ptp(raised) == 0.0
    return float(raised[0])


@pytest.mark.parametrize(
    "parts",
    [
        pytest.param([(1.0, 6.0), (0.7, 1.7)], id="stooping for less than two seconds"),
        pytest.param([(1.2, 6.0), (1.0, 2.3)], id="smaller in the picture for longer"),
    ],
)
def test_standing_is_told_from_the_tallest_of_the_last_and_next_four_seconds(
    parts: list[tuple[float, float]],
) -> None:
    assert before_and_after_a_hang(*parts) == pytest.approx(0.3)
