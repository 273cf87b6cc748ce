"""True values of a film's reps from readings that share an error, on simulated films."""

import numpy as np
import pytest

from counting.checks.inference import posterior_of_reps
from counting.decision.agreement import expected_calibration_error
from counting.decision.conformance import Risk, decide


def draw_films(calibration, rng, films, reps, common=3.0, own=1.0):
    """True values and readings as the model has it, without gross errors."""
    for _ in range(films):
        typical = rng.normal(calibration.typical, calibration.typical_spread)
        true = rng.normal(typical, calibration.rep_spread, reps)
        missed = rng.random(reps) < calibration.miss_share
        ((_, centre, spread),) = calibration.misses
        true[missed] = rng.normal(centre, spread, missed.sum())
        yield true, true + rng.normal(0, common) + rng.normal(0, own, reps)


def judged(calibration, readings, own=1.0, common=3.0, limit=0.0):
    return posterior_of_reps(
        np.asarray(readings, float),
        np.full(len(readings), own),
        common,
        calibration,
        limit,
        "at most",
    )


@pytest.fixture(scope="module")
def simulated(make_calibration):
    """Ten thousand reps."""
    calibration = make_calibration(slope_error=0.0)
    rng = np.random.default_rng(11)
    rows = []
    for true, readings in draw_films(calibration, rng, films=1000, reps=10):
        known = judged(calibration, readings)
        rows += list(zip(true, known.value, known.uncertainty, known.probability_met, strict=True))
    return np.array(rows)


def test_stated_intervals_hold_the_truth_in_93_to_97_percent(simulated):
    true, value, uncertainty, _ = simulated.T
    held = np.mean(np.abs(value - true) <= 1.96 * uncertainty)
    assert 0.93 <= held <= 0.97


def test_stated_probabilities_come_true(simulated):
    true, _, _, probability = simulated.T
    assert expected_calibration_error(list(probability), list(true <= 0)) < 0.02


def test_definite_verdicts_are_wrong_no_more_often_than_stated(simulated):
    true, _, _, probability = simulated.T
    verdicts = np.array([decide(p, Risk()) for p in probability])
    assert np.mean(true[verdicts == "met"] > 0) < 0.05
    assert np.mean(true[verdicts == "not met"] <= 0) < 0.05
    assert np.mean(verdicts == "too close") < 0.35


def test_a_rep_unlike_the_others_is_told_whatever_the_camera_adds(calibration):
    """Nine readings alike and one 8 cm higher, all raised by the same unknown error."""
    for common in (-3.0, 0.0, 3.0):
        readings = np.array([-4.0] * 9 + [5.0]) + common
        known = judged(calibration(), readings)
        assert known.probability_met[:9].min() > 0.9
        assert known.probability_met[9] < 0.1


def test_other_reps_narrow_the_uncertainty_of_one(calibration):
    """The film's common error is met by all, so company helps even without a second camera."""
    alone = judged(calibration(), [-1.0])
    company = judged(calibration(), [-1.0, -4.0, -4.2, -3.9, -4.1])
    assert company.probability_met[0] < alone.probability_met[0]


def test_a_rep_not_read_is_known_by_habit_alone(calibration):
    known = judged(calibration(), [np.nan, np.nan])
    expected = 0.88 * 0.9906 + 0.12 * 0.2119
    assert known.probability_met == pytest.approx(expected, abs=0.01)
    assert np.isfinite(known.value).all()


def test_a_worthless_reading_never_makes_a_definite_verdict(calibration):
    known = judged(calibration(), [-4.0, 40.0], own=60.0, common=80.0)
    assert np.all((known.probability_met > 0.05) & (known.probability_met < 0.95))


def test_a_rep_well_seen_is_told_from_one_whose_reading_may_be_far_off(calibration):
    readings = np.array([-4.0] * 6 + [3.0])
    met = [
        posterior_of_reps(
            readings, np.array([1.0] * 6 + [own]), 3.0, calibration(), 0.0, "at most"
        ).probability_met[6]
        for own in (1.0, 4.0)
    ]
    assert met[0] < met[1]


def test_a_limit_from_below_mirrors_one_from_above(calibration):
    mirrored = calibration(typical=4.0, misses=((1.0, -4.0, 5.0),))
    up = posterior_of_reps(np.array([3.0, -5.0]), np.ones(2), 3.0, mirrored, 0.0, "at least")
    down = judged(calibration(), [-3.0, 5.0])
    assert up.probability_met == pytest.approx(down.probability_met, abs=1e-9)
    assert up.value == pytest.approx(-down.value, abs=1e-9)
