"""Figures of merit of verdicts, counted by hand on small sets."""

import math

import numpy as np
import pytest

from counting.lab.verdict_tables import (
    JudgedCheck,
    JudgedRep,
    verdict_figures,
    verdict_report,
)


def check(margin, value=None, uncertainty=1.0, unit="cm", quantity="hip crease above knee top"):
    true = -margin
    return JudgedCheck(
        quantity=quantity,
        unit=unit,
        value=true if value is None else value,
        uncertainty=uncertainty,
        true_value=true,
        true_margin=margin,
        probability_met=0.9,
    )


def rep(verdict, *margins, probability=None, **options):
    likely = {"good": 0.99, "no-rep": 0.01, "too close": 0.5}[verdict]
    return JudgedRep(
        film="jetty",
        movement="air squat",
        view_deg=options.pop("view_deg", 10.0),
        verdict=verdict,
        probability_good=likely if probability is None else probability,
        truly_good=min(margins) >= 0,
        checks=tuple(check(m) for m in margins),
        **options,
    )


def test_wrong_verdicts_of_both_kinds():
    figures = verdict_figures(
        [rep("good", 3.0), rep("good", -1.0), rep("no-rep", 2.0), rep("no-rep", -4.0)]
    )
    assert figures.false_good == (1, 4)
    assert figures.false_no_rep == (1, 4)
    assert figures.agreement == pytest.approx(0.5)
    assert figures.kappa == pytest.approx(0.0)
    assert figures.good_share == 0.5


def test_clear_reps_are_those_beyond_5_cm_or_12_degrees():
    """A good rep is as clear as its closest check, a bad one as its worst."""
    figures = verdict_figures(
        [rep("no-rep", 6.0, 9.0), rep("good", 6.0, 4.0), rep("good", 9.0, -6.0), rep("good", -4.0)]
    )
    assert figures.wrong_though_clear == (2, 2)


def test_too_close_is_counted_apart_where_margin_and_view_leave_no_excuse():
    reps = [
        rep("too close", 9.0),
        rep("good", 9.0),
        rep("too close", 9.0, view_suits=False),
        rep("too close", 1.0),
    ]
    figures = verdict_figures(reps)
    assert figures.too_close == (3, 4)
    assert figures.too_close_though_wide == (1, 2)


def test_coverage_leaves_unread_checks_out():
    inside, outside = check(2.0, value=-3.0), check(2.0, value=-5.0)
    unread = check(2.0, value=math.nan)
    judged = JudgedRep("jetty", "air squat", 0.0, "good", 0.9, True, (inside, outside, unread))
    assert verdict_figures([judged]).covered == (1, 2)


def test_calibration_of_the_stated_probability():
    reps = [rep("good", 1.0, probability=0.8)] * 4 + [rep("good", -1.0, probability=0.8)]
    assert verdict_figures(reps).calibration_error == pytest.approx(0.0)


def test_an_empty_set_has_no_shares():
    figures = verdict_figures([])
    assert figures.too_close == (0, 0)
    assert math.isnan(figures.good_share)


def test_the_report_shows_bias_and_limits_by_view():
    rng = np.random.default_rng(0)
    reps = [
        JudgedRep(
            "jetty", "air squat", view, "good", 0.97, True,
            (check(4.0, value=-4.0 + bias + rng.normal(0, 0.5)),),
        )
        for view, bias in ((5.0, 2.0), (90.0, 0.0))
        for _ in range(30)
    ]  # fmt: skip
    report = verdict_report(reps)
    front = next(line for line in report.splitlines() if "front" in line and "hip crease" in line)
    side = next(line for line in report.splitlines() if "side" in line and "hip crease" in line)
    assert float(front.split()[7]) == pytest.approx(2.0, abs=0.3)
    assert float(side.split()[7]) == pytest.approx(0.0, abs=0.3)
    assert "false good" in report
    assert "Reliability" in report
