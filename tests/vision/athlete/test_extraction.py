"""From a film to a track: the athlete in every frame, the same for any number of workers."""

from pathlib import Path

import numpy as np
import pytest
from synthetic.labelled import landmark_file

from tests.vision.film.films import write_film
from vision.athlete.extraction import extract
from vision.film.frames import Glance
from vision.film.reading import read_film
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

SAMPLES = Path(__file__).parents[3] / "sample_clips"
HIPS = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]


@pytest.fixture(scope="module")
def squats() -> PoseTrack:
    return extract(read_film(SAMPLES / "boathouse_air_squats.mp4"), start_s=2.0, end_s=5.0)


@pytest.mark.slow
def test_the_athlete_who_squats_is_followed_in_every_frame(squats: PoseTrack) -> None:
    inside = (squats.time_s >= 2.0) & (squats.time_s < 5.0)
    assert squats.seen[inside].mean() > 0.98
    assert not squats.seen[~inside].any()
    hips = squats.image_px[inside][:, HIPS, 1].mean(axis=1)
    legs = squats.image_px[inside][:, [Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE], 1].mean(axis=1)
    assert np.nanmax(legs - hips) > 1.5 * np.nanmin(legs - hips)


@pytest.mark.slow
def test_it_is_one_person_throughout(squats: PoseTrack) -> None:
    assert set(squats.identity[squats.seen]) == {0}


@pytest.mark.slow
def test_observed_rows_are_whole_and_the_others_empty(squats: PoseTrack) -> None:
    for values in (squats.image_px, squats.depth_px, squats.world_m, squats.covariance_px2):
        assert np.isfinite(values[squats.seen]).all()
        assert np.isnan(values[~squats.seen]).all()
    assert (squats.visibility[~squats.seen] == 0).all()


@pytest.mark.slow
def test_the_result_does_not_depend_on_the_number_of_workers() -> None:
    film = read_film(SAMPLES / "boathouse_thrusters.mp4")
    told: list[tuple[float, float]] = []
    alone = extract(
        film,
        start_s=0.0,
        end_s=7.0,
        progress=lambda done, total: told.append((done, total)),
    )
    together = extract(film, start_s=0.0, end_s=7.0, workers=3)
    assert landmark_file(alone) == landmark_file(together)
    done = [d for d, _ in told]
    assert done == sorted(done)
    assert told[-1][0] == pytest.approx(told[-1][1])


@pytest.mark.slow
def test_a_lane_without_anybody_holds_no_athlete() -> None:
    film = read_film(SAMPLES / "boathouse_thrusters.mp4")
    track = extract(film, start_s=2.0, end_s=4.0, lane=(0.0, 0.02))
    assert not track.seen.any()


def test_a_film_of_nobody_gives_an_empty_track(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", [3000 * n for n in range(10)]))
    track = extract(film)
    assert track.frames == 10
    assert not track.seen.any()
    assert (track.identity == -1).all()


def test_a_film_of_one_frame_is_looked_at(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", [0]))
    assert extract(film).frames == 1


@pytest.mark.slow
def test_all_pictures_are_glanced_at_on_the_way_in_order(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", [3000 * n for n in range(250)]))
    taken: list[float] = []
    extract(film, workers=2, glance=Glance(24, lambda time_s, _: taken.append(time_s)))
    assert taken == film.time_s.tolist()
