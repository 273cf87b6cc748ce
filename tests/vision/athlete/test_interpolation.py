import numpy as np

from vision.athlete.interpolation import with_lines_between
from vision.track import PoseTrack


def observed(rows: list[int], identity: list[int], frames: int = 10) -> PoseTrack:
    """A body that rises by 10 pixels a second, seen in some rows only."""
    time_s = np.arange(frames) / 10.0
    time_s[5:] += 0.05  # an uneven film: lines are drawn over time, not over rows
    track = PoseTrack.unobserved(time_s, 640, 360)
    for row, person in zip(rows, identity, strict=True):
        track.image_px[row] = 10.0 * time_s[row]
        track.visibility[row] = 1.0
        track.covariance_px2[row] = 4.0 * np.eye(2)
        track.identity[row] = person
    return track


def test_rows_between_two_looks_lie_on_the_line_over_time() -> None:
    track = with_lines_between(observed([0, 3, 9], [0, 0, 0]), np.array([0, 3, 9]))
    np.testing.assert_allclose(track.image_px[:, 5, 1], 10.0 * track.time_s, atol=1e-12)
    assert track.looked.tolist() == [True, False, False, True, *[False] * 5, True]
    assert track.seen.all()
    assert (track.identity == 0).all()
    np.testing.assert_allclose(track.error_px, 2.0)


def test_rows_that_were_looked_at_stay_as_they_are() -> None:
    before = observed([0, 3, 9], [0, 0, 0])
    after = with_lines_between(before, np.array([0, 3, 9]))
    for row in (0, 3, 9):
        np.testing.assert_array_equal(after.image_px[row], before.image_px[row])


def test_nothing_is_made_up_where_a_look_was_in_vain() -> None:
    track = with_lines_between(observed([0, 9], [0, 0]), np.array([0, 4, 9]))
    assert track.seen.tolist() == [True, *[False] * 8, True]
    assert track.looked[4]


def test_no_line_leads_from_one_person_to_another() -> None:
    track = with_lines_between(observed([0, 9], [0, 1]), np.array([0, 9]))
    assert not track.seen[1:9].any()


def test_nothing_is_made_up_outside_the_looks() -> None:
    track = with_lines_between(observed([3, 6], [0, 0]), np.array([3, 6]))
    assert track.seen.tolist() == [*[False] * 3, *[True] * 4, *[False] * 3]


def test_a_film_of_nobody_stays_empty() -> None:
    track = with_lines_between(observed([], []), np.array([], dtype=np.int64))
    assert not track.seen.any()
    assert not track.looked.any()
