"""Which part of a film's sightings each stretch is followed from."""

from vision.athlete.choosing import parts_to_follow


def test_a_stretch_without_a_picture_is_followed_from_nothing() -> None:
    """As between two pictures of a film that lie minutes apart."""
    (part,) = parts_to_follow([(0.0, 8.0)], [], None, 640.0)
    assert part.bound == (0.0, 8.0)
    assert part.moments == ()
