"""SIGKILL at random times: never half an output, and the next run ends in the same bytes."""

import json
import os
import select
import signal
import sys
import time
import zipfile
from pathlib import Path

import numpy as np

import cli.audit.assess
import cli.audit.run  # noqa: F401  loaded once: the forks that are killed have it already
from cli.audit.kept import FILM
from cli.main import run as run_program
from counting.record.files import RecordError, parse_record
from counting.record.seal import is_intact
from tests.faults.hostile import piece
from tests.faults.reader import SLOWNESS
from tests.faults.tally import Headway, Part, Tally
from tests.faults.writing import contents
from vision.track import TrackError, load_track

FINISH_EVERY = 4
FAILED = 70
LONGEST_S = 120.0


def kill_audits(
    folder: Path, film: Path, movement: str, numbers: list[int], seed: int, tally: Tally
) -> None:
    """Kill audits of a film, and every third time a batch of two, at a random share of its time.

    What a kill left is the next one's start; after every fourth kill the work is let come to its
    end. ``numbers`` are those of the kills, each of which has its own random time.
    """
    short = piece(folder, film, 2.3, 480)
    films = folder / "films"
    films.mkdir()
    for name in ("one", "two"):
        (films / f"{name}.mp4").symlink_to(short.resolve())
    asked = ["--movement", movement, "--workers", "1", "--out"]
    commands = {"audit": ["audit", str(short), *asked], "batch": ["batch", str(films), *asked]}
    headway = Headway("kills of audits", len(numbers), Part(1, 1))
    for name, command in commands.items():
        reference, out = folder / f"{name} reference", folder / f"{name} killed"
        own = [number for number in numbers if (number % 3 == 2) == (name == "batch")]
        started_s = time.monotonic()
        run(command, reference)
        lasts_s = time.monotonic() - started_s
        whole = results(reference)
        assert any(file.endswith("audit.json") for file in whole), f"{name} made no record"
        for done, number in enumerate(own, start=1):
            rng = np.random.default_rng([seed, number])
            while not kill_after(command, out, float(rng.uniform(0, lasts_s))):
                # It had come to its end before: another start, another moment.
                remove(out)
            tally.kills += 1
            tally.lost += [f"after kill {number} of {name}: {words}" for words in halves(out)]
            if done % FINISH_EVERY == 0 or done == len(own):
                run(command, out)
                if results(out) != whole:
                    tally.lost.append(f"{name} after kill {number} ends in other bytes")
                remove(out)
            headway.step(tally)


def start(command: list[str], told: int | None = None) -> int:
    """Run a command of the program in a fork with the libraries loaded; ``told`` is its output."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    status = FAILED
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        if told is not None:
            os.dup2(told, sys.__stdout__.fileno())
        sys.argv = ["repwitness", *command]
        run_program()
        status = 0
    except SystemExit as end:
        status = int(end.code or 0)
    finally:
        os._exit(status)


def run(command: list[str], out: Path) -> None:
    """Let a command come to its end."""
    child = start([*command, str(out)])
    ended = wait(child, LONGEST_S * SLOWNESS)
    assert ended, "it hangs"
    _, status = os.waitpid(child, 0)
    assert status == 0, f"status {status} of {command}"


def kill_after(command: list[str], out: Path, after_s: float) -> bool:
    """Kill a command; False where it ended before."""
    child = start([*command, str(out)])
    ended = wait(child, after_s)
    if not ended:
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return not ended


def wait(child: int, longest_s: float) -> bool:
    """Wait for a process; False where it still runs after that time."""
    handle = os.pidfd_open(child)
    try:
        return bool(select.select([handle], [], [], longest_s)[0])
    finally:
        os.close(handle)


def results(out: Path) -> dict[str, bytes]:
    """Content of all results; the batch's own notes of times and its lock are none.

    Nor are the facts of a film: those of one that was made a moment ago are not kept yet.
    """
    return {
        name: content
        for name, content in contents(out).items()
        if not name.endswith((".lock", "asked.json")) and not is_of_film(name)
    }


def is_of_film(name: str) -> bool:
    """Whether the file keeps the facts of a film."""
    return Path(name).match(f"{FILM.name}-*.npz")


def halves(out: Path) -> list[str]:
    """Name every result that is not whole."""
    found = []
    for file in [*out.rglob("*")] if out.exists() else []:
        if file.name.startswith(".repwitness-") or not file.is_file():
            continue
        try:
            if file.name == "audit.json":
                data = file.read_bytes()
                parse_record(data, file.name)
                if is_intact(json.loads(data)) is not True:
                    found.append(f"{file.name} is not intact")
            elif file.suffix == ".json":
                json.loads(file.read_bytes())
            elif not file.match("landmarks-*.npz") and file.suffix == ".npz":
                with zipfile.ZipFile(file) as archive:
                    if archive.testzip() is not None:
                        found.append(f"{file.name} is not whole")
            elif file.suffix == ".npz":
                load_track(file)
            elif file.suffix == ".csv" and not file.read_bytes().endswith(b"\n"):
                found.append(f"{file.name} ends in mid-line")
        except (RecordError, TrackError, ValueError, zipfile.BadZipFile) as error:
            found.append(f"{file.name}: {error}")
        except FileNotFoundError:
            continue
    return found


def remove(folder: Path) -> None:
    """Start anew."""
    for file in sorted(folder.rglob("*"), reverse=True):
        file.rmdir() if file.is_dir() else file.unlink()
