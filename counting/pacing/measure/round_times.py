"""Predict the time of a round that the model did not see, to measure the model on real splits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.exertion import (
    after_rep,
    after_rest,
    cycle_time_s,
    fresh,
    levels_of,
    rep_cost,
    work_of,
)
from counting.pacing.model.fit import AthleteFit, fit_athlete
from counting.pacing.model.replay import replay


@dataclass(frozen=True)
class RoundTime:
    """One round left out of the fit: its time as filmed and as predicted from the others."""

    block: int
    round: int
    seen_s: float
    predicted_s: float

    @property
    def error(self) -> float:
        """Error as a share of the time seen."""
        return abs(self.predicted_s - self.seen_s) / self.seen_s


def leave_one_round_out(attempt: Attempt, seed: int = 0) -> list[RoundTime]:
    """Predict each round from a fit to all others.

    The prediction is told how the round was broken into sets, which is the athlete's choice, and
    nothing of its times. Rests and transitions are the means of those seen in other rounds. Rounds
    with a movement that no other round holds are passed over.
    """
    places = list(dict.fromkeys(rep.place[:2] for rep in attempt.reps))
    found = []
    for block, number in places:
        own = [rep for rep in attempt.reps if rep.place[:2] == (block, number)]
        others = closed_up(attempt, block, number)
        known = {rep.movement for rep in others.reps}
        if not {rep.movement for rep in own} <= known:
            continue
        fit = fit_athlete([others], seed=seed)
        earlier = Attempt(
            tuple(rep for rep in attempt.reps if rep.end_s <= own[0].start_s), attempt.start_s
        )
        predicted = [
            weight
            * _round_s(next(f.typical for f in fit.forms if f.form == form), own, earlier, fit)
            for form, weight in fit.weights.items()
        ]
        seen_s = own[-1].end_s - own[0].start_s
        found.append(RoundTime(block, number, seen_s, float(sum(predicted))))
    return found


def closed_up(attempt: Attempt, block: int, round_number: int) -> Attempt:
    """Leave a round out and let what follows it come at once, after the gap that preceded it."""
    own = [rep for rep in attempt.reps if rep.place[:2] == (block, round_number)]
    before = [rep for rep in attempt.reps if rep.end_s <= own[0].start_s]
    after = [rep for rep in attempt.reps if rep.start_s >= own[-1].end_s]
    gap_s = own[0].start_s - before[-1].end_s if before else 0.0
    resume_s = (before[-1].end_s if before else attempt.start_s) + gap_s
    shift_s = after[0].start_s - resume_s if after else 0.0
    moved = [
        replace(rep, start_s=rep.start_s - shift_s, end_s=rep.end_s - shift_s) for rep in after
    ]
    return Attempt((*before, *moved), attempt.start_s)


def _round_s(athlete: Athletes, own: Sequence[SeenRep], earlier: Attempt, fit: AthleteFit) -> float:
    """Play the sets of a round from the state that the reps before it left."""
    others = fit.attempts[0]
    missing, spent = fresh(athlete)
    if earlier.reps:
        missing = replay(athlete, earlier).missing
        gap_s = own[0].start_s - earlier.reps[-1].end_s
        missing, spent = after_rest(athlete, missing, spent, np.array([gap_s]))
    clock_s, before = 0.0, None
    for rep in own:
        work = work_of(athlete, rep.movement, rep.load_kg)
        if before is not None and rep.set_number != before.set_number:
            same = rep.place == before.place
            gap_s = _usual_break_s(others, rep.movement, athlete) if same else _usual_move_s(others)
            missing, spent = after_rest(athlete, missing, spent, np.array([gap_s]))
            spent = spent if same else np.zeros(1)
            clock_s += gap_s
        cost = rep_cost(work, spent)
        time_s = cycle_time_s(work, levels_of(missing), 1.0)
        missing = after_rep(athlete, work, missing, cost, time_s)
        spent = spent + 1.0
        clock_s += float(time_s[0])
        before = rep
    return clock_s


def _usual_break_s(others: Attempt, movement: str, athlete: Athletes) -> float:
    seen = [gap_s for name, gap_s in others.breaks() if name == movement]
    if seen:
        return float(np.mean(seen))
    return float(athlete.shortest_break_s[0, athlete.column(movement)])


def _usual_move_s(others: Attempt) -> float:
    seen = others.transitions_s()
    return float(np.mean(seen)) if seen else 0.0
