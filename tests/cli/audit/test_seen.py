"""Whoever reads that a film looks continuous is told if not all of it was watched."""

from dataclasses import replace
from pathlib import Path

import pytest

from cli.audit.seen import unwatched
from tests.records import continuity
from tests.vision.film.films import write_film
from vision.film.reading import read_film
from vision.film.types import Film


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Film:
    folder: Path = tmp_path_factory.mktemp("film")
    return read_film(write_film(folder / "film.mp4", [1500 * n for n in range(20)]))


def test_every_other_picture_of_a_large_film_left_out_is_told(film: Film) -> None:
    large = replace(film, width_px=3840, height_px=2160)
    (words,) = unwatched(large, continuity("looks continuous", continuous=True, frames=10))
    assert "10 of 20 pictures" in words
    assert "--thorough" in words


def test_a_film_watched_whole_needs_no_words(film: Film) -> None:
    large = replace(film, width_px=3840, height_px=2160)
    assert unwatched(large, continuity("looks continuous", continuous=True, frames=20)) == []


def test_damaged_pictures_of_a_small_film_were_not_spared(film: Film) -> None:
    assert unwatched(film, continuity("looks continuous", continuous=True, frames=10)) == []
