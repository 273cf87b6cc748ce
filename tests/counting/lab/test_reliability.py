"""What stated probabilities are worth is learnt from what came true."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.special import expit, logit

from counting.decision.agreement import expected_calibration_error
from counting.decision.reliability import AS_STATED
from counting.lab.reliability import learn_reliability


def outcomes(true_probabilities: np.ndarray, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).random(len(true_probabilities)) < true_probabilities


def test_a_careful_model_is_taken_at_its_worth() -> None:
    true = np.random.default_rng(0).beta(3.0, 0.4, 4000)
    stated = expit((logit(np.clip(true, 1e-6, 1 - 1e-6)) - 1.0) / 1.2)
    found = learn_reliability(stated, outcomes(true))
    assert found.shift == pytest.approx(1.0, abs=0.15)
    assert found.slope == pytest.approx(1.2, abs=0.1)


def test_on_cases_never_seen_the_calibration_error_falls() -> None:
    true = np.random.default_rng(2).beta(3.0, 0.6, 4000)
    stated = expit(logit(np.clip(true, 1e-6, 1 - 1e-6)) - 0.8)
    came = outcomes(true, 3)
    found = learn_reliability(stated[::2], came[::2])
    unseen, happened = stated[1::2], list(came[1::2])
    after = found.corrected(unseen)
    assert expected_calibration_error(list(after), happened) < 0.02
    assert expected_calibration_error(list(unseen), happened) > 0.05


def test_a_right_model_is_left_as_it_is() -> None:
    true = np.random.default_rng(4).beta(3.0, 0.5, 4000)
    found = learn_reliability(true, outcomes(true, 5))
    assert found.shift == pytest.approx(0.0, abs=0.15)
    assert found.slope == pytest.approx(1.0, abs=0.1)


def test_a_few_cases_change_little() -> None:
    assert learn_reliability([], []) == AS_STATED
    found = learn_reliability([0.9, 0.8, 0.95], [True, True, True])
    assert abs(float(found.corrected(np.array([0.9]))[0]) - 0.9) < 0.04


def test_agrees_with_logistic_regression_of_a_reference_library() -> None:
    # statsmodels' Logit: the same likelihood without the prior, which 20,000 cases outweigh
    rng = np.random.default_rng(6)
    stated = rng.uniform(0.02, 0.98, 20_000)
    came = outcomes(expit(0.5 + 1.1 * logit(stated)), 7)
    reference = sm.Logit(came.astype(float), sm.add_constant(logit(stated))).fit(disp=0)
    found = learn_reliability(stated, came)
    assert (found.shift, found.slope) == pytest.approx(tuple(reference.params), abs=0.005)
