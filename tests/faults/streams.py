"""What a user is told while several threads look: message, progress and traceback all arrive."""

import os
import pty
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np

from tests.faults.reader import SLOWNESS
from tests.faults.tally import Headway, Part, Tally

WORKERS = (1, 2, 4)
TIMES = 4
LONGEST_S = 60.0 * SLOWNESS
FAILING = """
import sys
import vision.continuity.assess
from cli.main import run

def fail(*_):
    raise RuntimeError("on purpose")

vision.continuity.assess.assess_continuity = fail
run()
"""
"""A program whose audit fails unexpectedly once the athlete has been looked for."""


@dataclass(frozen=True)
class Telling:
    """One way to run the program, and what must be read on its error stream, in this order."""

    workers: int
    terminal: bool
    fails: bool

    @property
    def name(self) -> str:
        """Words for a report."""
        place = "terminal" if self.terminal else "pipe"
        return f"{'traceback' if self.fails else 'message'}, {self.workers} workers, {place}"

    @property
    def expected(self) -> list[str]:
        """Text that must come."""
        progress = ["looking for the athlete", "looking for cuts"] if self.terminal else []
        end = ["Traceback", "RuntimeError: on purpose"] if self.fails else ["no athlete was found"]
        return [*progress, *end]


def tellings() -> list[Telling]:
    """Every number of workers, in a terminal and in a pipe, with a message and a traceback."""
    return [
        Telling(workers, terminal, fails)
        for workers in WORKERS
        for terminal in (False, True)
        for fails in (False, True)
    ]


def tell_everything(folder: Path, part: Part, tally: Tally) -> None:
    """Run each telling several times: what several threads do goes wrong now and then."""
    film = film_of_nobody(folder / "nobody.mp4")
    every = [item for _ in range(TIMES) for item in tellings()]
    headway = Headway("tellings", len(every), part)
    for index, item in enumerate(every):
        if part.takes(index):
            tally.inputs += 1
            missing = untold(item, film, folder / f"told {index}")
            tally.lost += [f"untold: {item.name}: {words}" for words in missing]
            headway.step(tally)


def untold(item: Telling, film: Path, out: Path) -> list[str]:
    """Audit, and say what did not arrive on the error stream, or should not have."""
    program = ["-c", FAILING] if item.fails else ["-m", "cli"]
    command = [sys.executable, *program, "audit", str(film), "--movement", "air_squat"]
    command += ["--workers", str(item.workers), "--out", str(out)]
    status, text = error_stream(command, terminal=item.terminal)
    problems = []
    place = 0
    for words in item.expected:
        found = text.find(words, place)
        if found < 0:
            problems.append(f"{words!r} does not come")
        place = max(place, found)
    if status != (1 if item.fails else 3):
        problems.append(f"status {status}")
    problems += [f"{noise!r} comes" for noise in ("XNNPACK", "INFO:") if noise in text]
    return problems


def error_stream(command: list[str], *, terminal: bool) -> tuple[int, str]:
    """Run a command; its exit status and all that came on its error stream, on one line each."""
    reading, writing = pty.openpty() if terminal else os.pipe()
    surroundings = {**os.environ, "TERM": "xterm", "COLUMNS": "400", "LINES": "50"}
    with subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=writing,
        env=surroundings,
    ) as running:
        os.close(writing)
        content = b""
        try:
            while part := os.read(reading, 1 << 16):
                content += part
        except OSError:
            # A terminal whose other end is closed ends with an error.
            pass
        finally:
            os.close(reading)
        status = running.wait(LONGEST_S)
    return status, content.decode(errors="replace")


def film_of_nobody(path: Path) -> Path:
    """Write two seconds of an empty room."""
    with av.open(str(path), "w") as film:
        stream = film.add_stream("mpeg4", rate=20)
        stream.width, stream.height, stream.pix_fmt = 320, 240, "yuv420p"
        empty = np.full((240, 320, 3), 90, np.uint8)
        for _ in range(40):
            film.mux(stream.encode(av.VideoFrame.from_ndarray(empty, "rgb24")))
        film.mux(stream.encode())
    return path
