"""Critical power against worked points of the published equations."""

import numpy as np
import pytest

from counting.pacing.model.engine import (
    CriticalPower,
    balance_after_rest_2012_j,
    balance_after_rest_2015_j,
    fit_critical_power,
    intermittent,
    recovery_time_constant_2012_s,
    set_splitting_cost_s,
    time_to_exhaustion_s,
)

ATHLETE = CriticalPower(power_w=200.0, reserve_j=20_000.0)


@pytest.mark.parametrize("form", ["work over time", "power over inverse time", "hyperbola"])
def test_all_three_equations_return_the_exact_athlete(form):
    # Monod and Scherrer 1965: work = reserve + critical power * time; 44, 68, 116, 164 kJ.
    time_s = np.array([120.0, 240.0, 480.0, 720.0])
    work_j = np.array([44e3, 68e3, 116e3, 164e3])
    fitted = fit_critical_power(time_s, work_j / time_s, form)
    assert fitted.power_w == pytest.approx(200.0, rel=1e-9)
    assert fitted.reserve_j == pytest.approx(20_000.0, rel=1e-8)


def test_one_point_is_no_fit():
    with pytest.raises(ValueError, match="two powers"):
        fit_critical_power(np.array([120.0]), np.array([366.0]), "work over time")


@pytest.mark.parametrize(
    ("power_w", "time_s"), [(366.66666667, 120.0), (283.33333333, 240.0), (227.77777778, 720.0)]
)
def test_endurance_at_constant_power(power_w, time_s):
    assert time_to_exhaustion_s(ATHLETE, power_w) == pytest.approx(time_s, rel=1e-6)


def test_critical_power_can_be_held_for_ever():
    assert time_to_exhaustion_s(ATHLETE, 200.0) == float("inf")


@pytest.mark.parametrize(
    ("bout", "whole_bouts", "end_s"),
    [((300.0, 60.0, 100.0, 30.0), 5, 500.0), ((400.0, 60.0, 100.0, 60.0), 2, 280.0)],
)
def test_intermittent_bouts_end_where_linear_recovery_says(bout, whole_bouts, end_s):
    # Form of Morton and Billat, Eur J Appl Physiol 2004;91:303-307.
    ended = intermittent(ATHLETE, *bout)
    assert ended.whole_bouts == whole_bouts
    assert ended.end_s == pytest.approx(end_s, abs=1e-9)


def test_rests_that_repay_the_bouts_never_end():
    assert intermittent(ATHLETE, 250.0, 60.0, 100.0, 60.0).end_s == float("inf")


def test_whole_bouts_are_a_step_function_of_the_work():
    bouts = [
        intermittent(ATHLETE, watts, 60.0, 100.0, 30.0).whole_bouts for watts in range(290, 330)
    ]
    assert bouts == sorted(bouts, reverse=True)
    assert 2 <= len(set(bouts)) < len(bouts) / 4


@pytest.mark.parametrize(
    ("below_w", "constant_s"),
    [(0, 862.000), (50, 647.166), (100, 516.862), (150, 437.829), (200, 389.893)],
)
def test_time_constants_of_the_2012_form(below_w, constant_s):
    # Skiba et al., Med Sci Sports Exerc 2012;44:1526: 546 exp(-0.01 D) + 316.
    assert recovery_time_constant_2012_s(below_w) == pytest.approx(constant_s, abs=5e-4)


@pytest.mark.parametrize(
    ("rest_s", "form_2012_j", "form_2015_j"),
    [
        (30, 12451.1, 13114.3),
        (60, 12876.8, 14073.5),
        (120, 13657.5, 15609.5),
        (300, 15522.7, 18215.0),
    ],
)
def test_two_published_forms_of_recovery_and_the_gap_between(rest_s, form_2012_j, form_2015_j):
    # 8 kJ spent of 20 kJ, 100 W below critical power; formulas as in the trackeR documentation.
    assert balance_after_rest_2012_j(20e3, 8e3, 100, rest_s) == pytest.approx(form_2012_j, abs=0.05)
    assert balance_after_rest_2015_j(20e3, 8e3, 100, rest_s) == pytest.approx(form_2015_j, abs=0.05)


def test_the_smallest_splitting_problem_has_four_sets():
    # 50 reps, 0.05 s/rep^2 slowing, 8 s a break: worked by hand, (k - 1) c + a N^2 / k.
    cost_s = {sets: set_splitting_cost_s(sets, 50, 0.05, 8.0) for sets in range(1, 11)}
    assert min(cost_s, key=lambda sets: cost_s[sets]) == 4
    assert cost_s[4] == pytest.approx(55.25)
    assert cost_s[3] == pytest.approx(57.6667, abs=1e-3)
    assert cost_s[5] == pytest.approx(57.00)
