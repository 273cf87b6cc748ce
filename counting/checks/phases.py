"""Which frames of a rep decide a check.

One frame is noisy and the highest of many is biased, so a check is read over the short stay at the
deciding posture: the bottom of a squat, the reach of the arms, the top of a pull. The stay is found
on a posture signal that is steadier than the quantity itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.skeleton import FloatArray
from counting.movements.types import Check
from counting.quantities.features import Features
from counting.quantities.scene import Scene, seen_height_cm
from counting.reps.types import Rep
from counting.signals.percentiles import percentile

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

START_REACH_S: Final = 0.2
REP_MARGIN_S: Final = 0.4
"""How far about a rep the body is fitted."""

_TURN_SHARE: Final = 0.15
"""Share of a rep about its turn that belongs to the turn (chosen, not measured)."""
_STAY_CM: Final = 1.5
"""A posture this close to the best is the same one: landmarks jitter by as much."""
_LOCKED_CM: Final = 0.7
"""How far the hips are below their highest when a leg reaches 165 deg: such a leg is that much
shorter than a straight one of 0.85 m (law of cosines). An arm of 0.55 m is shorter by 0.5 cm."""
_LOCKS: Final = frozenset({"knee angle", "hip angle", "elbow angle"})
_AT_THE_TOP: Final = frozenset(
    {"chin above bar", "chest to bar gap", "shoulders above bar", "feet clear of floor"}
)
_OVER_THE_BAR: Final = frozenset({"chin above bar", "chest to bar gap", "shoulders above bar"})
"""Quantities that change by as much as the posture they are found on."""

_HELD_S: Final = 0.25
_MOSTLY: Final = 75.0
"""Percentile of the posture from which it counts as at its top."""
_HELD_WITHIN_CM: Final = 3.0
"""A finish is held from the first moment on, no lower than this under the last quarter's level,
after which nothing is gained for a quarter of a second."""

_SEEN_SHARE: Final = 0.4
_LONGEST_GAP_S: Final = 0.15
"""Less of the phase seen, or a longer gap beside the best that was: the deciding posture may lie
where nothing was seen (chosen, not measured)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stay:
    """The deciding posture: its frames, and the time at which it is first reached.

    A finish may be reached, left a little and held again: the first moment counts, not the longest.
    Where the quantity rises and falls with the posture, ``way_s`` are the times from the turn up to
    the highest posture and ``way_cm`` how far below it the posture then was, (F,) each.
    """

    rows: IntArray
    reached_s: float
    way_s: FloatArray | None = None
    way_cm: FloatArray | None = None

    def passed_s(self, margin_cm: float) -> float:
        """When the limit was passed, for a finish that goes so far beyond it."""
        if self.way_s is None or self.way_cm is None:
            return self.reached_s
        return min(self.reached_s, float(self.way_s[int(np.argmax(self.way_cm <= margin_cm))]))


def rep_rows(time_s: FloatArray, reps: Sequence[Rep]) -> IntArray:
    """Rows of a track in and just around reps."""
    keep = np.zeros(len(time_s), bool)
    for rep in reps:
        first, last = rep.start_s - REP_MARGIN_S, rep.end_s + REP_MARGIN_S
        keep[np.searchsorted(time_s, first) : np.searchsorted(time_s, last, "right")] = True
    rows: IntArray = np.flatnonzero(keep)
    return rows


def phase_rows(time_s: FloatArray, rep: Rep, check: Check) -> IntArray:
    """Rows of the track that belong to the check's phase of the rep."""
    reach = max(_TURN_SHARE * (rep.end_s - rep.start_s), START_REACH_S)
    first, last = {
        "start": (rep.start_s - START_REACH_S, rep.start_s + START_REACH_S),
        "drive": (rep.start_s - START_REACH_S, rep.turn_s),
        "turn": (rep.turn_s - reach, rep.turn_s + reach),
        "finish": (rep.turn_s, rep.end_s),
    }[check.phase]
    edges = np.searchsorted(time_s, [first - 1e-6, last + 1e-6])
    return np.arange(edges[0], edges[1])


def find_stays(
    scene: Scene, reps: Sequence[Rep], check: Check, features: Features
) -> list[Stay | None]:
    """Find the frames that decide each rep; None where the athlete was not seen in that phase."""
    posture = _seen_posture(scene, check)
    if posture is None:
        posture = (1.0 if check.read == "highest" else -1.0) * features.values[:, 0]
    posture = np.where(np.isfinite(features.values).any(axis=1), posture, np.nan)
    return [_find_stay(scene.motion.time_s, rep, check, posture) for rep in reps]


