"""Which correction of stated probabilities leaves the fewest reps open without making calls wrong.

Likelihood weighs a probability of 0.6 that should be 0.7 as much as one that decides a rep. What
users are given are calls, so the correction is chosen by these: the fewest reps open among the
corrections with which wrong calls stay rare, probabilities come true, and a check of which nothing
was read stays open. Calls must stay right with the corrections next to it as well, or a single rep
would choose.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np

from counting.decision.combination import probability_all, rep_state
from counting.decision.conformance import Risk
from counting.decision.reliability import AS_STATED, Reliability
from counting.lab.verdict_tables import JudgedRep, verdict_figures

WRONG_AT_MOST: Final = 0.005
"""Share of reps called good, and of reps called no-rep, wrongly: half of what is promised."""
CALIBRATION_ERROR_AT_MOST: Final = 0.04
_SHIFTS: Final = tuple(np.linspace(0.0, 1.0, 11).round(2).tolist())
_SLOPES: Final = tuple(np.linspace(1.0, 1.4, 9).round(2).tolist())


def corrected(
    rep: JudgedRep, correction: Reliability, risk: Risk, shared_error: float
) -> JudgedRep:
    """Judge a rep anew whose checks were stated without correction."""
    stated = np.array([check.probability_met for check in rep.checks])
    read = np.array([np.isfinite(check.value) for check in rep.checks], dtype=np.bool_)
    worth = np.where(read, correction.corrected(stated), stated).tolist()
    verdict = rep_state(worth, risk)
    return replace(
        rep,
        verdict="too close" if verdict == "good" and not read.all() else verdict,
        probability_good=probability_all(worth, shared_error),
        checks=tuple(
            replace(check, probability_met=probability)
            for check, probability in zip(rep.checks, worth, strict=True)
        ),
    )


def fewest_open(
    reps: Sequence[JudgedRep], risk: Risk, shared_error: float, unread: float
) -> Reliability:
    """Choose the correction.

    Parameters
    ----------
    reps
        Judged without correction, of bodies that the table was not made from.
    risk
        How sure a definite verdict must be.
    shared_error
        That of the table.
    unread
        Largest probability stated of a check by habit alone, without any reading.

    Returns
    -------
    Reliability
        `AS_STATED` where none does what is asked; of several the one nearest to what was stated.
    """
    found = {
        place: verdict_figures([corrected(rep, _at(place), risk, shared_error) for rep in reps])
        for place in product(range(len(_SHIFTS)), range(len(_SLOPES)))
    }
    sure = {
        place
        for place, figures in found.items()
        if max(figures.false_good[0], figures.false_no_rep[0]) <= WRONG_AT_MOST * len(reps)
    }
    safe = [
        place
        for place in sure
        if _neighbours(place) <= sure
        and found[place].calibration_error <= CALIBRATION_ERROR_AT_MOST
        and _at(place).corrected(np.array([unread]))[0] < risk.met_at_least
    ]
    if not safe:
        return AS_STATED
    shift, slope = min(safe, key=lambda place: (found[place].too_close[0], place[::-1]))
    return _at((shift, slope))


def _at(place: tuple[int, int]) -> Reliability:
    return Reliability(_SHIFTS[place[0]], _SLOPES[place[1]])


def _neighbours(place: tuple[int, int]) -> set[tuple[int, int]]:
    """Corrections one step away in shift, or in slope."""
    shift, slope = place
    return {(shift - 1, slope), (shift + 1, slope), (shift, slope - 1), (shift, slope + 1)}
