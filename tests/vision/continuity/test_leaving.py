"""When an athlete has left the picture or was set elsewhere, at the limits that decide it."""

from dataclasses import replace

import numpy as np
import pytest

from vision.continuity.leaving import athlete_out, hands_out, is_displaced
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import PoseTrack

RATE_HZ = 20.0
SIZE_PX = 1000
BODY = [
    Landmark[f"{side}_{part}"]
    for part in ("SHOULDER", "HIP", "KNEE", "ANKLE")
    for side in ("LEFT", "RIGHT")
]


def standing(seconds: float = 5.0) -> PoseTrack:
    """An athlete who stands in the middle, with a trunk of 100 pixels."""
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    track = PoseTrack.unobserved(time_s, SIZE_PX, SIZE_PX)
    image = np.full((len(time_s), LANDMARK_COUNT, 2), 500.0)
    image[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER], 1] = 400.0
    return replace(track, image_px=image, identity=np.zeros(len(time_s), np.int64))


def rows(track: PoseTrack, start_s: float, end_s: float) -> np.ndarray:
    return (track.time_s >= start_s - 1e-9) & (track.time_s < end_s - 1e-9)


@pytest.mark.parametrize(("points", "is_out"), [(2, False), (3, True)])
def test_who_has_a_third_of_the_body_outside_is_out(points: int, *, is_out: bool) -> None:
    track = standing()
    for landmark in BODY[-points:]:
        track.image_px[rows(track, 2.0, 4.0), landmark, 1] = SIZE_PX + 10.0
    assert bool(athlete_out(track)) == is_out


@pytest.mark.parametrize(("out_s", "is_told"), [(0.45, False), (0.6, True)])
def test_half_a_second_outside_is_told(out_s: float, *, is_told: bool) -> None:
    track = standing()
    wrists = [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST]
    track.image_px[np.ix_(rows(track, 2.0, 2.0 + out_s), wrists)] = -5.0
    assert bool(hands_out(track)) == is_told


@pytest.mark.parametrize(("from_edge_px", "is_out"), [(20.0, True), (40.0, False)])
def test_who_is_lost_at_the_edge_has_left_by_it(from_edge_px: float, *, is_out: bool) -> None:
    track = standing()
    track.image_px[rows(track, 1.0, 2.0), Landmark.LEFT_ANKLE, 0] = from_edge_px
    identity = np.where(track.time_s >= 2.0, -1, 0)
    track.image_px[track.time_s >= 2.0] = np.nan
    assert bool(athlete_out(replace(track, identity=identity))) == is_out


@pytest.mark.parametrize(("moved_px", "is_elsewhere"), [(12.0, False), (18.0, True)])
def test_a_resting_trunk_that_moves_by_more_than_a_sixth_of_it_was_set_elsewhere(
    moved_px: float, *, is_elsewhere: bool
) -> None:
    track = standing()
    track.image_px[track.time_s >= 2.5, :, 0] += moved_px
    assert is_displaced(track, 2.45, 2.5) == is_elsewhere


@pytest.mark.parametrize(("there_s", "is_elsewhere"), [(0.35, False), (0.15, True)])
def test_half_a_second_on_either_side_is_compared(there_s: float, *, is_elsewhere: bool) -> None:
    """Who went there for the larger part of it is where they are afterwards."""
    track = standing()
    track.image_px[track.time_s > 2.45 - there_s, :, 0] += 50.0
    assert is_displaced(track, 2.45, 2.5) == is_elsewhere
    track.image_px[track.time_s >= 2.5, :, 0] -= 50.0
    assert is_displaced(track, 2.45, 2.5) != is_elsewhere
