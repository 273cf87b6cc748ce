"""A replay leads athletes through the reps that were seen, as if rep by rep."""

import numpy as np
import pytest

from counting.pacing.model.athlete import FORMS, Athletes, athletes_at, space_for
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.exertion import (
    after_rep,
    after_rest,
    cycle_time_s,
    fresh,
    levels_of,
    rep_cost,
    success_probability,
    work_of,
)
from counting.pacing.model.fit import joined
from counting.pacing.model.refusals import reasons_of
from counting.pacing.model.replay import replay

SHARED_MUSCLES = ("thruster", "pull-up", "push-up")


def athletes_of(form: str) -> Athletes:
    space = space_for(SHARED_MUSCLES)
    scores = np.random.default_rng(5).standard_normal((8, space.size))
    if form == "mixed":
        return joined([athletes_at(space, scores, each) for each in FORMS])
    return athletes_at(space, scores, form)


def attempt_of(reps_gaps: list[tuple[str, float, float, int, bool | None, int]]) -> Attempt:
    clock_s, reps = 10.0, []
    for movement, gap_s, time_s, set_number, gave_out, station in reps_gaps:
        clock_s += gap_s
        reps.append(
            SeenRep(movement, clock_s, clock_s + time_s, set_number, gave_out, (1, 1, station))
        )
        clock_s += time_s
    return Attempt(tuple(reps), 8.0)


ATTEMPT = attempt_of(
    [
        ("thruster", 0.0, 2.0, 1, False, 1),
        ("thruster", 1.5, 2.2, 1, False, 1),
        ("thruster", 14.0, 2.4, 2, None, 1),
        ("pull-up", 6.0, 1.5, 3, False, 2),
        ("pull-up", 0.0, 1.7, 3, False, 2),
        ("pull-up", 0.8, 2.6, 3, True, 2),
        ("thruster", 9.0, 2.1, 4, False, 3),
    ]
)


@pytest.mark.parametrize("form", [*FORMS, "mixed"])
def test_stepping_through_the_reps_one_by_one_gives_the_same(form):
    athletes = athletes_of(form)
    count = len(athletes)
    missing, spent = fresh(athletes)
    before = None
    log_time, chance = [], []
    for rep in ATTEMPT.reps:
        work = work_of(athletes, rep.movement)
        if before is not None:
            gap_s = np.full(count, rep.start_s - before.end_s)
            rested, faded = after_rest(athletes, missing, spent, gap_s)
            if rep.set_number != before.set_number:
                missing = rested
                spent = faded if rep.place == before.place else np.zeros(count)
            else:
                rested[:, work.used] = missing[:, work.used]
                missing = rested
        cost, levels = rep_cost(work, spent), levels_of(missing)
        log_time.append(np.log(cycle_time_s(work, levels, 1.0)))
        chance.append(success_probability(work, levels, cost))
        missing = after_rep(athletes, work, missing, cost, np.full(count, rep.time_s))
        spent = spent + 1.0
        before = rep
    run = replay(athletes, ATTEMPT)
    np.testing.assert_allclose(run.log_time, np.array(log_time).T, rtol=1e-12)
    np.testing.assert_allclose(np.exp(run.log_chance), np.array(chance).T, rtol=1e-12)
    np.testing.assert_allclose(run.missing, missing, rtol=1e-12, atol=1e-12)


def test_an_outcome_surprises_by_its_own_probability():
    run = replay(athletes_of("linear"), ATTEMPT)
    went, gave_out = 0, 5
    np.testing.assert_allclose(run.surprise[:, went], -run.log_chance[:, went])
    np.testing.assert_allclose(
        np.exp(-run.surprise[:, gave_out]), 1.0 - np.exp(run.log_chance[:, gave_out]), atol=1e-12
    )


def test_a_try_that_did_not_count_surprises_as_a_failed_or_a_refused_one():
    run, unknown = replay(athletes_of("linear"), ATTEMPT), 2
    reasons, chance = reasons_of(ATTEMPT), np.exp(run.log_chance[:, unknown])
    expected = (1.0 - chance) * reasons.as_failed[unknown] + chance * reasons.as_refused[unknown]
    np.testing.assert_allclose(np.exp(-run.surprise[:, unknown]), expected)
