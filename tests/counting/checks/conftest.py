"""A calibration made up for tests."""

import pytest

from counting.checks.inference import TrueValues
from counting.checks.table import Calibration

VIEWS = ("front", "oblique", "side")
DEPTHS = TrueValues(usual=-4.0, usual_spread=1.5, lowest=-12.0, highest=25.0)


def made_up(**changes):
    """Two features that vary by 4 and 2, half correlated; the value is the first's distance."""
    values = {
        "centre": (0.0, 10.0),
        "covariance": ((16.0, 4.0), (4.0, 4.0)),
        "noise": (1.0, 0.5),
        "weight": dict.fromkeys(VIEWS, (1.0, 0.0)),
        "level": dict.fromkeys(VIEWS, -2.0),
        "before": DEPTHS,
        "between": dict.fromkeys(VIEWS, 2.0),
        "within": dict.fromkeys(VIEWS, 1.0),
        "response": dict.fromkeys(VIEWS, 1.0),
        "read_share": dict.fromkeys(VIEWS, 0.95),
        "films": dict.fromkeys(VIEWS, 5),
    }
    return Calibration(**{**values, **changes})


@pytest.fixture(scope="session")
def make_calibration():
    return made_up


@pytest.fixture
def calibration():
    return made_up


@pytest.fixture
def depth():
    return made_up()
