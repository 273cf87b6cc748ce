"""What athletes do when nothing is amiss, and what they do else, by labelled films."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.table import SAME_LIMIT, Calibration
from counting.lab.samples import Sample
from counting.movements.types import Check

_SUSPICION = 0.12
_TOUCH_SPREAD_CM = 0.4
_TYPICAL_FLOOR: Final = {"deg": 1.2, "cm": 1.5}
_SPREAD_FLOOR: Final = {"deg": 0.6, "cm": 0.9}
MISS_STEP: Final = {"deg": 6.0, "cm": 2.5}
"""Distance from an athlete's usual value beyond which a rep is something else."""


def with_habits(calibration: Calibration, samples: Sequence[Sample]) -> Calibration:
    """Describe what athletes do: their usual value, its spread, and what misses look like."""
    check = samples[0].check
    sign = 1.0 if check.relation == "at least" else -1.0
    usual = np.array([float(np.median(s.rep_truth)) for s in samples])
    usual_ok = usual[sign * (usual - check.limit) > 0]
    offsets = np.concatenate([s.rep_truth - np.median(s.rep_truth) for s in samples])
    values = np.concatenate([s.rep_truth for s in samples])
    missed = sign * offsets < -MISS_STEP[check.unit]
    regular = offsets[~missed]
    kind = "stopped" if check.unit == "deg" or check.quantity in _STOPPED else "free"
    met = sign * (values - check.limit) >= 0
    typical = float(np.mean(usual_ok)) if len(usual_ok) else float(np.mean(usual))
    return replace(
        calibration,
        typical=typical,
        typical_spread=max(_deviation(usual_ok) * 1.2, _typical_floor(check)),
        rep_spread=max(_deviation(regular), _spread_floor(check)),
        miss_share=float(max((missed.sum() + 3) / (len(values) + 20), _SUSPICION)),
        misses=tuple(
            (share, check.limit - sign * short, spread)
            for share, short, spread in _SHORT[kind, check.unit]
        ),
        met_share=float((met.sum() + 2) / (len(met) + 3)),
        relation=check.relation,
        limit=_common_limit(samples),
    )


def _deviation(values: FloatArray) -> float:
    return float(np.std(values)) if len(values) else 0.0


def _common_limit(samples: Sequence[Sample]) -> float | None:
    limits = [s.check.limit for s in samples]
    alike = max(limits) - min(limits) < SAME_LIMIT[samples[0].check.unit]
    return float(np.mean(limits)) if alike else None


_STOPPED: Final = frozenset({"chest to bar gap", "chest above floor"})
_SHORT: Final = {
    ("stopped", "deg"): ((0.5, 14.0, 5.0), (0.3, 24.0, 6.0), (0.2, 40.0, 11.0)),
    ("stopped", "cm"): ((0.5, 5.0, 2.0), (0.3, 9.0, 2.5), (0.2, 16.0, 5.0)),
    ("free", "cm"): ((0.4, 1.5, 3.0), (0.35, 7.0, 3.0), (0.25, 15.0, 5.0)),
}
"""By how much those fall short who fall short: anything, little being likelier than much.

Share, shortfall and its standard deviation of each part. Where a good rep ends at a stop (a
straight joint, the bar, the floor) who stops short has missed: about one in a hundred of them may
meet the limit all the same. Elsewhere a rep unlike the others may still be a good one.
"""


def _typical_floor(check: Check) -> float:
    """Least spread granted to athletes' habits; a touch is a touch with everyone."""
    return _TOUCH_SPREAD_CM if _is_touch(check) else _TYPICAL_FLOOR[check.unit]


def _spread_floor(check: Check) -> float:
    """Least spread granted from rep to rep of one athlete."""
    return _TOUCH_SPREAD_CM if _is_touch(check) else _SPREAD_FLOOR[check.unit]


def _is_touch(check: Check) -> bool:
    return check.quantity == "chest to bar gap"
