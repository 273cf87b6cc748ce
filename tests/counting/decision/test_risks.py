"""Risks of decision rules against the resistors of JCGM 106:2012.

Inputs of the resistor example as read in a public teaching script; results computed from the
definition, the guide prints about 1 % and 7 %.
"""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from counting.decision.conformance import Risk
from counting.decision.risks import global_risks, posterior, risks_of_verdicts

RESISTOR = {"prior_mean": 1500.0, "prior_sd": 0.12, "measurement_sd": 0.04}
TOLERANCE = (1499.8, 1500.2)


@pytest.mark.parametrize(
    ("guard", "consumer", "producer"),
    [
        (0.00, 0.01894, 0.03721),
        (0.02, 0.00988, 0.06903),
        (0.04, 0.00433, 0.11466),
        (0.08, 0.000469, 0.24767),
    ],
)
def test_resistors_with_guard_bands(guard, consumer, producer):
    risks = global_risks(
        **RESISTOR,
        tolerance=TOLERANCE,
        acceptance=(TOLERANCE[0] + guard, TOLERANCE[1] - guard),
    )
    assert risks.consumer == pytest.approx(consumer, abs=6e-6)
    assert risks.producer == pytest.approx(producer, abs=6e-6)


def test_share_of_good_resistors_before_measuring():
    assert 2 * ndtr(0.2 / 0.12) - 1 == pytest.approx(0.90442, abs=1e-5)
    accept_all = global_risks(**RESISTOR, tolerance=TOLERANCE, acceptance=(0.0, 3000.0))
    assert accept_all.consumer == pytest.approx(1 - 0.90442, abs=1e-5)
    assert accept_all.producer == pytest.approx(0.0, abs=1e-12)


def test_one_reading_of_a_resistor():
    mean, sd = posterior(1500.0, 0.12, 1500.19, 0.04)
    assert mean == pytest.approx(1500.1710)
    assert sd == pytest.approx(0.037947, abs=1e-6)
    assert ndtr((1500.2 - mean) / sd) == pytest.approx(0.77763, abs=1e-5)


def test_wrong_verdicts_expected_among_definite_ones():
    risks = risks_of_verdicts([0.99, 0.96, 0.5, 0.03, 0.01], Risk())
    assert risks.consumer == pytest.approx(0.05)
    assert risks.producer == pytest.approx(0.04)


def test_the_integral_agrees_with_drawn_parts():
    rng = np.random.default_rng(4)
    true = rng.normal(1500, 0.12, 400_000)
    read = true + rng.normal(0, 0.04, true.size)
    good = np.abs(true - 1500) <= 0.2
    accepted = np.abs(read - 1500) <= 0.18
    risks = global_risks(**RESISTOR, tolerance=TOLERANCE, acceptance=(1499.82, 1500.18))
    spread = 4 * math.sqrt(0.07 / true.size)
    assert risks.consumer == pytest.approx(float(np.mean(accepted & ~good)), abs=spread)
    assert risks.producer == pytest.approx(float(np.mean(good & ~accepted)), abs=spread)
