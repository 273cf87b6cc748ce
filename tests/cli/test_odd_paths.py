"""A path that can be no file, leads in a circle or never ends is refused in one line, at once."""

import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from cli import main
from counting.record.files import record_json
from counting.record.seal import sealed
from tests.followed import followed_attempt

CLIP = Path(__file__).parents[2] / "sample_clips" / "boathouse_air_squats.mp4"
AT_ONCE_S = 60
"""Far more than a refusal takes on a busy machine."""


def loop(path: Path) -> Path:
    path.symlink_to(path)
    return path


def pipe(path: Path) -> Path:
    os.mkfifo(path)
    return path


PLACES: dict[str, Callable[[Path], Path]] = {
    "a name of 300 characters": lambda folder: folder / ("x" * 300),
    "a loop of links": lambda folder: loop(folder / "loop"),
    "a pipe": lambda folder: pipe(folder / "pipe"),
    "a device without end": lambda _: Path("/dev/zero"),
}
READ = [
    ["audit", "ODD", "--movement", "air squat"],
    ["audit", str(CLIP), "--workout", "ODD"],
    ["audit", str(CLIP), "--movement", "air squat", "--standards", "ODD"],
    ["audit", str(CLIP), "--movement", "air squat", "--model", "ODD", "--out", "OUT"],
    ["score", "ODD"],
    ["explain", "ODD", "--rep", "1"],
    ["report", "ODD"],
    ["report", "AUDIT", "--film", "ODD"],
    ["mark", "ODD", "AUDIT"],
    ["mark", str(CLIP), "ODD"],
    ["compare", "AUDIT", "ODD"],
    ["plan", "--workout", "ODD", "--from", "AUDIT"],
    ["plan", "--check", "AUDIT", "ODD"],
    ["verify", "AUDIT", "ODD"],
    ["verify", "ODD", str(CLIP)],
    ["review", "ODD"],
    ["forget", "ODD", "--yes"],
    ["movements", "ODD"],
    ["validate", "ODD"],
]
WRITTEN = [
    ["audit", str(CLIP), "--movement", "air squat", "--end", "0:01", "--out", "ODD"],
    ["report", "AUDIT", "--no-stills", "--out", "ODD/report.html"],
    ["batch", "FILMS", "--movement", "air squat", "--out", "ODD"],
]


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Iterator[Callable[..., tuple[int, str]]]:
    """Run the program; what does not end is a failure."""
    audit = tmp_path / "evening.audit"
    audit.mkdir()
    record = sealed(followed_attempt("g?n", "gg", file="evening.mp4"))
    (audit / "audit.json").write_text(record_json(record), encoding="utf-8")
    films = tmp_path / "films"
    films.mkdir()
    (films / "a.mp4").write_bytes(b"no film")

    def late(_number: int, _frame: FrameType | None) -> None:
        raise AssertionError("it waits")

    def ran(asked: list[str], odd: Path) -> tuple[int, str]:
        names = {"AUDIT": audit, "FILMS": films, "OUT": tmp_path / "out", "ODD": odd}
        words = [
            word.replace("ODD", str(odd)) if word.startswith("ODD/") else str(names.get(word, word))
            for word in asked
        ]
        monkeypatch.setattr(sys, "argv", ["repwitness", *words])
        status: Any = 0
        signal.alarm(AT_ONCE_S)
        try:
            main.run()
        except SystemExit as end:
            status = end.code
        finally:
            signal.alarm(0)
        return status or 0, capsys.readouterr().err

    before = signal.signal(signal.SIGALRM, late)
    yield ran
    signal.signal(signal.SIGALRM, before)


def told(asked: list[str]) -> str:
    return " ".join(word for word in asked if not word.startswith("/"))


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("asked", READ, ids=told)
def test_what_cannot_be_read_is_refused(
    run: Callable[..., tuple[int, str]], tmp_path: Path, asked: list[str], place: str
) -> None:
    status, said = run(asked, PLACES[place](tmp_path))
    assert status in (2, 3), said
    assert said.count("repwitness: ") == 1
    assert "Traceback" not in said


@pytest.mark.parametrize("place", ["a name of 300 characters", "a loop of links"])
@pytest.mark.parametrize("asked", WRITTEN, ids=told)
def test_what_cannot_be_written_is_refused(
    run: Callable[..., tuple[int, str]], tmp_path: Path, asked: list[str], place: str
) -> None:
    status, said = run(asked, PLACES[place](tmp_path))
    assert status in (2, 3), said
    assert "cannot be written" in said or "cannot be made" in said
