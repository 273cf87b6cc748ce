"""Measures of body and hands that phases are described by, in statures."""

from collections.abc import Callable
from typing import Final

import numpy as np

from counting.movements.types import Measure
from counting.signals.percentiles import percentile
from counting.signals.types import Signals
from vision.track import FloatArray

_ON_THE_FLOOR: Final = 15.0
"""Percentile of the feet's heights that stands for the floor, also where half the time is spent on
a box; they are lower now and then where a landmark slips."""


def _floor(signals: Signals) -> float:
    known = signals.ankle[np.isfinite(signals.ankle)]
    return percentile(known, _ON_THE_FLOOR) if known.size else 0.0


MEASURES: Final[dict[Measure, Callable[[Signals], FloatArray]]] = {
    "hips above feet": lambda s: s.hip - s.ankle,
    "hips above hands": lambda s: s.hip - s.wrist,
    "shoulders above hips": lambda s: s.shoulder - s.hip,
    "shoulders above feet": lambda s: s.shoulder - s.ankle,
    "shoulders above hands": lambda s: s.shoulder - s.wrist,
    "head above hands": lambda s: s.head - s.wrist,
    "hands above shoulders": lambda s: s.wrist - s.shoulder,
    "hands above hips": lambda s: s.wrist - s.hip,
    "hands above feet": lambda s: s.wrist - s.ankle,
    "higher hand above shoulders": lambda s: s.wrist_higher - s.shoulder,
    "higher hand above hips": lambda s: s.wrist_higher - s.hip,
    "higher hand above feet": lambda s: s.wrist_higher - s.ankle,
    "feet above hips": lambda s: s.ankle - s.hip,
    "feet above hands": lambda s: s.ankle - s.wrist,
    "knees above hips": lambda s: s.knee - s.hip,
    "knees above elbows": lambda s: s.knee - s.elbow,
    "lower knee above feet": lambda s: s.knee_lower - s.ankle,
    "hips above floor": lambda s: s.hip - _floor(s),
    "shoulders above floor": lambda s: s.shoulder - _floor(s),
    "feet above floor": lambda s: s.ankle - _floor(s),
}
"""(M,) each, from the signals of an athlete."""
