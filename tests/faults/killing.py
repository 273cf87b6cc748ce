"""SIGKILL at random times: never half an output, and the next run ends in the same bytes."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from counting.record.files import RecordError, parse_record
from counting.record.seal import is_intact
from tests.faults.writing import contents
from vision.track import TrackError, load_track

if TYPE_CHECKING:
    from tests.faults.campaign import Tally

FINISH_EVERY = 10


def kill_audits(
    folder: Path, film: Path, movement: str, kills: int, seed: int, tally: "Tally"
) -> None:
    """Kill audits of a film, and batches of two, each at a random share of its running time."""
    films = folder / "films"
    films.mkdir()
    for name in ("one", "two"):
        (films / f"{name}{film.suffix}").symlink_to(film.resolve())
    audit = ["audit", str(film), "--movement", movement, "--workers", "1", "--out"]
    batch = ["batch", str(films), "--movement", movement, "--workers", "1", "--out"]
    rng = np.random.default_rng(seed)
    for name, command, share in (("audit", audit, 0.6), ("batch", batch, 0.4)):
        reference = folder / f"{name} reference"
        started_s = time.monotonic()
        run(command, reference)
        lasts_s = time.monotonic() - started_s
        whole = results(reference)
        assert any(file.endswith("audit.json") for file in whole), f"{name} made no record"
        out = folder / f"{name} killed"
        number = round(kills * share)
        for kill in range(number):
            killed = kill_after(command, out, float(rng.uniform(0, lasts_s)))
            tally.kills += killed
            tally.lost += [f"after kill {kill} of {name}: {words}" for words in halves(out)]
            if kill % FINISH_EVERY == FINISH_EVERY - 1 or kill == number - 1:
                run(command, out)
                if results(out) != whole:
                    tally.lost.append(f"{name} after kill {kill} ends in other bytes")
                remove(out)
        print(f"{tally.kills} kills", flush=True)


def run(command: list[str], out: Path) -> None:
    """Let a command run to its end."""
    done = subprocess.run(
        [sys.executable, "-m", "cli", *command, str(out)], capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()


def kill_after(command: list[str], out: Path, after_s: float) -> bool:
    """Kill a command; False where it ended before."""
    with subprocess.Popen(
        [sys.executable, "-m", "cli", *command, str(out)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        try:
            process.wait(after_s)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            return True
    return False


def results(out: Path) -> dict[str, bytes]:
    """Content of all results; the batch's own notes of times and its lock are none."""
    return {
        name: content
        for name, content in contents(out).items()
        if not name.endswith((".lock", "asked.json"))
    }


def halves(out: Path) -> list[str]:
    """Name every result that is not whole."""
    found = []
    for file in [*out.rglob("*")] if out.exists() else []:
        if file.name.startswith(".repwitness-") or not file.is_file():
            continue
        try:
            if file.name == "audit.json":
                if is_intact(parse_record(file.read_bytes(), file.name)) is not True:
                    found.append(f"{file.name} is not intact")
            elif file.suffix == ".json":
                json.loads(file.read_bytes())
            elif file.suffix == ".npz":
                load_track(file)
            elif file.suffix == ".csv" and not file.read_bytes().endswith(b"\n"):
                found.append(f"{file.name} ends in mid-line")
        except (RecordError, TrackError, ValueError) as error:
            found.append(f"{file.name}: {error}")
        except FileNotFoundError:
            continue
    return found


def remove(folder: Path) -> None:
    """Start anew."""
    for file in sorted(folder.rglob("*"), reverse=True):
        file.rmdir() if file.is_dir() else file.unlink()
