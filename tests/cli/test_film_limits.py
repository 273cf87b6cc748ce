from pathlib import Path

from msgspec.structs import replace
from typer.testing import CliRunner

from cli.errors import UserError
from cli.film_limits import limits_of
from cli.main import app
from counting.record.types import AuditRecord
from tests.vision.film.films import write_film
from vision.film.limits import DEFAULT_LIMITS, WORDS

RUN = CliRunner()


def test_all_limits_are_listed_with_their_meaning() -> None:
    done = RUN.invoke(app, ["limits"])
    assert done.exit_code == 0
    for name, words in WORDS.items():
        assert name in done.output
        assert words in done.output


def test_an_unknown_limit_is_wrong_usage(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    film.write_bytes(b"film")
    done = RUN.invoke(app, ["audit", str(film), "-m", "thruster", "--limit", "colours=3"])
    assert isinstance(done.exception, UserError)
    assert done.exception.exit_status == 2
    assert "the limits are file_bytes" in str(done.exception)


def test_a_film_of_one_picture_is_refused_in_a_line(tmp_path: Path) -> None:
    film = write_film(tmp_path / "film.mp4", [0])
    done = RUN.invoke(app, ["audit", str(film), "-m", "thruster"])
    assert isinstance(done.exception, UserError)
    assert done.exception.exit_status == 3
    assert str(done.exception) == f"{film}: holds a single picture; give a film with motion"


def test_a_film_that_was_audited_may_be_read_again(attempt: AuditRecord) -> None:
    assert limits_of(attempt) == DEFAULT_LIMITS
    long = replace(attempt, film=replace(attempt.film, duration_s=50_000.0, frames=5_000_000))
    assert limits_of(long).frames == 5_000_000
    assert limits_of(long).duration_s == 50_000.0
