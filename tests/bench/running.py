"""Runs a command and measures the whole tree of its processes: wall, processor time, memory."""

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[2]
_SAMPLE_S: Final = 0.2
_KIB: Final = 1024
_SAID_CHARACTERS: Final = 2000


@dataclass(frozen=True, slots=True)
class Run:
    """One measured run.

    Attributes
    ----------
    wall_s, processor_s
        Wall time, and processor time of the process with all it has started and waited for.
    peak_bytes
        Largest memory of all its processes together, shared pages counted once; 0 where the
        system does not tell.
    memory
        (time since start in s, bytes) samples.
    status, said
        Exit status, and the last of what was written to the error stream.
    """

    wall_s: float
    processor_s: float
    peak_bytes: int
    memory: list[tuple[float, int]]
    status: int
    said: str


def run(command: Sequence[str]) -> Run:
    """Run ``python`` with arguments, from the project's folder, and measure it."""
    with tempfile.TemporaryFile() as log:
        started_s = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *command],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=log,
            env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])},
        )
        samples: list[tuple[float, int]] = []
        ended = threading.Event()
        watch = threading.Thread(target=_watch, args=(process.pid, started_s, samples, ended))
        watch.start()
        _, status, usage = os.wait4(process.pid, 0)
        wall_s = time.perf_counter() - started_s
        process.returncode = os.waitstatus_to_exitcode(status)
        ended.set()
        watch.join()
        log.seek(0)
        said = log.read().decode("utf-8", "replace")[-_SAID_CHARACTERS:]
    return Run(
        wall_s=wall_s,
        processor_s=usage.ru_utime + usage.ru_stime,
        peak_bytes=max((size for _, size in samples), default=0),
        memory=samples,
        status=process.returncode,
        said=said,
    )


def _watch(
    top: int, started_s: float, samples: list[tuple[float, int]], ended: threading.Event
) -> None:
    while not ended.wait(_SAMPLE_S):
        size = sum(map(_memory_bytes, _tree(top)))
        if size:
            samples.append((time.perf_counter() - started_s, size))


def _tree(top: int) -> list[int]:
    children: dict[int, list[int]] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            # The name in parentheses may hold spaces: the parent is the second field after it.
            parent = int(entry.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
        children.setdefault(parent, []).append(int(entry.parent.name))
    tree, ahead = [], [top]
    while ahead:
        process = ahead.pop()
        tree.append(process)
        ahead += children.get(process, [])
    return tree


def _memory_bytes(process: int) -> int:
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return sum(int(line.split()[1]) * _KIB for line in lines if line.startswith("Pss:"))
