"""A calibration made up for tests."""

import pytest

from counting.checks.table import Calibration

VIEWS = ("front", "oblique", "side")


def made_up(**changes):
    values = {
        "reference": 0.0,
        "level": (0.0, 10.0),
        "level_front": (5.0, 0.0),
        "slope": (1.0, 0.5),
        "slope_front": (0.0, 0.0),
        "own_side": ((1.0, 0.0), (0.0, 1.0)),
        "own_front": ((1.0, 0.0), (0.0, 1.0)),
        "common_side": ((1.0, 0.0), (0.0, 1.0)),
        "common_front": ((1.0, 0.0), (0.0, 1.0)),
        "between": dict.fromkeys(VIEWS, 3.0),
        "within": dict.fromkeys(VIEWS, 1.0),
        "slope_error": 0.2,
        "response": dict.fromkeys(VIEWS, 1.0),
        "read_share": dict.fromkeys(VIEWS, 0.95),
        "films": dict.fromkeys(VIEWS, 5),
        "typical": -4.0,
        "typical_spread": 1.5,
        "rep_spread": 0.8,
        "miss_share": 0.12,
        "misses": ((1.0, 4.0, 5.0),),
        "met_share": 0.9,
        "relation": "at most",
        "limit": 0.0,
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
