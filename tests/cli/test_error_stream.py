"""The error stream is whole, however many threads look at the film."""

from pathlib import Path

import pytest

from tests.faults.streams import Telling, film_of_nobody, tellings, untold


@pytest.fixture(scope="module")
def nobody(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return film_of_nobody(tmp_path_factory.mktemp("films") / "nobody.mp4")


@pytest.mark.slow
@pytest.mark.parametrize("telling", tellings(), ids=lambda telling: telling.name)
def test_message_progress_and_traceback_arrive(
    telling: Telling, nobody: Path, tmp_path: Path
) -> None:
    assert not untold(telling, nobody, tmp_path / "out")
