"""The correction is chosen by the calls that come of it."""

from dataclasses import replace

import numpy as np
import pytest

from counting.decision.combination import SHARED_ERROR
from counting.decision.conformance import Risk
from counting.decision.reliability import AS_STATED, Reliability
from counting.lab.correction import corrected, fewest_open
from counting.lab.verdict_tables import JudgedCheck, JudgedRep, verdict_figures

UNREAD = 0.88
RISK = Risk()


def rep(*stated, good=True, value=170.0):
    checks = tuple(
        JudgedCheck(
            quantity="elbow angle",
            unit="deg",
            value=value,
            uncertainty=5.0,
            true_value=170.0,
            true_margin=5.0 if good else -5.0,
            probability_met=probability,
        )
        for probability in stated
    )
    return JudgedRep("film", "strict press", 0.0, "too close", 0.5, good, checks)


def called(reps, correction):
    return verdict_figures([corrected(one, correction, RISK, SHARED_ERROR) for one in reps])


def choose(reps):
    return fewest_open(reps, RISK, SHARED_ERROR, UNREAD)


CAREFUL = [rep(0.93) for _ in range(220)] + [rep(0.07, good=False) for _ in range(16)]


def test_calls_that_were_stated_too_carefully_are_made():
    assert called(CAREFUL, AS_STATED).too_close[0] == len(CAREFUL)
    assert called(CAREFUL, choose(CAREFUL)).too_close[0] == 0


def test_what_comes_true_as_stated_stays_open():
    """Seven in a hundred stated at 0.93 are bad: calling them good would be wrong seven times."""
    honest = [rep(0.93, good=number % 100 >= 7) for number in range(220)]
    found = choose(honest)
    assert called(honest, found).false_good[0] == 0
    assert called(honest, found).too_close[0] == len(honest)


def test_one_wrong_call_in_hundreds_is_borne_and_two_are_not():
    bad = rep(0.925, good=False)
    once, twice = choose([*CAREFUL[:210], bad]), choose([*CAREFUL[:210], bad, bad])
    assert called([*CAREFUL[:210], bad], once).too_close[0] == 0
    assert called([bad], twice).false_good[0] == 0


@pytest.mark.parametrize("stated", [0.89, 0.93, 0.97])
def test_a_check_of_which_nothing_was_read_stays_open(stated):
    found = choose([rep(stated) for _ in range(220)])
    assert found.corrected(np.array([UNREAD]))[0] < RISK.met_at_least


def test_without_a_safe_correction_nothing_is_corrected():
    assert choose([rep(0.999, good=False) for _ in range(50)]) == AS_STATED


def test_checks_without_a_reading_keep_what_is_known_of_them():
    unread = rep(0.9, value=float("nan"))
    judged = corrected(unread, Reliability(0.5, 1.3), RISK, SHARED_ERROR)
    assert judged == replace(unread, probability_good=pytest.approx(0.9))


def test_a_rep_with_an_unread_check_is_never_good():
    both = replace(rep(0.99), checks=(*rep(0.99).checks, *rep(0.96, value=float("nan")).checks))
    assert corrected(both, AS_STATED, RISK, SHARED_ERROR).verdict == "too close"
