"""What few films are worth is tried on bodies that took no part."""

import numpy as np
import pytest

from counting.checks.table import VIEWS, view_name
from counting.lab.few_films import Tally, contexts, of_all_others, of_few_bodies, of_few_films
from counting.lab.readings import Sample
from counting.movements.loader import find_movement

DEPTH = find_movement("air squat").checks[0]
ANGLES = {"front": 0.0, "oblique": 45.0, "side": 90.0}


def sample(rng, body, view_deg, spread, key="hip crease above knee top / standing"):
    """One feature: the value with an error of the film, and a tenth of it for each rep."""
    truth = np.concatenate([rng.normal(-4, 1, 4), rng.uniform(3, 15, 4)])

    def seen(values, common):
        return (values + common + rng.normal(0, 0.1 * spread, len(values)))[:, None]

    common, ramp = rng.normal(0, spread), np.linspace(-10.0, 20.0, 20)
    return Sample(
        key=key,
        check=DEPTH,
        film=f"{body} {view_deg}",
        body=body,
        view_deg=view_deg,
        rep_features=seen(truth, common),
        rep_shown=truth,
        rep_truth=truth,
        rep_factors=np.ones((8, 1)),
        frame_features=seen(ramp, common),
        frame_truth=ramp,
    )


@pytest.fixture(scope="module")
def context():
    rng = np.random.default_rng(3)
    return [sample(rng, f"body {n}", angle, 1.0) for n in range(8) for angle in ANGLES.values()]


def apart(trials):
    """The trials, none of which may try a body that it learnt from."""
    kept = list(trials)
    assert kept
    for learnt, tried in kept:
        assert not {one.body for one in learnt} & {one.body for one in tried}
    return kept


def test_checks_are_grouped_by_context_and_what_no_standard_asks_for_is_left_out(context):
    rng = np.random.default_rng(0)
    besides = [sample(rng, "zoe", 45.0, 1.0, key=DEPTH.quantity), sample(rng, "zoe", 150.0, 1.0)]
    (group,) = contexts([*context, *besides])
    assert len(group) == len(context)


@pytest.mark.parametrize("view", list(VIEWS))
def test_a_view_is_tried_with_and_without_its_films(context, view):
    for without in (True, False):
        for learnt, tried in apart(of_all_others(context, view, without_view=without)):
            assert {view_name(one.view_deg) for one in tried} == {view}
            assert (view in {view_name(one.view_deg) for one in learnt}) != without


def test_so_many_films_are_taken_from_each_view(context):
    for learnt, _ in apart(of_few_films(context, 2)):
        views = [view_name(one.view_deg) for one in learnt]
        assert {view: views.count(view) for view in VIEWS} == dict.fromkeys(VIEWS, 2)


def test_so_many_bodies_are_taken_with_all_their_films(context):
    for learnt, _ in apart(of_few_bodies(context, 3)):
        assert len({one.body for one in learnt}) == 3
        assert len(learnt) == 9


def test_errors_as_usual_hold_and_unusual_ones_do_not(context):
    rng = np.random.default_rng(4)
    astray = [sample(rng, f"other {n}", 45.0, 12.0) for n in range(6)]
    usual, unusual = Tally(), Tally()
    usual.add(of_few_films(context, 4))
    unusual.add(iter([(context, astray)]))
    assert usual.held / usual.reps > 0.9 > 0.7 > unusual.held / unusual.reps
    assert usual.wrong / usual.sure < 0.05 < unusual.wrong / unusual.sure
