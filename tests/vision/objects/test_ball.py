"""A thrown ball is found by what it does, and nothing else is taken for one."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from counting.signals.body import stature_px, steadied_px
from tests.vision.objects.thrown import (
    FOCAL_PX,
    RELEASE_S,
    REP_S,
    ROLLS_PX,
    Scene,
    ball_at,
    film_of,
    in_flight,
    seen,
)
from vision.objects.ball import Blob, flights
from vision.objects.following import follow_ball
from vision.objects.types import ObjectTrack

pytestmark = pytest.mark.slow

Following = Callable[[Scene], ObjectTrack]

SCENES = {
    "red": Scene(),
    "dark": Scene(colour=(30, 30, 34), tops_m=(2.5, 3.1)),
    "light, with its shadow": Scene(colour=(225, 225, 215), shadow=True),
    "while another rolls by": Scene(another_rolls_by=True),
    "small, from an unsteady hand": Scene(radius_m=0.13, shake_px=6.0),
}


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Scene], ObjectTrack]:
    """The ball that is found in a scene's film, which is looked at once."""
    folder = tmp_path_factory.mktemp("thrown")
    return cache(lambda scene: _followed(folder / f"{abs(hash(scene))}.mp4", scene))


def _followed(path: Path, scene: Scene) -> ObjectTrack:
    film, track = film_of(path, scene)
    steady = steadied_px(track)
    stretches = [(rep * REP_S, (rep + 1) * REP_S - 0.01) for rep in range(len(scene.tops_m))]
    return follow_ball(film, track, steady, stature_px(steady), stretches)


@pytest.mark.parametrize("name", SCENES)
def test_a_ball_in_flight_is_found_to_a_seventh_of_its_radius(
    name: str, followed: Following
) -> None:
    scene = SCENES[name]
    ball = followed(scene)
    true = [ball_at(scene, when_s + 0.00625) for when_s in ball.time_s]
    centre = np.array([seen(0.0, *place) for place in true])
    radius = np.array([FOCAL_PX * scene.radius_m / distance for _, distance in true])
    flying = np.array([in_flight(scene, when_s) for when_s in ball.time_s])
    off = np.hypot(*(ball.centre_px - centre).T) / radius
    assert np.mean(ball.found[flying]) > 0.7
    assert np.nanmedian(off[flying]) < 0.14
    assert np.nanmax(off[flying]) < 0.5
    assert np.nanmedian(ball.radius_px[flying] / radius[flying]) == pytest.approx(1.0, abs=0.12)


@pytest.mark.parametrize("name", SCENES)
def test_its_stated_error_is_that_of_its_places(name: str, followed: Following) -> None:
    scene = SCENES[name]
    ball = followed(scene)
    centre = np.array([seen(0.0, *ball_at(scene, when_s + 0.00625)) for when_s in ball.time_s])
    found = ball.found
    off = ball.centre_px[found, 1] - centre[found, 1]
    spread = np.sqrt(ball.covariance_px2[found, 1, 1])
    assert 0.6 < np.mean(np.abs(off) < 1.645 * spread) <= 1.0


def test_without_a_ball_nothing_is_found(followed: Following) -> None:
    ball = followed(Scene(colour=None))
    assert ball.looked.any()
    assert not ball.found.any()


def test_a_ball_that_rolls_by_is_not_thrown(followed: Following) -> None:
    scene = Scene(another_rolls_by=True)
    ball = followed(scene)
    assert np.nanmax(ball.centre_px[:, 1]) < ROLLS_PX - 20


def path(fall_px: float, rows: int = 20) -> list[list[Blob]]:
    """A shape that goes up and comes down with an acceleration."""
    times_s = np.arange(rows) / 30.0
    middle_s = times_s.mean()
    return [
        [Blob(row, when_s, 200.0, 150.0 + fall_px * (when_s - middle_s) ** 2 / 2, 12.0)]
        for row, when_s in enumerate(times_s.tolist())
    ]


HANDS = [np.array([[190.0, 245.0], [210.0, 245.0]])] * 20
STATURE_PX = 300.0
FALL_PX = 9.81 / 1.73 * STATURE_PX


def test_what_falls_as_things_fall_is_a_flight() -> None:
    (flight,) = flights(path(FALL_PX), HANDS, HANDS, STATURE_PX)
    assert len(flight.blobs) == 20


@pytest.mark.parametrize("share", [0.0, 0.3, 2.5])
def test_what_falls_too_slowly_or_too_fast_is_none(share: float) -> None:
    assert flights(path(share * FALL_PX), HANDS, HANDS, STATURE_PX) == []


def test_what_falls_far_from_the_hands_is_none() -> None:
    away = [hands + np.array([200.0, 0.0]) for hands in HANDS]
    assert flights(path(FALL_PX), away, away, STATURE_PX) == []


def test_a_head_that_jumps_is_no_ball() -> None:
    heads = [hands.copy() for hands in HANDS]
    for head, (blob,) in zip(heads, path(FALL_PX), strict=True):
        head[0] = [blob.x, blob.y + 4.0]
    assert flights(path(FALL_PX), HANDS, heads, STATURE_PX) == []


def test_what_stays_in_the_hands_is_no_ball() -> None:
    held = [np.array([[blob.x - 40.0, blob.y]]) for (blob,) in path(FALL_PX)]
    assert flights(path(FALL_PX), held, held, STATURE_PX) == []


@pytest.mark.parametrize("rows", range(1, 6))
def test_a_few_sights_are_no_flight(rows: int) -> None:
    assert flights(path(FALL_PX, rows), HANDS[:rows], HANDS[:rows], STATURE_PX) == []


def test_a_ball_hidden_for_a_quarter_of_a_second_flies_on() -> None:
    shapes = path(FALL_PX)
    shapes[7:14] = [[] for _ in shapes[7:14]]
    (flight,) = flights(shapes, HANDS, HANDS, STATURE_PX)
    assert [blob.row for blob in flight.blobs] == [*range(7), *range(14, 20)]


def test_of_two_paths_at_one_time_the_one_from_the_hands_is_the_ball() -> None:
    shadows = [[replace(blob, x=blob.x + 60.0) for blob in own] for own in path(FALL_PX)]
    both = [one + other for one, other in zip(path(FALL_PX), shadows, strict=True)]
    (flight,) = flights(both, HANDS, HANDS, STATURE_PX)
    assert {blob.x for blob in flight.blobs} == {200.0}


def test_the_flight_begins_after_the_release() -> None:
    assert not in_flight(Scene(), RELEASE_S - 0.01)
    assert in_flight(Scene(), RELEASE_S + 0.05)
