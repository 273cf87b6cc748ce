"""Faults at every write of an audit: no space, a broken disk, a read-only one."""

import errno
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

from cli.audit import film_facts
from cli.audit.request import AuditRequest
from cli.audit.run import audit_film
from cli.errors import UserError
from tests.faults.hostile import piece
from tests.faults.tally import Headway, Part, Tally
from vision.athlete import extraction
from vision.film.frames import Glance, Picture
from vision.film.types import Film
from vision.track import PoseTrack

CODES = (errno.ENOSPC, errno.EIO, errno.EROFS)
CALLS = ((os, "open"), (os, "fsync"), (Path, "write_bytes"), (Path, "replace"), (Path, "mkdir"))


def fail_writes(folder: Path, film: Path, movement: str, part: Part, tally: Tally) -> None:
    """Let every single write of an audit fail, once with each error.

    First the audit is made into an empty folder, then over the results of an earlier one, whose
    landmarks it takes, so that other files are written.
    """
    request = AuditRequest(piece(folder, film, 2.3, 480), movement, None, (), folder / "writes")
    with (
        mock.patch.object(extraction, "extract", seen_once(extraction.extract)),
        # Facts of a film so new are kept by no audit, or by the second alone.
        mock.patch.object(film_facts, "_SETTLED_NS", 0),
    ):
        fail_each(request, part, tally)


def fail_each(request: AuditRequest, part: Part, tally: Tally) -> None:
    """Let every single write of the audits of one request fail."""
    out = request.out
    anew = calls_made(request)
    whole = contents(out)
    again = calls_made(request)
    assert contents(out) == whole, "two audits differ"
    faults = [
        (empty, call, code, spared)
        for empty, counts in ((True, anew), (False, again))
        for call, count in zip(CALLS, counts, strict=True)
        for code in CODES
        for spared in range(count)
    ]
    headway = Headway("write faults", len(faults), part)
    for index, (empty, (holder, name), code, spared) in enumerate(faults):
        if not part.takes(index):
            continue
        if empty:
            shutil.rmtree(out)
            out.mkdir()
        kept = contents(out)
        with failing(holder, name, spared, code, out) as calls:
            told = outcome(request)
        assert calls[0] > spared, "the fault was not reached"
        tally.faults += 1
        place = f"{name} number {spared + 1}, {errno.errorcode[code]}, {'empty' if empty else ''}"
        if told is None or os.strerror(code) not in told or "\n" in told:
            tally.crashes.append(f"write fault not told: {place}: {told}")
        now = contents(out)
        if any(now.get(file) != content for file, content in kept.items()):
            tally.lost.append(f"write fault changed the old output: {place}")
        if any(content != whole.get(file) for file, content in now.items()):
            tally.lost.append(f"write fault left half an output: {place}")
        if contents(out) != whole:
            audit_film(request, quiet)
            if contents(out) != whole:
                tally.lost.append(f"the audit after a write fault differs: {place}")
        headway.step(tally)


def seen_once(extract: Callable[..., PoseTrack]) -> Callable[..., PoseTrack]:
    """Look at a film once only: nothing is written meanwhile, and it is most of an audit's time.

    What glances at the pictures on the way sees them again each time.
    """
    glanced: list[tuple[float, Picture]] = []
    tracks: list[PoseTrack] = []

    def extracted(film: Film, *, glance: Glance, **settings: Any) -> PoseTrack:
        def keep(time_s: float, picture: Picture) -> None:
            glanced.append((time_s, picture.copy()))

        if not tracks:
            kept = replace(glance, take=keep)
            tracks.append(extract(film, glance=kept, **settings))
        for time_s, picture in glanced:
            glance.take(time_s, picture)
        return tracks[0]

    return extracted


def calls_made(request: AuditRequest) -> list[int]:
    """Audit, and count the calls of each kind that could have failed."""
    with ExitStack() as stack:
        counters = [
            stack.enter_context(failing(holder, name, None, 0, request.out))
            for holder, name in CALLS
        ]
        audit_film(request, quiet)
    return [counter[0] for counter in counters]


def outcome(request: AuditRequest) -> str | None:
    """Say what the user is told; None where nothing is, or a traceback."""
    try:
        audit_film(request, quiet)
    except UserError as error:
        return str(error)
    except Exception as error:
        return f"{type(error).__name__}\n{error}"
    return None


def contents(folder: Path) -> dict[str, bytes]:
    """Every file's content."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@contextmanager
def failing(
    holder: Any, name: str, spared: int | None, code: int, under: Path
) -> Iterator[list[int]]:
    """Count calls that touch files of the audit, and let the one after ``spared`` fail."""
    genuine: Callable[..., Any] = getattr(holder, name)
    calls = [0]

    def call(*arguments: Any, **named: Any) -> Any:
        if isinstance(arguments[0], int) or str(arguments[0]).startswith(str(under)):
            calls[0] += 1
            if spared is not None and calls[0] == spared + 1:
                raise OSError(code, os.strerror(code))
        return genuine(*arguments, **named)

    with mock.patch.object(holder, name, call):
        yield calls


def quiet(_stage: str, _done_s: float, _all_s: float) -> None:
    """No progress."""
