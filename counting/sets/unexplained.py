"""Stretches of a film in which reps may be hidden.

Every second is part of a rep, of the rest between reps, or unexplained: the driving signal moved as
far as in a rep and no rep was made of it, or the body was not read for long enough to do one. Who
goes up to a bar before the first rep and away after the last moves so once: that explains itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from counting.reps.types import Rep
from counting.signals.types import Signals
from vision.track import FloatArray

Why = Literal["not read", "moved"]

_USUAL_REP_S: Final = 2.0
"""Time of a rep where none was found."""
_UNREAD_SHARE: Final = 0.6
"""Share of a usual rep's time that the body is not read from which one may be hidden."""
_SWING_SHARE: Final = 0.7
"""Share of a usual rep's travel from which a swing may be a rep."""
_MOST: Final = 2
"""Reps that may be hidden where something moved: on labelled films never more than one was."""


@dataclass(frozen=True, slots=True)
class Unexplained:
    """A stretch in which up to ``most`` reps may be hidden, and why."""

    start_s: float
    end_s: float
    most: int
    why: Why


def unexplained_stretches(
    signals: Signals, driver: FloatArray, reps: Sequence[Rep]
) -> tuple[Unexplained, ...]:
    """Find the stretches between and around the reps in which others may be hidden.

    Parameters
    ----------
    signals, driver
        What the segmentation saw; (M,) driving signal, NaN where the body was not read.
    reps
        The reps found, in film order.
    """
    time_s = signals.time_s
    if not len(time_s):
        return ()
    usual_s = float(np.median([rep.end_s - rep.start_s for rep in reps])) if reps else _USUAL_REP_S
    travel = _usual_travel(time_s, driver, reps)
    edges = [float(time_s[0]), *(t for rep in reps for t in (rep.start_s, rep.end_s))]
    edges.append(float(time_s[-1]))
    found: list[Unexplained] = []
    for gap, (start_s, end_s) in enumerate(zip(edges[::2], edges[1::2], strict=True)):
        explained = 1 if gap in (0, len(reps)) else 0
        inside = np.flatnonzero((time_s >= start_s) & (time_s <= end_s))
        unread = ~np.isfinite(driver[inside])
        for run in _runs(unread):
            first_s, last_s = float(time_s[inside[run[0]]]), float(time_s[inside[run[-1]]])
            lasts_s = last_s - first_s
            if lasts_s >= _UNREAD_SHARE * usual_s:
                most = max(1, round(lasts_s / usual_s))
                found.append(Unexplained(first_s, last_s, most, "not read"))
        if travel is not None:
            for run in _runs(~unread):
                rows = inside[run]
                swings = _swings(driver[rows], _SWING_SHARE * travel)
                if swings > explained:
                    first_s, last_s = float(time_s[rows[0]]), float(time_s[rows[-1]])
                    found.append(Unexplained(first_s, last_s, min(swings, _MOST), "moved"))
    return tuple(sorted(found, key=lambda stretch: stretch.start_s))


def _usual_travel(time_s: FloatArray, driver: FloatArray, reps: Sequence[Rep]) -> float | None:
    """Median travel of the driving signal in a rep; None where no rep shows it."""
    travels = []
    for rep in reps:
        inside = driver[(time_s >= rep.start_s) & (time_s <= rep.end_s)]
        inside = inside[np.isfinite(inside)]
        if len(inside):
            travels.append(float(np.ptp(inside)))
    return float(np.median(travels)) if travels else None


def _runs(mask: npt.NDArray[np.bool_]) -> list[npt.NDArray[np.int64]]:
    """List the indices of each run of True."""
    rows = np.flatnonzero(mask)
    return [run for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(run)]


def _swings(driver: FloatArray, least: float) -> int:
    """How often the signal goes so far one way and then the other."""
    turns, rising = 0, 0
    low = high = float(driver[0])
    for value in driver.tolist():
        low, high = min(low, value), max(high, value)
        if rising >= 0 and high - value >= least:
            turns, rising, low, high = turns + (rising == 1), -1, value, value
        elif rising <= 0 and value - low >= least:
            turns, rising, low, high = turns + (rising == -1), 1, value, value
    return turns
