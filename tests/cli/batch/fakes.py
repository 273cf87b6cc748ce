"""Stand-ins for the audit of a film: what they do is written in the film file itself.

Each film's process imports this module: it imports little.
"""

import os
import signal
import time
from hashlib import sha256
from pathlib import Path

from msgspec.structs import replace

from cli.audit.request import AuditRequest, Progress
from cli.errors import UserError
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.types import AuditRecord, CountsPart
from tests.records import bare_record
from vision.files import write_whole

MIB = 1024**2


def film(path: Path, orders: str, size_bytes: int = 0) -> Path:
    """Write a "film" that tells the stand-in what to do, padded to a size."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(orders + "\n" + " " * max(0, size_bytes - len(orders) - 1))
    return path


def begun(folder: Path) -> dict[str, list[int]]:
    """Give the parents of the processes that began each film since the last call."""
    notes = {}
    for note in sorted(folder.rglob("*.begun")):
        notes[note.stem] = [int(line) for line in note.read_text().split()]
        note.unlink()
    return notes


def _note(request: AuditRequest) -> None:
    with request.film.with_suffix(".begun").open("a") as begun:
        begun.write(f"{os.getppid()}\n")


def noted_audit(request: AuditRequest, progress: Progress) -> None:
    """Audit a film in earnest, and note that it was begun."""
    from cli.audit.run import audit_film  # what the other stand-ins do without

    _note(request)
    audit_film(request, progress)


def fall_over(sources: list[str], progress: Progress) -> None:
    """Tell of each file what `cli.batch.films.look` does, by its name, or be ended by it."""
    for done, source in enumerate(sources, start=1):
        if "killer" in source:
            os.kill(os.getpid(), signal.SIGSEGV)
        progress("" if "film" in source else "is something else", done, len(sources))


def audit(request: AuditRequest, progress: Progress) -> None:
    """Do what the film says: a record with so many reps too close, or one of several disasters."""
    _note(request)
    order, _, value = request.film.read_text().partition("\n")[0].partition(" ")
    progress("pose", 1.0, 2.0)
    if order == "bad":
        raise UserError(f"{request.film.name}: no athlete in it")
    if order == "bug":
        raise RuntimeError("a mistake of ours")
    if order == "crash":
        print("codec: broken chunk", flush=True)
        os.kill(os.getpid(), signal.SIGSEGV)
    if order == "hang":
        time.sleep(1000)
    if order == "memory":
        bytearray(int(value) * MIB)
    if order == "nothing":
        return
    if order == "target":
        line = request.target
        Path(f"{request.film}.target").write_text(f"{line.left} {line.right}" if line else "none")
    if order == "slow":
        time.sleep(float(value))
    if order == "steps":
        for step in range(10 * int(value)):
            progress("pose", step, 10.0 * int(value))
            request.film.with_suffix(".alive").touch()
            time.sleep(0.1)
    write_whole(request.out / "audit.json", record_json(sealed(record(request, int(value or 0)))))
    progress("pose", 2.0, 2.0)


def record(request: AuditRequest, too_close: int) -> AuditRecord:
    """Make a small valid record."""
    made = bare_record(
        [],
        file=request.film.name,
        duration_s=2.0,
        movement=request.movement,
        counts=CountsPart(good=1, no_rep=0, too_close=too_close, lowest=1, highest=1 + too_close),
    )
    if not request.film.exists():
        return made
    digest = sha256(request.film.read_bytes()).hexdigest()
    return replace(made, film=replace(made.film, sha256=digest))
