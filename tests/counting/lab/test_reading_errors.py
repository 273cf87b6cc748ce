"""Errors of the pose networks: the packaged file fits the code, and learning finds known ones."""

import json

import numpy as np
import pytest

from counting.lab.reading_errors import Read, document, learn, learn_shared
from vision.athlete.reading import errors_of
from vision.pose.bundle import load_bundle
from vision.pose.fusion import ERRORS_FILE, NETWORKS, PARTS
from vision.pose.movenet import MODELS_SHA256

PICTURES = 1500
RIGHT, WRONG, CHANCE = 0.02, 0.15, 0.1


def packaged() -> dict[str, object]:
    content: dict[str, object] = json.loads(ERRORS_FILE.read_text(encoding="utf-8"))
    return content


def test_the_packaged_file_holds_eight_numbers_a_part_and_network_and_four_shared_ones() -> None:
    errors = packaged()["errors"]
    assert isinstance(errors, dict)
    sizes = {name: len(numbers) for name, numbers in errors.items()}
    assert sizes == {f"{p}/{n}": 8 for p in PARTS for n in NETWORKS} | {"shared": 4}
    assert np.isfinite(np.concatenate(list(errors.values()))).all()


def test_the_packaged_file_was_learnt_from_the_networks_that_are_shipped() -> None:
    assert packaged()["networks"] == {
        "blazepose": load_bundle().sha256,
        "movenet": MODELS_SHA256["thunder"],
    }


def test_it_says_what_it_was_learnt_from_like_what_the_command_writes() -> None:
    assert list(packaged()) == list(document({}, [], 0))


@pytest.fixture(scope="module")
def known() -> Read:
    """Two networks that are off by as much as is said above, whatever their heat maps say."""
    rng = np.random.default_rng(2)
    shape = (PICTURES, 17)
    true = np.zeros((*shape, 2))
    true[:, 5:, 1] = np.arange(12) / 12
    true[:, 5::2, 0] += 0.2

    def places() -> np.ndarray:
        deviation = np.where(rng.random(shape) < CHANCE, WRONG, RIGHT)
        placed: np.ndarray = true + deviation[..., None] * rng.normal(size=(*shape, 2))
        return placed

    return Read(
        true,
        {network: places() for network in NETWORKS},
        {network: rng.uniform(0.5, 0.9, shape) for network in NETWORKS},
    )


@pytest.mark.slow
def test_errors_of_known_size_are_found(known: Read) -> None:
    peaks = [known.peak[network] for network in NETWORKS]
    found = errors_of(peaks[0], known.place["movenet"], peaks[1], learn(known))
    for errors in found:
        assert errors.right.mean(axis=0) == pytest.approx(np.full(17, RIGHT), rel=0.15)
        assert errors.wrong.mean(axis=0) == pytest.approx(np.full(17, WRONG), rel=0.15)
        assert errors.chance_wrong.mean(axis=0) == pytest.approx(np.full(17, CHANCE), abs=0.03)


@pytest.mark.slow
def test_errors_that_know_nothing_of_each_other_are_found_to(known: Read) -> None:
    together, right_alike, _, widened = learn_shared(known, learn(known))
    assert together < 0.3
    assert right_alike < 0.2
    assert widened < 1.6
