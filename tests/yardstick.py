"""How slow this machine is just now, so that limits in seconds hold on busy and old ones, too."""

import time
from statistics import median

import numpy as np

REFERENCE_S = 0.18
"""What the piece of work takes on two idle 2.5 GHz cores: measured 0.14 to 0.26, as their clock
wanders."""


def slowness() -> float:
    """How many times longer work takes now than on the machine of the limits; at least 1.

    The work is like ours: many operations on small arrays with Python around them. What else
    runs on a machine shows in processor time as well (shared caches, two threads on a core).
    """
    return max(1.0, median(_worked_s() for _ in range(5)) / REFERENCE_S)


def _worked_s() -> float:
    begun_s = time.process_time()
    values = np.linspace(0.1, 1.0, 400)
    kept: dict[int, float] = {}
    for step in range(12_000):
        values = np.sqrt(values * 0.9 + 0.1) * np.exp(-0.001 * values)
        kept[step % 64] = float(values[step % 400]) + kept.get((step + 1) % 64, 0.0) * 0.5
        values = np.where(values > 1.0, 1.0 / values, values)
    return time.process_time() - begun_s
