"""The networks, run directly, read what the reference library reads."""

import json
from pathlib import Path

import numpy as np
import pytest

from vision.film.frames import frames
from vision.film.reading import read_film
from vision.pose.bundle import load_bundle
from vision.pose.network import PoseNetwork
from vision.pose.region import Region

SAMPLES = Path(__file__).parents[3] / "sample_clips"
REFERENCE = json.loads(Path(__file__).with_name("mediapipe_landmarks.json").read_text())


@pytest.fixture(scope="module")
def network() -> PoseNetwork:
    return PoseNetwork(load_bundle("full"))


@pytest.mark.parametrize("number", range(len(REFERENCE["looks"])))
def test_landmarks_agree_with_mediapipe(network: PoseNetwork, number: int) -> None:
    """MediaPipe 1.2.3's PoseLandmarker in image mode is the outside reference.

    The two cut the region out with other interpolation, which moves landmarks by a cell or so of
    the network's 64 x 64 heat map; a wrong anchor, order, scale or turn moves them by far more.
    """
    look = REFERENCE["looks"][number]
    frame = next(frames(read_film(SAMPLES / look["film"]), look["time_s"]))
    side = max(frame.picture.shape)
    square = np.zeros((side, side, 3), np.uint8)
    square[: frame.picture.shape[0], : frame.picture.shape[1]] = frame.picture
    region = network.find(square)[0].region
    pose = network.look(square, region)
    apart = np.linalg.norm(pose.image_px - np.array(look["image_px"]), axis=1)
    assert apart.max() < region.side_px / 40
    assert np.median(apart) < region.side_px / 150
    assert np.abs(pose.world_m - np.array(look["world_m"])).max() < 0.15
    assert np.abs(pose.visibility - np.array(look["visibility"])).mean() < 0.03
    assert pose.confidence > 0.9


def test_an_empty_picture_shows_nobody(network: PoseNetwork) -> None:
    blank = np.full((360, 640, 3), 90, np.uint8)
    assert network.find(blank) == []
    assert network.look(blank, Region(320, 180, 300)).confidence < 0.5


def test_the_same_look_twice_is_the_same(network: PoseNetwork) -> None:
    frame = next(frames(read_film(SAMPLES / "boathouse_thrusters.mp4"), 3.0, long_side_px=640))
    region = network.find(frame.picture)[0].region
    one, other = network.look(frame.picture, region), network.look(frame.picture, region)
    assert np.array_equal(one.image_px, other.image_px)
    assert np.array_equal(one.sharpness, other.sharpness)


def test_a_person_off_the_centre_is_found_where_they_are(network: PoseNetwork) -> None:
    frame = next(frames(read_film(SAMPLES / "boathouse_thrusters.mp4"), 3.0, long_side_px=640))
    before = network.find(frame.picture)[0].region
    shifted = np.zeros((640, 640, 3), np.uint8)
    height, width = frame.picture.shape[:2]
    shifted[:height, 200 : 200 + width] = frame.picture
    after = network.find(shifted)[0].region
    assert after.x_px - before.x_px == pytest.approx(200, abs=10)
    assert after.y_px - before.y_px == pytest.approx(0, abs=10)


def test_native_code_does_not_speak_to_the_user(capfd: pytest.CaptureFixture[str]) -> None:
    network = PoseNetwork(load_bundle("lite"))
    network.look(np.zeros((100, 100, 3), np.uint8), Region(50, 50, 80))
    said = capfd.readouterr()
    assert said.out == ""
    assert said.err == ""
