"""Everybody in a picture and the person who is meant, against the joints MediaPipe reads."""

import json
from pathlib import Path

import numpy as np
import pytest

from vision.film.frames import frames
from vision.film.reading import read_film
from vision.pose import movenet
from vision.pose.bundle import ModelError
from vision.pose.movenet import JOINTS, BodyReader, PeopleFinder, movenet_model, separation
from vision.pose.region import Picture, Region

SAMPLES = Path(__file__).parents[3] / "sample_clips"
REFERENCE = json.loads(Path(__file__).with_name("mediapipe_landmarks.json").read_text())
LIMBS = slice(5, 17)


def picture_of(look: dict[str, object]) -> Picture:
    film = read_film(SAMPLES / str(look["film"]))
    return next(frames(film, float(str(look["time_s"])))).picture


def apart(joints_px: np.ndarray, look: dict[str, object]) -> np.ndarray:
    """Distance of limb joints from MediaPipe 1.2.3's PoseLandmarker, over the body's size."""
    reference = np.array(look["image_px"])[list(JOINTS)][LIMBS]
    size = np.ptp(reference, axis=0).max()
    distance: np.ndarray = np.linalg.norm(joints_px[LIMBS] - reference, axis=1) / size
    return distance


@pytest.mark.parametrize("number", range(len(REFERENCE["looks"])))
def test_both_networks_read_the_body_that_mediapipe_reads(number: int) -> None:
    """Another family of networks, trained on other pictures: they agree within a limb's width."""
    look = REFERENCE["looks"][number]
    picture = picture_of(look)
    people = PeopleFinder().find(picture)
    nearest = min(people, key=lambda person: apart(person.image_px, look).mean())
    assert np.median(apart(nearest.image_px, look)) < 0.05
    low, high = nearest.image_px.min(axis=0), nearest.image_px.max(axis=0)
    x, y = (low + high) / 2
    square = Region(x, y, 1.3 * float((high - low).max()))
    joints, peak = BodyReader().read(picture, square, nearest.image_px)
    assert np.median(apart(joints, look)) < 0.04
    assert 0.3 < np.median(peak) <= 1.0


def test_an_empty_picture_shows_nobody() -> None:
    assert PeopleFinder().find(np.full((360, 640, 3), 90, np.uint8)) == []


def test_two_people_are_found_and_the_one_who_is_meant_is_read() -> None:
    picture = picture_of(REFERENCE["looks"][0])
    height, width = picture.shape[:2]
    both = np.concatenate([picture, picture], axis=1)
    (one,) = [p for p in PeopleFinder().find(picture) if p.score > 0.5][:1]
    found = [p for p in PeopleFinder().find(both) if p.score > 0.5]
    for shift in (0.0, float(width)):
        meant = one.image_px + np.array([shift, 0.0])
        assert min(separation(p.image_px, meant) for p in found) < 0.1
        square = Region(float(width), height / 2, 2.0 * width)
        joints, _ = BodyReader().read(both, square, meant)
        assert separation(joints, meant) < 0.1


def test_a_damaged_network_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "movenet_thunder.tflite").write_bytes(b"no network")
    monkeypatch.setattr(movenet, "MODELS", tmp_path)
    movenet_model.cache_clear()
    with pytest.raises(ModelError, match="damaged"):
        movenet_model("thunder")
    with pytest.raises(ModelError, match="cannot be read"):
        movenet_model("multipose")
