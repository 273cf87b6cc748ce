"""A process of its own for one film: a crash, hang or memory bomb costs that film only."""

import json
import os
import pickle
import select
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from cli.audit.request import AuditRequest, Progress

AuditFunction = Callable[[AuditRequest, Progress], Any]
"""Audits one film into ``request.out``. Importable by name; what it returns is not used."""

Request = TypeVar("Request")

_ONE_THREAD: Final = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
_READ_BYTES: Final = 65536
"""Read at a time: what a pipe of Linux holds."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What one film may use.

    Attributes
    ----------
    stalled_s
        Longest wall time without any headway.
    memory_bytes
        Memory of the film's process (data and heap).
    """

    stalled_s: float = 600.0
    memory_bytes: int = 4 * 1024**3


class FailedFilmError(Exception):
    """A film that could not be audited; the message is one line for the table of failures."""


class FilmProcess:
    """Does what has to do with a film in a process of its own.

    Parameters
    ----------
    work, request
        What is to be done: ``work(request, progress)``, importable by name.
    limits
        What it may use.
    """

    def __init__(
        self, work: Callable[[Request, Progress], Any], request: Request, limits: Limits
    ) -> None:
        self._limits = limits
        self._log = tempfile.TemporaryFile()  # noqa: SIM115 - closed by `end`
        self._process = subprocess.Popen(
            # -P: a folder of the user's that is named as one of our packages is not imported.
            [sys.executable, "-P", "-m", "cli.batch.child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._log,
            env={**os.environ, **_ONE_THREAD, "PYTHONPATH": os.pathsep.join(_search_path())},
            # A group of its own: Ctrl-C reaches the parent alone, which ends the whole group.
            start_new_session=True,
        )
        task = pickle.dumps((work, request, limits.memory_bytes))
        assert self._process.stdin is not None
        with suppress(BrokenPipeError):  # it died at once: `run` says of what
            self._process.stdin.write(len(task).to_bytes(8, "little") + task)
            self._process.stdin.flush()

    def run(self, progress: Progress) -> None:
        """Wait for the end of the film, passing progress on.

        Raises
        ------
        FailedFilmError
            The film could not be audited, for whatever reason.
        """
        try:
            for message in self._messages():
                if "stage" in message:
                    progress(message["stage"], message["done_s"], message["all_s"])
                elif "error" in message:
                    raise FailedFilmError(message["error"])
                else:
                    return
            raise FailedFilmError(self._cause_of_death())
        finally:
            self.kill()
            self._release()

    def kill(self) -> None:
        """End the process with all it has started; safe from any thread."""
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(self._process.pid, signal.SIGKILL)

    def _release(self) -> None:
        self._process.wait()
        for stream in (self._process.stdin, self._process.stdout, self._log):
            if stream is not None:
                with suppress(BrokenPipeError):
                    stream.close()

    def _messages(self) -> Iterator[dict[str, Any]]:
        assert self._process.stdout is not None
        pipe = self._process.stdout.fileno()
        unread = b""
        deadline_s = time.monotonic() + self._limits.stalled_s
        while True:
            if not select.select([pipe], [], [], max(0.0, deadline_s - time.monotonic()))[0]:
                raise FailedFilmError(
                    f"no progress for {self._limits.stalled_s:g} s: given up; try this film alone "
                    "with 'repwitness audit'"
                )
            data = os.read(pipe, _READ_BYTES)
            if not data:
                return
            *lines, unread = (unread + data).split(b"\n")
            for line in lines:
                yield json.loads(line)
            deadline_s = time.monotonic() + self._limits.stalled_s

    def _cause_of_death(self) -> str:
        status = self._process.wait()
        if status < 0:
            cause = f"by signal {signal.Signals(-status).name}"
        else:
            cause = f"with status {status}"
        self._log.seek(max(0, self._log.seek(0, os.SEEK_END) - _READ_BYTES))
        said = self._log.read().decode("utf-8", "replace").strip().rpartition("\n")[2]
        return f"its process ended {cause}" + (f" ({said[-300:]})" if said else "")


def _search_path() -> list[str]:
    return [os.path.abspath(place) for place in sys.path]  # noqa: PTH100 - "" means here
