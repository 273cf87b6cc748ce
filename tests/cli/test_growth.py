"""What is believed of an athlete, film by film."""

import numpy as np

from cli.card.growth import growth_page
from counting.pacing.card.growth import growth_of
from counting.pacing.measure.simulate import shown_attempt
from counting.pacing.model.known import unbroken_sets
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import uniform_plan
from tests.counting.pacing.athletes import usual_athlete


def test_films_narrow_what_is_believed_and_the_page_names_each_step():
    stations = tuple(Station("thruster", 8, 1, number, 1) for number in (1, 2, 3))
    course = Course("rounds", stations, 600.0, True)
    athlete = usual_athlete(course.movements, "linear")
    plan = uniform_plan(course, {"thruster": (4,)}, 6.0)
    film = shown_attempt(athlete, course, plan, np.random.default_rng(1))
    growth = growth_of(unbroken_sets({"thruster": 20.0}), [("spring <1>.mp4", film)])
    assert growth.steps == ("before any film", "spring <1>.mp4")
    spans = [
        belief.high / belief.low
        for beliefs in growth.beliefs
        for belief in beliefs
        if belief.name == "thruster: one rep when fresh"
    ]
    assert spans[1] < spans[0]
    page = growth_page("Bow seat", growth)
    assert "spring &lt;1&gt;.mp4" in page
    assert "<script" not in page
