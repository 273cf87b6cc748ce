"""Several movements' sets in one numbering."""

from counting.reps.types import Rep
from counting.sets.grouping import Grouped, PlacedRep, merged
from counting.sets.types import Break, Pause, RepSet


def rep(number: int, movement: str, start_s: float) -> Rep:
    return Rep(number, movement, 0, 0, 0, start_s, start_s + 0.5, start_s + 1.0)


SQUATS = Grouped(
    sets=(RepSet(1, "air squat", 1, 2, 0.0, 2.0), RepSet(2, "air squat", 3, 3, 20.0, 21.0)),
    breaks=(Break(1, 2.0, 20.0, "standing"),),
    pauses=(Pause(1, 1.0, 1.4, "standing"),),
)
PRESSES = Grouped(
    sets=(RepSet(1, "strict press", 1, 2, 10.0, 14.0),),
    breaks=(),
    pauses=(Pause(1, 11.0, 13.0, "in the rack"),),
)
BOTH = {"air squat": SQUATS, "strict press": PRESSES}
PLACED = [
    PlacedRep(rep(1, "air squat", 0.0), 1, 0),
    PlacedRep(rep(2, "air squat", 1.0), 2, 0),
    PlacedRep(rep(3, "strict press", 10.0), 1, 1),
    PlacedRep(rep(4, "strict press", 13.0), 2, 1),
    PlacedRep(rep(5, "air squat", 20.0), 3, 2),
]


def test_sets_are_numbered_over_the_film_in_its_order() -> None:
    sets = merged(PLACED, BOTH).sets
    assert [(s.number, s.movement, s.first_rep, s.last_rep) for s in sets] == [
        (1, "air squat", 1, 2),
        (2, "strict press", 3, 4),
        (3, "air squat", 5, 5),
    ]
    assert (sets[0].start_s, sets[0].end_s) == (0.0, 2.0)


def test_going_to_another_station_is_no_break() -> None:
    assert merged(PLACED, BOTH).breaks == ()


def test_a_break_within_one_stretch_of_the_script_keeps_its_kind() -> None:
    placed = [PlacedRep(item.rep, item.own_number, 0) for item in PLACED if item.run != 1]
    renumbered = [
        PlacedRep(rep(n, "air squat", item.rep.start_s), item.own_number, item.run)
        for n, item in enumerate(placed, start=1)
    ]
    assert merged(renumbered, {"air squat": SQUATS}).breaks == (Break(1, 2.0, 20.0, "standing"),)


def test_a_set_that_runs_on_into_the_next_round_is_cut_there() -> None:
    placed = [PlacedRep(PLACED[0].rep, 1, 0), PlacedRep(PLACED[1].rep, 2, 1)]
    sets = merged(placed, {"air squat": SQUATS}).sets
    assert [(s.first_rep, s.last_rep) for s in sets] == [(1, 1), (2, 2)]


def test_pauses_carry_the_film_number_of_their_rep_and_lose_those_of_dropped_reps() -> None:
    pauses = merged(PLACED[1:], BOTH).pauses
    assert pauses == (Pause(3, 11.0, 13.0, "in the rack"),)
