"""Readers are asked for by name and all give tracks of one kind."""

import importlib
import inspect
import sys
from pathlib import Path

import numpy as np
import pytest

from vision.film.frames import Glance
from vision.film.reading import read_film
from vision.pose.landmarks import Landmark
from vision.reader import READERS, TWO_NETWORKS, Reader, ReaderError, reader_named

SAMPLES = Path(__file__).parents[2] / "sample_clips"
HIPS = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]


def parameters(reader: object) -> list[tuple[str, object]]:
    signature = inspect.signature(reader)  # type: ignore[arg-type]
    return [(p.name, p.default) for p in signature.parameters.values() if p.name != "self"]


@pytest.mark.parametrize("name", READERS)
def test_every_reader_can_be_called_like_the_interface(name: str) -> None:
    assert parameters(reader_named(name)) == parameters(Reader.__call__)


def test_a_name_that_is_no_readers_is_told_with_those_there_are() -> None:
    with pytest.raises(ReaderError, match=r"no reader 'third'.*two-networks and mediapipe"):
        reader_named("third")


def test_without_mediapipe_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mediapipe", None)
    film = read_film(SAMPLES / "boathouse_air_squats.mp4")
    with pytest.raises(ReaderError, match=r"pip install 'repwitness\[mediapipe\]'"):
        reader_named("mediapipe")(film)


def test_mediapipe_cannot_be_told_a_lane() -> None:
    film = read_film(SAMPLES / "boathouse_air_squats.mp4")
    with pytest.raises(ReaderError, match="leave out --lane"):
        reader_named("mediapipe")(film, lane=(0.0, 0.5))


@pytest.mark.slow
def test_mediapipes_own_landmarker_reads_the_athlete_whom_the_two_networks_read() -> None:
    importlib.import_module("mediapipe")
    film = read_film(SAMPLES / "boathouse_air_squats.mp4")
    glanced: list[float] = []
    told: list[tuple[float, float]] = []
    theirs = reader_named("mediapipe")(
        film,
        start_s=2.0,
        end_s=4.0,
        progress=lambda done, total: told.append((done, total)),
        glance=Glance(64, lambda time_s, _: glanced.append(time_s)),
    )
    inside = (film.time_s >= 2.0) & (film.time_s < 4.0)
    assert theirs.seen[inside].mean() > 0.95
    assert not theirs.seen[~inside].any()
    assert glanced == film.time_s[inside].tolist()
    assert np.isnan(theirs.covariance_px2).all()
    assert set(theirs.identity[theirs.seen]) == {0}
    assert told[-1][0] == pytest.approx(told[-1][1], abs=0.1)
    ours = reader_named(TWO_NETWORKS)(film, start_s=2.0, end_s=4.0)
    both = theirs.seen & ours.seen
    apart = np.abs(theirs.image_px - ours.image_px)[both][:, HIPS]
    trunk = ours.image_px[both][:, HIPS, 1].mean() - ours.image_px[both][:, [11, 12], 1].mean()
    assert np.median(apart) < 0.15 * trunk
