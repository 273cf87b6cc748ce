"""Everybody in a picture and the person who is meant, against the joints MediaPipe reads."""

import json
from functools import cache
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


@cache
def picture_of(number: int) -> Picture:
    look = REFERENCE["looks"][number]
    return next(frames(read_film(SAMPLES / look["film"]), look["time_s"])).picture


@pytest.fixture(scope="module")
def finder() -> PeopleFinder:
    return PeopleFinder()


def apart(joints_px: np.ndarray, look: dict[str, object]) -> np.ndarray:
    """Distance of limb joints from MediaPipe 1.2.3's PoseLandmarker, over the body's size."""
    reference = np.array(look["image_px"])[list(JOINTS)][LIMBS]
    size = np.ptp(reference, axis=0).max()
    distance: np.ndarray = np.linalg.norm(joints_px[LIMBS] - reference, axis=1) / size
    return distance


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(REFERENCE["looks"])))
def test_both_networks_read_the_body_that_mediapipe_reads(
    finder: PeopleFinder, number: int
) -> None:
    """Another family of networks, trained on other pictures: they agree within a limb's width."""
    look = REFERENCE["looks"][number]
    picture = picture_of(number)
    people = finder.find(picture)
    nearest = min(people, key=lambda person: apart(person.image_px, look).mean())
    assert np.median(apart(nearest.image_px, look)) < 0.05
    low, high = nearest.image_px.min(axis=0), nearest.image_px.max(axis=0)
    x, y = (low + high) / 2
    square = Region(x, y, 1.3 * float((high - low).max()))
    joints, peak = BodyReader().read(picture, square, nearest.image_px)
    assert np.median(apart(joints, look)) < 0.04
    assert 0.3 < np.median(peak) <= 1.0


def test_an_empty_picture_shows_nobody(finder: PeopleFinder) -> None:
    assert finder.find(np.full((360, 640, 3), 90, np.uint8)) == []


@pytest.mark.slow
def test_two_people_are_found_and_the_one_who_is_meant_is_read(finder: PeopleFinder) -> None:
    picture = picture_of(0)
    height, width = picture.shape[:2]
    both = np.concatenate([picture, picture], axis=1)
    (one,) = [p for p in finder.find(picture) if p.score > 0.5][:1]
    found = [p for p in finder.find(both) if p.score > 0.5]
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


class Heads:
    """Stands in for a network that is as sure of centres in some cells as it is told."""

    def __init__(self, scores: dict[tuple[float, float], float]) -> None:
        self.centre = np.full((1, 64, 64, 1), -60.0)
        for (column, row), score in scores.items():
            self.centre[0, int(row), int(column), 0] = np.log(score / (1.0 - score))

    def run(self, _frame: np.ndarray) -> dict[str, np.ndarray]:
        """Put all joints of a person where the centre is."""
        parts = {"kpt_regress": 34, "kpt_offset": 34, "kpt_heatmap": 17}
        nothing = {name: np.zeros((1, 64, 64, depth)) for name, depth in parts.items()}
        return {"center": self.centre, **nothing}


@pytest.mark.parametrize(
    ("meant", "other"),
    [
        pytest.param(((32, 32), 0.3), ((37, 32), 0.9), id="somebody clearer beside"),
        pytest.param(((34.5, 32), 0.9), ((32, 32), 0.3), id="a shadow where they are expected"),
    ],
)
def test_a_centre_may_be_two_and_a_half_cells_from_where_it_is_expected(
    meant: tuple[tuple[float, float], float], other: tuple[tuple[float, float], float]
) -> None:
    reader = BodyReader()
    reader._network = Heads(dict([meant, other]))  # type: ignore[assignment]
    square = Region(32.0, 32.0, 64.0)
    joints, _ = reader.read(np.zeros((64, 64, 3), np.uint8), square, np.full((17, 2), 32.0))
    assert joints == pytest.approx(np.full((17, 2), np.floor(meant[0])))
