"""Disks that are really full or read-only, as far as this system lets one be mounted."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from tests.faults.hostile import piece
from tests.faults.killing import halves
from tests.faults.tally import Headway, Part, Tally
from tests.faults.writing import contents

NEW_ROOM = ["unshare", "--map-root-user", "--mount"]
ON_A_DISK = """
mount -t tmpfs -o size="$1" none "$2" && cp -r "$3/." "$2" && mount -o "remount,$4" "$2" || exit 99
place="$2"; kept="$5"; shift 5
"$@"; status=$?
cp -r "$place/." "$kept"; exit $status
"""
"""A file system of the given size, filled with a folder, then used; what is left is copied out."""

NOT_MOUNTED = 99
PAGE_BYTES = 4096
ROOMY, FULL, ALMOST_FULL = "64m", "4k", "room for the landmarks alone"


@dataclass(frozen=True)
class Case:
    """A command on a disk of a size, that may be written or not, with results of before or not."""

    command: str
    size: str
    mode: str
    has_results: bool


CASES = (
    Case("audit", FULL, "rw", False),
    Case("audit", ALMOST_FULL, "rw", False),
    Case("audit", ROOMY, "ro", True),
    Case("audit", ROOMY, "ro", False),
    Case("batch", FULL, "rw", False),
    Case("batch", ROOMY, "ro", False),
    Case("review", FULL, "rw", False),
    Case("review", ROOMY, "ro", True),
)
REASONS = ("No space left on device", "Read-only file system", "disk is full", "readonly", "unable")


def fill_disks(folder: Path, film: Path, movement: str, part: Part, tally: Tally) -> None:
    """Run commands on disks that cannot take their output: a clear line, nothing half or lost."""
    if subprocess.run([*NEW_ROOM, "true"], capture_output=True, check=False).returncode:
        print("no disks can be mounted here: full and read-only ones are left out", flush=True)
        return
    films = folder / "films for disks"
    films.mkdir()
    short = piece(films, film, 2.3, 480)
    asked = ["--movement", movement, "--workers", "1", "--out"]
    results = folder / "results for disks"
    done = program(["audit", str(short), *asked, str(results)])
    assert done.returncode == 0, done.stderr
    headway = Headway("disks", len(CASES), part)
    for index in part.of_all(len(CASES)):
        case = CASES[index]
        place, kept, empty = (folder / f"{name} {index}" for name in ("disk", "kept", "empty"))
        for new in (place, kept, empty):
            new.mkdir()
        before = results if case.has_results else empty
        command = {
            "audit": ["audit", str(short), *asked, str(place)],
            "batch": ["batch", str(films), *asked, str(place)],
            "review": ["review", str(place), "--port", "0"],
        }[case.command]
        size = landmarks_alone(results) if case.size == ALMOST_FULL else case.size
        done = program(command, [size, str(place), str(before), case.mode, str(kept)])
        assert done.returncode != NOT_MOUNTED, done.stderr
        tally.faults += 1
        told = [line for line in (done.stderr + done.stdout).splitlines() if line.strip()]
        clear = any(reason in line for line in told for reason in REASONS)
        if done.returncode != 3 or "Traceback" in done.stderr or not clear:
            tally.crashes.append(f"not told: {case}: {done.returncode} {done.stderr[-300:]}")
        after = contents(kept)
        if any(after.get(name) != content for name, content in contents(before).items()):
            tally.lost.append(f"the results of before are not intact: {case}")
        tally.lost += [f"{case}: {words}" for words in halves(kept)]
        headway.step(tally)


def landmarks_alone(results: Path) -> str:
    """Size of a disk that takes the landmark file, rounded up to pages, and two pages more."""
    (landmarks,) = results.glob("landmarks-*.npz")
    return str((landmarks.stat().st_size // PAGE_BYTES + 3) * PAGE_BYTES)


def program(command: list[str], disk: list[str] | None = None) -> subprocess.CompletedProcess[str]:
    """Run the program, on a disk of its own where one is described."""
    whole = [sys.executable, "-m", "cli", *command]
    if disk is not None:
        whole = [*NEW_ROOM, "sh", "-c", ON_A_DISK, "sh", *disk, *whole]
    environment = {**os.environ, "COLUMNS": "1000"}
    return subprocess.run(
        whole, capture_output=True, text=True, env=environment, timeout=600, check=False
    )
