import pytest

from cli.batch.films import BatchFilm
from cli.batch.progress import Headway

LARGE = BatchFilm("large.mp4", "/large.mp4", 900, "0")
SMALL = BatchFilm("small.mp4", "/small.mp4", 100, "0")


def test_headway_is_weighed_by_size() -> None:
    headway = Headway([LARGE, SMALL], done=[])
    headway.told(LARGE, 0.5)
    assert headway.share == pytest.approx(0.45)
    headway.ended(SMALL, None)
    assert headway.share == pytest.approx(0.55)
    headway.ended(LARGE, "no athlete in it")
    assert headway.share == pytest.approx(1.0)


def test_what_an_earlier_run_has_done_counts() -> None:
    assert Headway([LARGE, SMALL], done=[LARGE]).share == pytest.approx(0.9)


def test_nothing_is_written_where_there_is_no_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    with Headway([LARGE], done=[]) as headway:
        headway.told(LARGE, 0.5)
        headway.ended(LARGE, "no athlete in it")
    assert capfd.readouterr() == ("", "")
