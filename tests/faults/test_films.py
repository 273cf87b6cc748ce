"""Films that once were a fault of the reader, and whatever names and files strangers may send."""

import shutil
import time
from pathlib import Path

import pytest

from tests.faults import hostile
from tests.faults.reader import LONGEST_S
from tests.faults.reading import answer

KEPT = sorted((Path(__file__).parent / "films").iterdir())
SAMPLE = Path(__file__).parents[2] / "sample_clips" / "boathouse_thrusters.mp4"
NEEDS_FFMPEG = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="needs ffmpeg")


@pytest.mark.parametrize("film", KEPT, ids=lambda film: film.name)
def test_what_was_a_fault_once_is_none_now(film: Path) -> None:
    started_s = time.process_time()
    assert not answer(film).startswith("fault")
    assert time.process_time() - started_s < LONGEST_S


@NEEDS_FFMPEG
def test_what_is_no_film_is_refused(tmp_path: Path) -> None:
    for item in hostile.no_films(tmp_path):
        assert answer(item.path).startswith("refused"), item.name


@NEEDS_FFMPEG
@pytest.mark.slow
def test_odd_films_are_read_or_refused(tmp_path: Path) -> None:
    short, *_ = hostile.containers(tmp_path, SAMPLE, ("mp4",))
    for item in hostile.odd_films(tmp_path, short):
        assert not answer(item.path).startswith("fault"), item.name


@NEEDS_FFMPEG
@pytest.mark.slow
@pytest.mark.parametrize("kind", ["mp4", "mkv"])
def test_films_cut_anywhere_are_read_or_refused(tmp_path: Path, kind: str) -> None:
    short, *_ = hostile.containers(tmp_path, SAMPLE, (kind,))
    for item in hostile.cut_short(tmp_path, short, parts=25):
        assert not answer(item.path).startswith("fault"), item.name
