"""Processor time of other processes: what they would take on a machine of their own."""

import os
import resource
from pathlib import Path


def process_s(process: int) -> float:
    """Processor time of one process so far, until it is waited for."""
    after_name = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2]
    own, system = after_name.split()[11:13]
    return (int(own) + int(system)) / os.sysconf("SC_CLK_TCK")


def children_s() -> float:
    """Processor time of all processes started by this one and waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
