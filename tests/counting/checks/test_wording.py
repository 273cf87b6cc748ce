"""Verdicts in plain words."""

import pytest

from counting.checks.types import CheckReading
from counting.checks.wording import rep_reason, shortfall
from counting.movements.loader import find_movement


def check_named(movement, name):
    return next(c for c in find_movement(movement).checks if c.name == name)


@pytest.mark.parametrize(
    ("movement", "name", "value", "said"),
    [
        ("air squat", "depth", 4.2, "hip crease 4 cm above the top of the knee"),
        ("air squat", "depth", -1.4, "hip crease 1 cm below the top of the knee"),
        ("thruster", "lockout", 151.0, "elbows reached 151 degrees, 165 degrees asked"),
        ("pull-up", "chin", -3.0, "chin 3 cm below the bar"),
        ("chest-to-bar pull-up", "contact", 6.0, "chest 6 cm from the bar, 2 cm allowed"),
        ("push-up", "chest", 9.7, "chest 10 cm above the floor, 5 cm allowed"),
    ],
)
def test_shortfalls(movement, name, value, said):
    assert shortfall(check_named(movement, name), (value - 1, value, value + 1), "not met") == said


def test_what_is_too_close_says_by_how_much():
    said = shortfall(check_named("air squat", "depth"), (-2.0, 0.6, 3.4), "too close")
    assert said == "hip crease 1 cm above the top of the knee, give or take 3 cm"


def reading(name, probability, reason=None):
    return CheckReading(
        name, name, "knee angle", 1.0, 160.0, "at least", 165.0, "deg", 2.0, probability,
        "met" if probability >= 0.95 else "not met" if probability <= 0.05 else "too close", reason,
    )  # fmt: skip


def test_a_rep_is_explained_by_its_worst_check():
    checks = [reading("hips", 0.99), reading("knees", 0.01, "knees reached 150 degrees")]
    assert rep_reason("no-rep", checks) == "knees: knees reached 150 degrees"
    assert rep_reason("good", checks) is None


def test_checks_met_alone_but_not_together_are_explained():
    assert "all of them together" in rep_reason(
        "too close", [reading("a", 0.96), reading("b", 0.96)]
    )
