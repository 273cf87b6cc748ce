"""A plate taken for a person gives way to whoever is seen beside it."""

from tests.vision.athlete.people_in_pictures import person
from vision.athlete.doubtful import CLEAR, SMALL, without_doubtful

ATHLETE = person(200.0)
PLATE = person(240.0, stature_px=0.9 * SMALL * 200.0, sharpness=CLEAR - 0.02)


def test_a_small_unclear_reading_gives_way_to_a_person() -> None:
    assert without_doubtful([[PLATE, ATHLETE], [ATHLETE]]) == [[ATHLETE], [ATHLETE]]


def test_alone_it_stays_as_it_may_be_somebody_bent_behind_a_bar() -> None:
    assert without_doubtful([[PLATE], [ATHLETE]]) == [[PLATE], [ATHLETE]]


def test_a_small_person_who_is_clear_stays() -> None:
    child = person(300.0, stature_px=0.5 * SMALL * 200.0, sharpness=CLEAR + 0.02)
    assert without_doubtful([[child, ATHLETE]] * 3) == [[child, ATHLETE]] * 3


def test_an_unclear_person_of_usual_size_stays() -> None:
    dim = person(240.0, stature_px=1.1 * SMALL * 200.0, sharpness=CLEAR - 0.02)
    assert without_doubtful([[dim, ATHLETE]] * 3) == [[dim, ATHLETE]] * 3


def test_nobody_seen_is_nobody_left_out() -> None:
    assert without_doubtful([[], []]) == [[], []]
