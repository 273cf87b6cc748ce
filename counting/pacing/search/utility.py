"""The utility of an outcome, in the order in which events rank: score first, then the tie-break."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.course import Course
from counting.pacing.search.forecast import Forecast

FIELD_SPREAD: Final = 0.08
"""Spread (log scale) of the tie-break times of athletes with one score: what a second is worth in
places among them (common practice, no source)."""


@dataclass(frozen=True)
class Target:
    """What the attempt is for: ``reps`` by the cap, or all work within ``time_s``."""

    reps: int | None = None
    time_s: float | None = None

    def reached(self, played: Forecast) -> FloatArray:
        """Which plays reach the target, as 0 and 1."""
        within_s = self.time_s if self.time_s is not None else played.cap_s
        if self.reps is not None:
            return np.asarray(played.reps >= self.reps, dtype=np.float64)
        return np.asarray(played.rep_s[:, -1] <= within_s, dtype=np.float64)


@dataclass(frozen=True)
class Scale:
    """What seconds are worth in a workout, taken from plays of some first plan.

    ``finish_s`` is a usual finishing time, ``tie_break_s`` a usual tie-break, ``reps`` the reps
    usually done.
    """

    finish_s: float
    tie_break_s: float
    reps: float


def scale_of(course: Course, played: Forecast) -> Scale:
    """Take a scale from the plays of a sensible plan."""
    finish_s = np.minimum(played.rep_s[:, -1], course.cap_s)
    tie_break_s = finish_s
    if course.tie_break_rep is not None:
        tie_break_s = np.minimum(played.clock_at(course.tie_break_rep), course.cap_s)
    return Scale(
        float(np.median(finish_s)), float(np.median(tie_break_s)), float(np.mean(played.reps))
    )


def utility(course: Course, played: Forecast, scale: Scale) -> FloatArray:
    """Give the utility of each play in reps, ``(n,)``; a better rank has the larger utility.

    Whole reps come first. Among equal reps the tie-break adds a part of one rep: the share of
    athletes with this score whose tie-break is later. Where all work is done, the time saved counts
    as the reps that it would have been good for.
    """
    value = played.reps.copy()
    if course.tie_break_rep is not None:
        clock_s = played.clock_at(course.tie_break_rep)
        ahead = (np.log(scale.tie_break_s) - np.log(np.maximum(clock_s, 1e-9))) / FIELD_SPREAD
        value += 0.999 * ndtr(ahead)
    if course.finishing:
        end_s = played.rep_s[:, -1]
        saved = (course.cap_s - end_s) * course.reps / scale.finish_s
        value = np.where(np.isfinite(end_s), course.reps + 1.0 + np.maximum(saved, 0.0), value)
    return value
