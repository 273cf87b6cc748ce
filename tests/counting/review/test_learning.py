"""What is learnt from people's calls, on simulated films of one user; see `simulated`."""

import numpy as np
import pytest

from counting.checks.inference import AS_LABELLED, FilmError
from counting.checks.table import packaged_digest
from counting.checks.tuning import TunedGroup, Tuning
from counting.review.learning import FEWEST_REPS, learn_tuning
from counting.review.sheet import ReviewedSheet
from tests.counting.review import simulated
from tests.counting.review.simulated import DEPTH, ENTRIES, MOVEMENT, VIEW, sheets, squat_film

USUAL_CM = ENTRIES[DEPTH].between[VIEW]
OFFSET_CM = 1.65 * USUAL_CM
SPREAD_CM = 0.4 * USUAL_CM
"""This user's films are off by more than labelled ones usually are, and by much the same."""


def learnt(reviewed: list[ReviewedSheet]) -> Tuning:
    return learn_tuning(reviewed, {MOVEMENT.name: MOVEMENT})


def group_of(reviewed: list[ReviewedSheet]) -> TunedGroup:
    (group,) = learnt(reviewed).groups
    return group


def depth_of(group: TunedGroup) -> FilmError:
    return FilmError(group.errors[DEPTH].offset, group.errors[DEPTH].size)


def held_and_likelihood(
    error: FilmError, offset_cm: float, spread_cm: float
) -> tuple[float, float]:
    """Share of 95 % intervals of depth that hold, and mean log probability, on 60 new films."""
    rng = np.random.default_rng(99)
    held, stated = [], []
    for _ in range(60):
        film = squat_film(rng, 8, offset_cm, spread_cm)
        depth = film.posteriors(error)[DEPTH]
        true = film.true[DEPTH]
        held.append(np.abs(depth.value - true) <= 1.96 * depth.uncertainty)
        met = np.where(true <= 0.0, depth.probability_met, 1.0 - depth.probability_met)
        stated.append(np.log(np.clip(met, 1e-4, 1.0)))
    return float(np.mean(held)), float(np.mean(stated))


@pytest.fixture(scope="module")
def many() -> TunedGroup:
    return group_of(sheets(1, 25, 8, offset_cm=OFFSET_CM, spread_cm=SPREAD_CM))


def test_a_known_offset_is_recovered(many: TunedGroup) -> None:
    assert (many.movement, many.view, many.reps, many.films) == (MOVEMENT.name, VIEW, 200, 25)
    assert depth_of(many).offset == pytest.approx(OFFSET_CM, abs=0.5)
    assert SPREAD_CM / USUAL_CM < depth_of(many).size < 0.8


@pytest.mark.slow
def test_intervals_and_probabilities_get_better_on_new_films(many: TunedGroup) -> None:
    held_before, before = held_and_likelihood(AS_LABELLED, OFFSET_CM, SPREAD_CM)
    held, after = held_and_likelihood(depth_of(many), OFFSET_CM, SPREAD_CM)
    assert held_before < 0.93 < held
    assert after > 0.8 * before


@pytest.mark.slow
def test_where_films_are_as_labelled_ones_little_changes() -> None:
    error = depth_of(group_of(sheets(2, 25, 8, offset_cm=0.0, spread_cm=USUAL_CM)))
    assert abs(error.offset) < 0.5 * USUAL_CM
    assert 0.7 < error.size < 1.2
    held, after = held_and_likelihood(error, 0.0, USUAL_CM)
    assert held > 0.9
    assert after > held_and_likelihood(AS_LABELLED, 0.0, USUAL_CM)[1] - 0.02


def test_forty_reps_of_one_film_teach_less_than_of_many() -> None:
    """One film shows its own error, of which the offset is half."""
    one = depth_of(group_of(sheets(1, 1, 40, offset_cm=OFFSET_CM, spread_cm=SPREAD_CM)))
    assert 0.2 < one.offset < 0.7 * OFFSET_CM
    assert one.size > 0.9


def test_calls_lead_no_farther_than_four_standard_deviations_of_what_users_films_share() -> None:
    """Of a user's films half of the error's variance is common before looking."""
    far = group_of(sheets(1, 12, 8, offset_cm=4.0 * USUAL_CM, spread_cm=0.3))
    assert depth_of(far).offset / USUAL_CM == pytest.approx(4.0 * np.sqrt(0.5), rel=0.03)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_calls_that_contradict_everything_change_nothing(seed: int) -> None:
    tossed = sheets(seed, 10, 8, offset_cm=0.0, spread_cm=USUAL_CM, slips=1.0)
    group = group_of(tossed)
    assert group.slips > 0.25
    assert group.errors == ()


def test_of_fewer_than_thirty_reps_nothing_is_learnt() -> None:
    few = sheets(1, 1, FEWEST_REPS - 1, offset_cm=OFFSET_CM, spread_cm=SPREAD_CM)
    assert learnt(few) == Tuning(calibration=packaged_digest())


def test_audits_by_another_calibration_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(simulated, "packaged_digest", lambda: "another")
    old = sheets(1, 4, 10, offset_cm=OFFSET_CM, spread_cm=SPREAD_CM)
    assert learnt(old).groups == ()
