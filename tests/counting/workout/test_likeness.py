"""A film that shows another movement than the one named is told, and a right one is not."""

from collections import Counter

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.lab.calibrate import READINGS
from counting.lab.likeness import learn_movements, tried_on_bodies_left_out, write_movements
from counting.lab.readings import load_readings
from counting.movements.loader import built_in_movements
from counting.workout.likeness import (
    describe_film,
    film_likeness,
    packaged_movements,
    with_proportions,
)


@pytest.fixture(scope="module")
def films():
    return load_readings(READINGS)


def test_the_movements_with_labelled_films_are_known(films):
    """Every one that films of six bodies show, among them those that are looked for off script."""
    shown = Counter(name for name, _ in {(film.movement, film.body) for film in films})
    known = set(packaged_movements().usual)
    assert known == {name for name, bodies in shown.items() if bodies >= 6}
    assert known >= {m.name for m in built_in_movements() if m.recognised.off_script}


def test_a_movement_that_few_bodies_showed_is_not_known(films):
    """Whom nobody resembles yet would be taken for somebody who does something else."""
    bodies = sorted({film.body for film in films if film.movement == "pull-up"})
    for number in (5, 6):
        chosen = [f for f in films if f.movement != "pull-up" or f.body in bodies[:number]]
        known = learn_movements(chosen)
        assert ("pull-up" in known.usual) == (number == 6)
        assert "air squat" in known.usual


@pytest.fixture(scope="module")
def left_out(films):
    """Share of wrong names noticed, and of right ones, over all ninety pairs of the ten."""
    counts, _ = tried_on_bodies_left_out(films)
    wrong, right = (
        counts[f"{kind}, noticed"] / (counts[f"{kind}, noticed"] + counts[f"{kind}, taken"])
        for kind in ("wrong", "right")
    )
    return wrong, right


def test_of_films_of_bodies_left_out_wrong_names_are_noticed_and_right_ones_taken(left_out):
    noticed, alarmed = left_out
    assert noticed >= 0.95
    assert alarmed <= 0.01


@pytest.mark.xfail(strict=True, reason="97.8 % since limbs are put where the outline shows them")
def test_of_wrong_names_ninety_eight_in_a_hundred_are_noticed(left_out):
    assert left_out[0] >= 0.98


def test_the_packaged_file_is_the_one_that_the_kept_readings_make(films, tmp_path):
    write_movements(learn_movements(films), tmp_path / "again.json")
    packaged, learnt = packaged_movements(), learn_movements(films)
    for name, usual in learnt.usual.items():
        assert packaged.usual[name] == pytest.approx(usual, abs=1e-4)
        assert packaged.scatter[name] == pytest.approx(learnt.scatter[name], abs=1e-4)


@pytest.mark.xfail(
    strict=True,
    reason="since ten more bodies are in the table this film lies within what deadlifts look like",
)
def test_short_squats_with_hanging_arms_are_no_deadlifts(films):
    """Every rep 20 cm short, hands at the sides: the hands come nowhere near a bar on the floor."""
    (film,) = (f for f in films if f.name == "031_uni_air_squat_all_m_avg_az97")
    likeness = packaged_movements().likeness(np.array(film.description))
    assert likeness.looks_like_another("deadlift") == "air squat"
    assert likeness.looks_like_another("air squat") is None


def test_proportions_of_half_as_much_of_everything_are_the_same():
    description = np.linspace(0.2, 0.9, 19)
    description[4], description[16] = 0.1, 0.2
    shorter = description.copy()
    shorter[[3, 9, 10, 11, 12]] /= 2
    shorter[4] = (description[4] + description[5]) / 2
    shorter[16] = (description[16] + description[17]) / 2
    shorter[15] = (1 + description[15]) / 2
    proportions, of_shorter = (with_proportions(d)[19:] for d in (description, shorter))
    assert of_shorter == pytest.approx(proportions, abs=0.1)


def test_a_film_of_somebody_who_stands_is_like_nothing():
    script = Script(standing())
    script.hold(3.0)
    track = play_in_metres(script, Camera(view_deg=30.0), rate_hz=12.0, noise=0.001)
    assert describe_film(track) is None
    assert film_likeness(track) is None


def test_a_movement_that_nobody_has_described_is_never_called_another(films):
    film = next(f for f in films if f.description is not None)
    likeness = packaged_movements().likeness(np.array(film.description))
    assert likeness.looks_like_another("kettlebell swing") is None
    assert sum(likeness.probabilities.values()) == pytest.approx(1.0)


def test_motion_unlike_all_known_movements_is_not_called_any_of_them(films):
    burpee = next(f for f in films if f.movement == "burpee" and f.description is not None)
    likeness = packaged_movements().likeness(np.array(burpee.description) + 5.0)
    assert likeness.looks_like_another("air squat") is None


def test_squats_of_a_figure_of_sticks_are_not_taken_for_something_else():
    script = Script(standing())
    script.hold(0.6)
    for _ in range(4):
        script.move(squat(1.0), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    track = play_in_metres(script, Camera(view_deg=20.0), rate_hz=12.0, noise=0.001)
    assert film_likeness(track).looks_like_another("air squat") is None
