"""A plate taken for a person gives way to whoever is seen beside it."""

from tests.vision.athlete.people_in_pictures import person
from vision.athlete import doubtful
from vision.athlete.doubtful import CLEAR, SMALL
from vision.pose.network import Pose

ATHLETE = person(200.0)
PLATE = person(240.0, stature_px=0.9 * SMALL * 200.0, sharpness=CLEAR - 0.02)


def without_doubtful(seen: list[list[Pose]]) -> list[list[Pose]]:
    """Nobody is an onlooker behind the athlete."""
    return doubtful.without_doubtful(seen, [[False] * len(people) for people in seen])


def test_a_small_unclear_reading_gives_way_to_a_person() -> None:
    assert without_doubtful([[PLATE, ATHLETE], [ATHLETE]]) == [[ATHLETE], [ATHLETE]]


def test_alone_it_stays_as_it_may_be_somebody_bent_behind_a_bar() -> None:
    assert without_doubtful([[PLATE], [ATHLETE]]) == [[PLATE], [ATHLETE]]


def test_a_small_person_who_is_clear_stays() -> None:
    child = person(300.0, stature_px=0.5 * SMALL * 200.0, sharpness=CLEAR + 0.02)
    assert without_doubtful([[child, ATHLETE]] * 3) == [[child, ATHLETE]] * 3


def test_an_unclear_person_of_usual_size_stays() -> None:
    dim = person(330.0, stature_px=1.1 * SMALL * 200.0, sharpness=CLEAR - 0.02)
    assert without_doubtful([[dim, ATHLETE]] * 3) == [[dim, ATHLETE]] * 3


def test_nobody_seen_is_nobody_left_out() -> None:
    assert without_doubtful([[], []]) == [[], []]


def test_a_second_reading_of_half_a_body_gives_way_to_the_clearer_whole() -> None:
    whole, half = person(200.0), person(215.0, 350.0, 150.0, sharpness=0.6)
    assert without_doubtful([[half, whole]] * 5) == [[whole]] * 5


def test_two_people_beside_each_other_stay_two_however_clear() -> None:
    near, far = person(200.0), person(330.0, sharpness=0.6)
    assert without_doubtful([[near, far]] * 5) == [[near, far]] * 5


def test_two_readings_as_clear_as_each_other_both_stay() -> None:
    one, other = person(200.0), person(210.0, sharpness=0.75)
    assert without_doubtful([[one, other]] * 5) == [[one, other]] * 5


def test_an_onlooker_behind_takes_nobodys_place() -> None:
    behind, athlete = person(200.0), person(210.0, sharpness=0.5)
    seen, onlookers = [[behind, athlete]] * 5, [[True, False]] * 5
    assert doubtful.without_doubtful(seen, onlookers) == seen