def deciding_rows(scene: Scene, reps: Sequence[Rep], checks: Sequence[Check]) -> BoolArray:
    """(N,) rows from which any check is read, as the picture tells before the body is fitted.

    All rows where a check's deciding posture shows in the fitted body alone.
    """
    deciding = np.zeros(len(scene.motion.time_s), dtype=np.bool_)
    for check in checks:
        posture = _seen_posture(scene, check)
        if posture is None:
            return np.ones_like(deciding)
        posture = np.where(scene.motion.around, posture, np.nan)
        for rep in reps:
            stay = _find_stay(scene.motion.time_s, rep, check, posture)
            if stay is not None:
                deciding[stay.rows] = True
    return deciding


def _find_stay(time_s: FloatArray, rep: Rep, check: Check, posture: FloatArray) -> Stay | None:
    rows = phase_rows(time_s, rep, check)
    posture = posture[rows]
    known = np.isfinite(posture)
    if _hidden(time_s[rows], posture, known):
        return None
    rows, posture = rows[known], posture[known]
    posture = _median_of_three(posture)
    best = int(np.argmax(posture))
    near = posture >= posture[best] - _STAY_CM
    first = last = best
    while first > 0 and near[first - 1]:
        first -= 1
    while last < len(rows) - 1 and near[last + 1]:
        last += 1
    first, last = max(0, min(first, best - 1)), min(len(rows) - 1, max(last, best + 1))
    stay = rows[first : last + 1]
    if check.phase == "finish":
        within_cm = _LOCKED_CM if check.quantity in _LOCKS else _STAY_CM
        first = int(np.argmax(posture >= posture[best] - within_cm))
    if check.quantity in _LOCKS and check.phase != "start" and check.read == "highest":
        first = _first_held(time_s[rows[: first + 1]], posture, _LOCKED_CM)
    reached_s = float(time_s[rows[first]])
    if check.quantity in _OVER_THE_BAR:
        way = slice(0, best + 1)
        return Stay(stay, reached_s, time_s[rows[way]], posture[best] - posture[way])
    return Stay(stay, reached_s)


def _first_held(time_s: FloatArray, posture: FloatArray, within_cm: float) -> int:
    """First of some frames from which on the posture gains no more for a moment.

    A plate that passes later throws landmarks further than any lockout; the highest value alone
    would put a rep that stood long before that at its end. ``time_s`` (F,) are the frames up to
    which the finish is reached in any case, ``posture`` (N,) goes on beyond them.
    """
    enough = percentile(posture, _MOSTLY) - _HELD_WITHIN_CM
    after = np.searchsorted(time_s, time_s + _HELD_S, "right")
    for index in np.flatnonzero(posture[: len(time_s)] >= enough):
        if posture[index : after[index]].max() <= posture[index] + within_cm:
            return int(index)
    return len(time_s) - 1


def _median_of_three(values: FloatArray) -> FloatArray:
    """Median of each value and its neighbours; at the ends the value itself."""
    before, after = np.append(values[:1], values[:-1]), np.append(values[1:], values[-1:])
    low, high = np.minimum(before, after), np.maximum(before, after)
    return np.minimum(np.maximum(values, low), high)


def _hidden(time_s: FloatArray, posture: FloatArray, known: BoolArray) -> bool:
    """Whether the deciding posture may lie where the athlete was not seen.

    It may where much of the phase was not seen, or where the best posture that was seen borders
    on a gap.
    """
    if len(known) and known.all():
        return False
    if not len(known) or known.mean() < _SEEN_SHARE:
        return True
    seen = np.flatnonzero(known)
    best = seen[np.argmax(posture[seen])]
    for step in (-1, 1):
        other = best + step
        while 0 <= other < len(known) and not known[other]:
            other += step
        edge = min(max(other, 0), len(known) - 1)
        unseen = np.any(~known[min(best, edge) : max(best, edge) + 1])
        if unseen and abs(time_s[edge] - time_s[best]) > _LONGEST_GAP_S:
            return True
    return False


def _seen_posture(scene: Scene, check: Check) -> FloatArray | None:
    """Signal in centimetres that is largest in the deciding posture; None if the fit alone has it.

    Taken from the picture, where there is none of the body's jitter.
    """
    quantity = check.quantity
    hip = seen_height_cm(scene, "HIP")
    shoulder = seen_height_cm(scene, "SHOULDER")
    if quantity == "hip crease above knee top":
        return -hip
    if quantity in ("knee angle", "hip angle"):
        # a trunk that sits up is highest where it is upright, and folds on beyond
        if check.read == "lowest":
            return None
        return shoulder if check.phase == "turn" else hip
    if quantity == "elbow angle" and scene.base == "hanging" and check.phase == "start":
        # the hands keep their place: the arms are longest where the body is lowest
        knee, nose = seen_height_cm(scene, "KNEE"), seen_height_cm(scene, "NOSE")
        return -(nose + shoulder + hip + knee) / 4
    if quantity == "elbow angle":
        return np.abs(seen_height_cm(scene, "WRIST") - shoulder)
    if quantity in _AT_THE_TOP:
        return shoulder
    if quantity == "chest above floor":
        return -shoulder
    return None
