"""The networks, run directly, read what the reference library reads."""

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from vision.athlete.reading import turned_region
from vision.film.frames import frames
from vision.film.reading import read_film
from vision.pose.blazepose import BlazePose
from vision.pose.bundle import load_bundle
from vision.pose.movenet import PeopleFinder
from vision.pose.region import Picture, Region

SAMPLES = Path(__file__).parents[3] / "sample_clips"
REFERENCE = json.loads(Path(__file__).with_name("mediapipe_landmarks.json").read_text())


@pytest.fixture(scope="module")
def network() -> BlazePose:
    return BlazePose(load_bundle("full"))


@cache
def finder() -> PeopleFinder:
    return PeopleFinder()


def around(picture: Picture) -> Region:
    """The turned square around the surest person in a picture."""
    return turned_region(finder().find(picture)[0].image_px)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(REFERENCE["looks"])))
def test_landmarks_agree_with_mediapipe(network: BlazePose, number: int) -> None:
    """MediaPipe 1.2.3's PoseLandmarker in image mode is the outside reference.

    The two look at regions that differ by a few per cent and are cut out with other interpolation,
    which moves landmarks by a cell or two of the network's 64 x 64 heat map; a wrong order, scale
    or turn moves them by far more.
    """
    look = REFERENCE["looks"][number]
    frame = next(frames(read_film(SAMPLES / look["film"]), look["time_s"]))
    side = max(frame.picture.shape)
    square = np.zeros((side, side, 3), np.uint8)
    square[: frame.picture.shape[0], : frame.picture.shape[1]] = frame.picture
    region = network.look(square, around(square)).region  # as MediaPipe goes on from a first look
    pose = network.look(square, region)
    apart = np.linalg.norm(pose.image_px - np.array(look["image_px"]), axis=1)
    assert apart.max() < region.side_px / 40
    assert np.median(apart) < region.side_px / 150
    assert np.abs(pose.world_m - np.array(look["world_m"])).max() < 0.2
    assert np.abs(pose.visibility - np.array(look["visibility"])).mean() < 0.03
    assert pose.confidence > 0.9


def test_an_empty_picture_shows_nobody(network: BlazePose) -> None:
    blank = np.full((360, 640, 3), 90, np.uint8)
    assert network.look(blank, Region(320, 180, 300)).confidence < 0.5


def test_the_same_look_twice_is_the_same(network: BlazePose) -> None:
    frame = next(frames(read_film(SAMPLES / "boathouse_thrusters.mp4"), 3.0, long_side_px=640))
    region = around(frame.picture)
    one, other = network.look(frame.picture, region), network.look(frame.picture, region)
    assert np.array_equal(one.image_px, other.image_px)
    assert np.array_equal(one.sharpness, other.sharpness)


def test_native_code_does_not_speak_to_the_user(capfd: pytest.CaptureFixture[str]) -> None:
    network = BlazePose(load_bundle("full"))
    network.look(np.zeros((100, 100, 3), np.uint8), Region(50, 50, 80))
    said = capfd.readouterr()
    assert said.out == ""
    assert said.err == ""
