"""Stand-ins for the audit of a film: what they do is written in the film file itself."""

import os
import signal
import time
from pathlib import Path

from cli.errors import UserError
from cli.pipeline import AuditRequest, Progress
from counting.record.files import record_json
from counting.record.types import (
    AthletePart,
    AuditRecord,
    CameraPart,
    CountsPart,
    FilmPart,
    RiskPart,
    VersionsPart,
)
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


def audit(request: AuditRequest, progress: Progress) -> None:
    """Do what the film says: a record with so many reps too close, or one of several disasters."""
    with request.film.with_suffix(".begun").open("a") as begun:
        begun.write(f"{os.getppid()}\n")
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
    if order == "slow":
        time.sleep(float(value))
    if order == "steps":
        for step in range(10 * int(value)):
            progress("pose", step, 10.0 * int(value))
            request.film.with_suffix(".alive").touch()
            time.sleep(0.1)
    write_whole(request.out / "audit.json", record_json(record(request, int(value or 0))))
    progress("pose", 2.0, 2.0)


def record(request: AuditRequest, too_close: int) -> AuditRecord:
    """Make a small valid record."""
    return AuditRecord(
        film=FilmPart(
            file=request.film.name,
            sha256="0" * 64,
            duration_s=2.0,
            frames=60,
            width=640,
            height=360,
            rotation_deg=0,
            frame_rate_mean_hz=30.0,
            variable_frame_rate=False,
        ),
        athlete=AthletePart(seen_share=1.0),
        camera=CameraPart(view_deg=45.0, steady=True, shake_px=0.1),
        movement=request.movement,
        start_s=None,
        risk=RiskPart(met_at_least=0.95, not_met_at_most=0.05),
        reps=[],
        sets=[],
        breaks=[],
        pauses=[],
        counts=CountsPart(good=1, no_rep=0, too_close=too_close, lowest=1, highest=1 + too_close),
        series=None,
        warnings=[],
        versions=VersionsPart(tool="0", model="full", model_sha256="0" * 64, libraries={}),
    )
