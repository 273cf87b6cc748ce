"""Stated probabilities, corrected by what came true."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from counting.decision.reliability import Reliability


def one(reliability: Reliability, stated: float) -> float:
    return float(reliability.corrected(np.array([stated]))[0])


def test_odds_are_multiplied_and_shifted() -> None:
    # odds of 0.8 are 4; squared 16; doubled 32: 32/33
    assert one(Reliability(np.log(2.0), 2.0), 0.8) == pytest.approx(32 / 33)


def test_what_is_certain_stays_certain() -> None:
    assert one(Reliability(1.0, 1.5), 1.0) == 1.0
    assert one(Reliability(1.0, 1.5), 0.0) == 0.0


@given(st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_what_is_likelier_stays_likelier(this: float, that: float) -> None:
    correction = Reliability(0.7, 1.3)
    assert one(correction, min(this, that)) <= one(correction, max(this, that))


@pytest.mark.parametrize("beyond", [0.5, 1.0, 1.5])
def test_uncertainties_are_corrected_along_with_probabilities(beyond: float) -> None:
    """A reading so many uncertainties beyond the limit, with a normal error (SciPy's)."""
    correction = Reliability(0.0, 1.25)
    narrow = float(correction.corrected_uncertainty(np.array([1.0]))[0])
    assert norm.cdf(beyond / narrow) == pytest.approx(one(correction, norm.cdf(beyond)), abs=0.01)
