"""Which part of a film's sightings each stretch is followed from."""

from tests.vision.athlete.people_in_pictures import person
from vision.athlete.choosing import HOME_S, Sighted, parts_to_follow


def test_a_stretch_without_a_picture_is_followed_from_nothing() -> None:
    """As between two pictures of a film that lie minutes apart."""
    (part,) = parts_to_follow([(0.0, 8.0)], [], None, 640.0)
    assert part.bound == (0.0, 8.0)
    assert part.moments == ()


def test_home_is_where_the_athlete_was_clearly_seen_nearest_in_time() -> None:
    clear = {0.0: person(200), 1.5: person(205)}
    seen = [
        Sighted(t, [clear.get(t, person(203, sharpness=0.3))])
        for t in (0.0, 0.5, 1.0, 1.5, 2.0 + HOME_S)
    ]
    (part,) = parts_to_follow([(0.0, 30.0)], seen, None, 640.0)
    homes = [moment.home for moment in part.moments]
    assert homes == [clear[1.5], clear[0.0], clear[1.5], clear[0.0], None]


def test_a_stretch_is_followed_anew_where_home_is_another() -> None:
    unclear = person(203, sharpness=0.3)
    later = Sighted(1.0, [person(205)])
    (one,) = parts_to_follow([(0.0, 0.9)], [Sighted(0.5, [unclear])], None, 640.0)
    (other, _) = parts_to_follow(
        [(0.0, 0.9), (0.9, 2.0)], [Sighted(0.5, [unclear]), later], None, 640.0
    )
    assert one.moments[0].athlete is other.moments[0].athlete
    assert not one.same_as(other)
