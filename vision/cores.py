"""How many processes or threads this machine takes."""

import os


def core_count() -> int:
    """Count the cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
