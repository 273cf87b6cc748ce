"""A film's facts are kept for as long as the file is untouched, and for no other file."""

import os
import shutil
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from cli.audit import film_facts
from cli.audit import kept as kept_entries
from cli.audit.film_facts import film_of
from cli.audit.request import AuditRequest
from tests.vision.film.films import write_film
from vision.arrays import packed, seal_words
from vision.film.errors import FilmError
from vision.film.limits import FilmLimits
from vision.film.reading import read_film
from vision.film.types import Film


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a second of film."""
    return write_film(tmp_path_factory.mktemp("clip") / "clip.mp4", [1500 * n for n in range(60)])


@pytest.fixture
def request_of(clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AuditRequest:
    """Give a film just copied, whose facts may be kept although it is so new."""
    shutil.copy(clip, tmp_path / "film.mp4")
    monkeypatch.setattr(film_facts, "_SETTLED_NS", 0)
    return AuditRequest(tmp_path / "film.mp4", "air squat", None, (), tmp_path / "out")


def is_read_anew(request: AuditRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    def refuse(*_given: object) -> Film:
        raise FilmError("read anew")

    with monkeypatch.context() as patched:
        patched.setattr("vision.film.reading.read_film", refuse)
        try:
            film_of(request)
        except FilmError:
            return True
        return False


def test_kept_facts_are_those_of_the_film(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    film = film_of(request_of)
    assert not is_read_anew(request_of, monkeypatch)
    again = film_of(request_of)
    for field in fields(Film):
        one, other = getattr(film, field.name), getattr(again, field.name)
        assert type(one) is type(other)
        assert np.array_equal(one, other), field.name


def test_a_film_written_to_is_read_anew(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    film_of(request_of)
    status = request_of.film.stat()
    with request_of.film.open("rb+") as file:
        file.seek(-1, os.SEEK_END)
        file.write(b"x")
    # A forged time of the content's change leaves that of the entry.
    os.utime(request_of.film, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert is_read_anew(request_of, monkeypatch)


def test_another_file_put_in_its_place_is_read_anew(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    film_of(request_of)
    shutil.copy2(request_of.film, request_of.film.with_suffix(".copy"))
    request_of.film.with_suffix(".copy").replace(request_of.film)
    assert is_read_anew(request_of, monkeypatch)


def test_other_limits_and_other_readers_read_it_anew(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    film_of(request_of)
    tighter = replace(request_of, limits=replace(request_of.limits, frames=1000))
    assert is_read_anew(tighter, monkeypatch)
    monkeypatch.setattr(kept_entries, "code_digest", lambda _kind: "another")
    assert is_read_anew(request_of, monkeypatch)


@pytest.mark.parametrize("share", [0.0, 0.5, 0.95])
def test_damaged_facts_are_none(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch, share: float
) -> None:
    film_of(request_of)
    (file,) = request_of.out.glob("film-*.npz")
    content = file.read_bytes()
    file.write_bytes(content[: int(share * len(content))])
    assert is_read_anew(request_of, monkeypatch)


@pytest.mark.parametrize(
    "change",
    [
        {"time_s": lambda time_s: time_s[::-1]},
        {"time_s": lambda time_s: time_s.astype(np.float32)},
        {"time_s": lambda time_s: time_s[:0]},
        {"key": lambda key: key[1:]},
        {"facts": lambda _facts: np.array("{")},
        {
            "facts": lambda facts: np.array(
                str(facts).replace('"width_px": ', '"width_px": "a", "b": ')
            )
        },
    ],
)
def test_what_is_no_film_is_none(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch, change: dict
) -> None:
    film_of(request_of)
    (file,) = request_of.out.glob("film-*.npz")
    words = str(seal_words(file))
    with np.load(file) as archive:
        arrays = {name: archive[name] for name in archive.files}
    for name, changed in change.items():
        arrays[name] = changed(arrays[name])
    file.write_bytes(packed(arrays, words))
    assert is_read_anew(request_of, monkeypatch)


def test_a_film_that_changed_while_or_just_before_it_was_read_is_not_kept(
    request_of: AuditRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read_while_it_is_written(path: Path, limits: FilmLimits) -> Film:
        film = read_film(path, limits)
        path.write_bytes(path.read_bytes())
        return film

    with monkeypatch.context() as patched:
        patched.setattr("vision.film.reading.read_film", read_while_it_is_written)
        film_of(request_of)
    assert not request_of.out.exists()
    monkeypatch.setattr(film_facts, "_SETTLED_NS", 3_600 * 10**9)
    film_of(request_of)
    assert not request_of.out.exists()
