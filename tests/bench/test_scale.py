import math

import numpy as np
import pytest

from tests.bench.scale import Assumptions, draw, finish_times, needs, servers_needed

SMALL = Assumptions(submissions=3000)


def test_one_server_takes_jobs_one_after_the_other() -> None:
    finished = finish_times(np.array([0.0, 1.0, 10.0]), np.array([3.0, 3.0, 3.0]), 1)
    assert finished.tolist() == [3.0, 6.0, 13.0]


def test_a_free_server_takes_the_next_job_at_once() -> None:
    finished = finish_times(np.array([0.0, 0.0, 0.0]), np.array([5.0, 1.0, 1.0]), 2)
    assert finished.tolist() == [5.0, 1.0, 2.0]


def erlang_c(servers: int, load: float) -> float:
    """Probability of waiting in M/M/c: A. K. Erlang, 1917."""
    last = load**servers / math.factorial(servers) * servers / (servers - load)
    return last / (sum(load**k / math.factorial(k) for k in range(servers)) + last)


@pytest.mark.parametrize(("servers", "load"), [(1, 0.7), (10, 8.0)])
def test_waiting_agrees_with_erlangs_formula(servers: int, load: float) -> None:
    chance = np.random.default_rng(1)
    n = 200_000
    arrival = np.cumsum(chance.exponential(1 / load, n))
    work = chance.exponential(1.0, n)
    wait = finish_times(arrival, work, servers) - arrival - work
    expected = erlang_c(servers, load) / (servers - load)
    assert wait.mean() == pytest.approx(expected, rel=0.08)
    assert (wait > 1e-9).mean() == pytest.approx(erlang_c(servers, load), abs=0.02)


def test_equal_work_halves_the_wait() -> None:
    """Pollaczek and Khinchine: with one server and equal work, half the wait of M/M/1."""
    chance = np.random.default_rng(2)
    n, load = 200_000, 0.7
    arrival = np.cumsum(chance.exponential(1 / load, n))
    wait = finish_times(arrival, np.ones(n), 1) - arrival - 1.0
    assert wait.mean() == pytest.approx(load / (2 * (1 - load)), rel=0.08)


def test_no_fewer_servers_would_do() -> None:
    drawn = draw(SMALL, 0)
    deadline = (SMALL.window_h + 12) * 3600
    enough = servers_needed(drawn.arrival_s, drawn.audit_s, deadline)
    assert finish_times(drawn.arrival_s, drawn.audit_s, enough).max() <= deadline
    assert finish_times(drawn.arrival_s, drawn.audit_s, enough - 1).max() > deadline


def test_a_deadline_before_the_last_arrival_is_refused() -> None:
    with pytest.raises(ValueError, match="comes too late"):
        servers_needed(np.array([0.0, 9.0]), np.array([1.0, 1.0]), 5.0)


def test_the_draw_follows_the_assumptions() -> None:
    drawn = draw(Assumptions(submissions=40_000), 3)
    assert drawn.film_s.mean() == pytest.approx(720, rel=0.02)
    assert (drawn.arrival_s > 84 * 3600).mean() == pytest.approx(0.5, abs=0.02)
    assert np.all(np.diff(drawn.arrival_s) >= 0)
    calling_s = 150 * Assumptions().undecided_share * 15
    assert drawn.review_s.mean() == pytest.approx(20 + calling_s, rel=0.02)


def test_the_same_seed_gives_the_same_plan() -> None:
    assert needs(SMALL, 5) == needs(SMALL, 5)
