"""Measures of body and hands that phases are described by, in statures."""

from collections.abc import Callable
from typing import Final

import numpy as np

from counting.movements.types import Measure
from counting.reps.evidence import bar_height
from counting.signals.percentiles import percentile
from counting.signals.types import Signals
from vision.track import FloatArray

_ON_THE_FLOOR: Final = 15.0
"""Percentile of the feet's heights that stands for the floor, also where half the time is spent on
a box; they are lower now and then where a landmark slips."""


def floor_of(signals: Signals) -> float:
    """Height of the floor: of the feet when they are low; 0 where they were never seen."""
    known = signals.ankle[np.isfinite(signals.ankle)]
    return percentile(known, _ON_THE_FLOOR) if known.size else 0.0


_LEVEL_S: Final = 2.0
"""Seconds whose usual height is the level: some hops, and less than a walk takes."""


def _above_level(signals: Signals) -> FloatArray:
    """(M,) height of hips, shoulders and head together over what is usual around then."""
    from scipy.ndimage import median_filter  # slow to load, and few movements need it

    body: FloatArray = np.mean([signals.hip, signals.shoulder, signals.head], axis=0)
    known = np.flatnonzero(np.isfinite(body))
    if not known.size:
        return body
    bridged = np.interp(np.arange(body.size), known, body[known])
    level = median_filter(bridged, round(_LEVEL_S * signals.rate_hz) | 1, mode="nearest")
    above: FloatArray = body - level
    return above


JITTER: Final[dict[Measure, float]] = {"body above its level": 0.006}
"""Statures over which a measure's border is blurred, where it is steadier than a single joint."""

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
    "hands above hang": lambda s: s.wrist - bar_height(s),
    "higher hand above lower hand": lambda s: np.abs(s.wrist_lead),
    "hands apart": lambda s: s.wrist_spread,
    "feet above hips": lambda s: s.ankle - s.hip,
    "feet above hands": lambda s: s.ankle - s.wrist,
    "higher foot above lower foot": lambda s: s.ankle_gap,
    "feet apart": lambda s: s.ankle_spread,
    "knees above hips": lambda s: s.knee - s.hip,
    "knees above elbows": lambda s: s.knee - s.elbow,
    "lower knee above feet": lambda s: s.knee_lower - s.ankle,
    "hips above floor": lambda s: s.hip - floor_of(s),
    "shoulders above floor": lambda s: s.shoulder - floor_of(s),
    "body above its level": _above_level,
    "feet above floor": lambda s: s.ankle - floor_of(s),
}
"""(M,) each, from the signals of an athlete."""
