"""Faults at every write of an audit: no space, a broken disk, a read-only one."""

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unittest import mock

from cli.errors import UserError
from cli.pipeline import AuditRequest
from cli.stages import audit_in_stages

if TYPE_CHECKING:
    from tests.faults.campaign import Tally

CODES = (errno.ENOSPC, errno.EIO, errno.EROFS)
CALLS = ((os, "open"), (os, "fsync"), (Path, "write_bytes"), (Path, "replace"), (Path, "mkdir"))


def fail_writes(folder: Path, film: Path, movement: str, share: float, tally: "Tally") -> None:
    """Audit again and again with one more call succeeding before the fault, until none is hit.

    With ``share`` below 1, that part of the calls is made to fail, evenly spread.
    """
    out = folder / "writes"
    request = AuditRequest(film, movement, None, None, out)
    audit_in_stages(request, quiet)
    kept = contents(out)
    for holder, name in CALLS:
        for code in CODES:
            for spared in range(0, 1000, round(1 / share)):
                with failing(holder, name, spared, code, out) as hit:
                    told = outcome(request)
                if not hit:
                    break
                tally.faults += 1
                place = f"{name} number {spared + 1}, {errno.errorcode[code]}"
                if told is None or os.strerror(code) not in told or "\n" in told:
                    tally.crashes.append(f"write fault not told: {place}: {told}")
                now = contents(out)
                if now != kept:
                    tally.lost.append(f"write fault changed the output: {place}")
                    audit_in_stages(request, quiet)
    print(f"{tally.faults} write faults injected", flush=True)


def outcome(request: AuditRequest) -> str | None:
    """Say what the user is told; None where nothing is, or a traceback."""
    try:
        audit_in_stages(request, quiet)
    except UserError as error:
        return str(error)
    except Exception as error:
        return f"{type(error).__name__}\n{error}"
    return None


def contents(folder: Path) -> dict[str, bytes]:
    """Every file's content."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@contextmanager
def failing(holder: Any, name: str, spared: int, code: int, under: Path) -> Iterator[list[int]]:
    """Let calls that touch files of the audit fail after the first ``spared``; list those hit."""
    genuine: Callable[..., Any] = getattr(holder, name)
    passed, hit = [0], []

    def call(*arguments: Any, **named: Any) -> Any:
        concerned = isinstance(arguments[0], int) or str(arguments[0]).startswith(str(under))
        if concerned:
            passed[0] += 1
            if passed[0] == spared + 1:
                hit.append(1)
                raise OSError(code, os.strerror(code))
        return genuine(*arguments, **named)

    with mock.patch.object(holder, name, call):
        yield hit


def quiet(_stage: str, _done_s: float, _all_s: float) -> None:
    """No progress."""
