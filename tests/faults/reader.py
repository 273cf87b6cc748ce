"""A process that reads films, started anew when it dies or hangs."""

import json
import os
import select
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from tests.faults.processor import process_s

LONGEST_S: Final = 10.0
"""What takes longer, in processor time or `SLOWNESS` times so long by the clock, is a hang."""

SLOWNESS: Final = float(os.environ.get("FAULTS_SLOWNESS", "1"))
"""How many times slower than a machine of its own this one may be before a wait is a hang."""


class Reader:
    """Asks `tests.faults.reading` for one film after the other."""

    def __init__(self, longest_s: float = LONGEST_S) -> None:
        self._longest_s = longest_s
        self.took_s = 0.0
        """Processor time of the last answer."""
        self._process: subprocess.Popen[str] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop()

    def ask(self, path: Path) -> str:
        """Give the answer, ``hang``, or ``died STATUS``."""
        process = self._running()
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(json.dumps(str(path)) + "\n")
        process.stdin.flush()
        before_s, asked_s = process_s(process.pid), time.monotonic()
        ready = False
        while not ready:
            ready = bool(select.select([process.stdout], [], [], self._longest_s / 10)[0])
            self.took_s = process_s(process.pid) - before_s
            waited_s = time.monotonic() - asked_s
            if self.took_s > self._longest_s or waited_s > self._longest_s * SLOWNESS:
                self._stop()
                return "hang"
        answer = process.stdout.readline().strip()
        if not answer:
            status = process.wait()
            self._stop()
            return f"died {status}"
        return answer

    def _running(self) -> subprocess.Popen[str]:
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "tests.faults.reading"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
            )
            # The first film waits for the imports as well.
            assert self._process.stdin is not None
            assert self._process.stdout is not None
            self._process.stdin.write('"/"\n')
            self._process.stdin.flush()
            self._process.stdout.readline()
        return self._process

    def _stop(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None
