"""Cutting the driving signal into repetitions.

A repetition is a swing of the movement's driver that leaves the start position and comes back to
it. How large a swing is and where the start position lies are learned from the film itself: the
sizes of all swings give the usual one, the levels at which they halt give the start position.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from counting.movements.types import Movement
from counting.reps.candidates import AWAY, LONGEST_CYCLE_S, jitter, swings, typical, without_gaps
from counting.reps.evidence import (
    LEAST_STEP,
    WALKED,
    around,
    driver_of,
    from_the_knees,
    got_down_or_up,
    hands_fit,
    hands_stay_up,
    hips_moved,
    steps_taken,
    takes_off,
    timing_of,
    trunk_upright,
)
from counting.reps.second_swing import with_second_swing
from counting.reps.strokes import onset_s, stroke_to_halt
from counting.reps.types import Cycle
from counting.signals.types import Signals
from vision.track import FloatArray, IntArray

_START_TOLERANCE: Final = 0.35
"""How far from the start position, in usual swings, a halt still belongs to a repetition: lockouts
fall short."""

_OVER_JITTER: Final = 6.0
"""A swing has to be so many times as large as the signal's jitter."""

_AWAY_OF_OWN: Final = 0.6
"""A halt nearer to the turn than this share of its own swing is a sticking point."""

_AWAY_AT_FIRST: Final = (0.5, 0.25)
"""The same before the usual swing is known."""

_AS_IT_SEEMED: Final = 0.5
"""A cycle cut to less than this share of its swing is part of something larger."""

_ALONE: Final = 1.3
"""A swing this many times the usual one may be a single repetition beside something larger."""

_RESTLESS: Final = 3.2
"""A cycle so much slower than usual, times so much more movement of the feet, holds a rest."""

_SHORTEST_SQUAT_S: Final = 0.5
"""A step of a run is over in less; with a weight in hand nobody runs."""

_JITTERING_FEET: Final = 2.0
"""Feet that move this many times as far as in the usual cycle have stepped."""

_HASTY: Final = 0.17
"""Size times duration, in usual ones: much smaller and much quicker at once is a shuffle, a new
grip or a slip of the tracker, no attempt."""

_LONGEST_OF_RHYTHM: Final = 3.5
"""A lift that lasts so many usual durations holds a rest even if the feet stay."""

_WOBBLE: Final = 0.5
_WOBBLY_OF_USUAL: Final = 1.3
_FULL: Final = 0.75
"""A dip up to this share of the usual swing parts no two repetitions that together last up to this
share of the usual time, and are at least so large: it is jitter at the turn."""

_HALF_REP_PAUSE_S: Final = 0.5
"""A repetition cut short of the start position runs on into the next one within this time."""


def cycles_of(signals: Signals, movement: Movement) -> list[Cycle]:
    """Find all repetitions, in film order.

    Parameters
    ----------
    signals
        Of the athlete.
    movement
        What is being done.
    """
    cycle = movement.swing
    sign = 1.0 if cycle.turn == "high" else -1.0
    driver = without_gaps(sign * driver_of(signals, cycle.driver))
    if driver.size < 3:
        return []
    timing = without_gaps(sign * timing_of(signals, movement))
    smallest = max(cycle.smallest_swing, _OVER_JITTER * jitter(driver, signals.rate_hz))
    kept = _of_usual_size(signals, movement, driver, smallest)
    if not kept:
        return []
    usual = typical(np.array([found.size for found in kept]))
    levels = [driver[index] for found in kept for index in (found.start, found.end)]
    start_position = float(np.median(levels))
    turns = np.array([f.turn for f in kept])
    away = np.array([min(AWAY * usual, _AWAY_OF_OWN * f.size) for f in kept])
    spans = _cut(signals, driver, turns, away, (start_position, _START_TOLERANCE * usual))
    found = [
        _timed(signals, timing, f)
        for f in spans
        if f.size >= max(cycle.smallest_share * usual, smallest)
    ]
    if not found:
        return []
    found = _without_wobbles(driver, found, usual)
    if cycle.then is not None:
        found = with_second_swing(signals, movement, driver, found)
    return _without_rests(signals, movement, found, (start_position, _START_TOLERANCE * usual))


def _of_usual_size(
    signals: Signals, movement: Movement, driver: FloatArray, smallest: float
) -> list["Span"]:
    """Cycles that fit the movement and are no smaller than its share of the usual one.

    Getting down on the floor is several times as large as a push-up, and so seems the first
    push-up after it. What is usual is known once some cycles are cut out: then it is looked again.
    """
    turns, sizes = swings(driver, signals.rate_hz, smallest)
    unfit = np.zeros(len(turns), dtype=np.bool_)
    usual = typical(sizes)
    while True:
        enough = sizes >= movement.swing.smallest_share * usual
        kept = _first_look(signals, movement, driver, turns[enough], sizes[enough])
        # What does not fit is looked at again beside smaller turns: the lowest push-up seems to
        # reach from standing to standing until its neighbours are turns, too.
        unfit |= enough & ~np.isin(turns, [span.turn for span in kept])
        cut = _as_cut(turns[enough], sizes[enough], kept)
        usual = min(usual, typical(cut if len(cut) else sizes[~unfit]))
        again = sizes >= movement.swing.smallest_share * usual
        if (again == enough).all():
            return kept


def _as_cut(turns: IntArray, sizes: FloatArray, kept: Sequence["Span"]) -> FloatArray:
    """Sizes of the swings of cycles that fit; as cut, where that is far less than it seemed."""
    cut = {span.turn: span.size for span in kept}
    seemed = zip(turns.tolist(), sizes.tolist(), strict=True)
    return np.array(
        [
            size if cut[turn] >= _AS_IT_SEEMED * size else cut[turn]
            for turn, size in seemed
            if turn in cut
        ]
    )


def _first_look(
    signals: Signals,
    movement: Movement,
    driver: FloatArray,
    turns: IntArray,
    sizes: FloatArray,
) -> list["Span"]:
    """Cycles that fit the movement, before anything is known of the start position.

    A single repetition seems as large as the drop off the bar or the pick-up beside it. What does
    not fit, though larger than usual, is given a second look with its start position nearer.
    """
    far, near = _AWAY_AT_FIRST
    first = _cut(signals, driver, turns, far * sizes, None)
    kept = {span.turn: span for span in _fitting(signals, movement, first)}
    usual = typical(np.array([span.size for span in kept.values()]))
    nearer = np.minimum(near * sizes, AWAY * usual) if usual else near * sizes
    # An infinite distance leaves a turn out.
    least = np.where(sizes > _ALONE * usual, nearer, np.inf)
    for span in _fitting(signals, movement, _cut(signals, driver, turns, least, None)):
        kept.setdefault(span.turn, span)
    return [kept[turn] for turn in sorted(kept)]


def _cut(
    signals: Signals,
    driver: FloatArray,
    turns: IntArray,
    least: FloatArray,
    start_position: tuple[float, float] | None,
) -> list["Span"]:
    """Follow both strokes of every turn to the halt, each up to the neighbouring turn at most.

    ``least`` is how far from each turn a halt has to be; turns with an infinite one are left out.
    """
    rate_hz = signals.rate_hz
    reach = int(LONGEST_CYCLE_S * rate_hz)
    edges = [0, *(int(turn) for turn in turns), driver.size - 1]
    found = []
    for before, turn, after, away in zip(edges, edges[1:], edges[2:], least, strict=False):
        if math.isinf(away):
            continue
        back = driver[max(before, turn - reach) : turn + 1][::-1]
        on = driver[turn : min(after, turn + reach) + 1]
        leave = stroke_to_halt(back, rate_hz, float(away), start_position)
        come = stroke_to_halt(on, rate_hz, float(away), start_position)
        size = float(driver[turn] - max(leave.halt_level, come.halt_level))
        found.append(Span(turn, turn - leave.halt_index, turn + come.halt_index, size))
    return found


class Span(NamedTuple):
    """A cycle whose ends have not been timed yet: its samples, and how far the driver swings."""

    turn: int
    start: int
    end: int
    size: float


def _timed(signals: Signals, timing: FloatArray, span: Span) -> Cycle:
    """Read the ends of both strokes from the steadier signal."""
    rate_hz, turn_s = signals.rate_hz, float(signals.time_s[span.turn])
    leave_s = onset_s(timing[span.turn] - timing[span.start : span.turn + 1][::-1], rate_hz)
    come_s = onset_s(timing[span.turn] - timing[span.turn : span.end + 1], rate_hz)
    return Cycle(
        turn=span.turn,
        start=span.start,
        end=span.end,
        start_s=max(turn_s - leave_s, float(signals.time_s[0])),
        turn_s=turn_s,
        end_s=min(turn_s + come_s, float(signals.time_s[-1])),
        size=span.size,
    )


def _fitting(signals: Signals, movement: Movement, found: list[Span]) -> list[Span]:
    kept = [f for f in found if hands_fit(signals, movement, f.start, f.turn, f.end)]
    if movement.base == "floor":
        kept = [f for f in kept if not got_down_or_up(signals, f.start, f.end)]
    if movement.apparatus == "none" and movement.swing.driver == "hip height":
        shortest = _SHORTEST_SQUAT_S * signals.rate_hz
        kept = [
            f
            for f in kept
            if f.end - f.start >= shortest
            and from_the_knees(signals, f.start, f.turn, f.end)
            and not takes_off(signals, f.start, f.turn, f.end)
        ]
    if movement.swing.hands == "at the shoulders":
        kept = [
            f
            for f in kept
            if hands_stay_up(signals, f.start, f.turn, f.end) or trunk_upright(signals, f.turn)
        ]
    return kept


def _without_wobbles(driver: FloatArray, found: list[Cycle], usual: float) -> list[Cycle]:
    """Join two cycles that are one with jitter at its turn: no longer than one and full."""
    usual_s = float(np.median([f.end_s - f.start_s for f in found]))
    joined = found[:1]
    for f in found[1:]:
        last = joined[-1]
        turn = max(last.turn, f.turn, key=lambda index: float(driver[index]))
        both = replace(
            last,
            turn=turn,
            turn_s=last.turn_s if turn == last.turn else f.turn_s,
            end=f.end,
            end_s=f.end_s,
            size=float(driver[turn] - max(driver[last.start], driver[f.end])),
        )
        dip = float(driver[turn] - driver[last.turn : f.turn + 1].min())
        meets = f.start_s - last.end_s < _HALF_REP_PAUSE_S
        short = both.end_s - both.start_s < _WOBBLY_OF_USUAL * usual_s
        if meets and short and dip < _WOBBLE * usual and both.size > _FULL * usual:
            joined[-1] = both
        else:
            joined.append(f)
    return joined


def _without_rests(
    signals: Signals, movement: Movement, found: list[Cycle], start_position: tuple[float, float]
) -> list[Cycle]:
    """Drop cycles that hold a rest: one end is not in the start position, or the feet walked."""
    driver = driver_of(signals, movement.swing.driver)
    if movement.swing.turn == "low":
        driver = -driver
    usual_s = float(np.median([f.end_s - f.start_s for f in found]))
    grounded = movement.base == "standing" and movement.swing.feet == "planted"
    lifts = grounded and movement.swing.turn == "high"
    steps = [_steps_at_the_top(signals, driver, f) for f in found]
    usual_steps = max(float(np.median(steps)), LEAST_STEP)

    def at_start(index: int) -> bool:
        off = around(driver, index, signals.rate_hz) - start_position[0]
        # Nobody on their feet is taller than tall: it is a body misread behind a plate.
        if grounded and movement.swing.turn == "low" and off < 0:
            return True
        return not abs(off) > start_position[1]

    usual_size = typical(np.array([f.size for f in found]))
    kept = []
    for k, f in enumerate(found):
        hasty = f.size / usual_size * (f.end_s - f.start_s) / usual_s < _HASTY
        if hasty and not f.pressed:
            continue
        joined_left = k > 0 and f.start_s - found[k - 1].end_s < _HALF_REP_PAUSE_S
        joined_right = k + 1 < len(found) and found[k + 1].start_s - f.end_s < _HALF_REP_PAUSE_S
        # Nobody presses a bar overhead on the way to put it down, wherever the hips are read.
        back = at_start(f.end) or joined_right or f.pressed
        if not (at_start(f.start) or joined_left) or not back:
            continue
        slowness = (f.end_s - f.start_s) / usual_s
        stepped = steps[k] > max(WALKED, _JITTERING_FEET * usual_steps)
        if lifts and (stepped or slowness * steps[k] > _RESTLESS * usual_steps):
            continue
        if lifts and slowness > _LONGEST_OF_RHYTHM:
            continue
        kept.append(f)
    return kept


def _steps_at_the_top(signals: Signals, driver: FloatArray, cycle: Cycle) -> float:
    """How far feet and hips both moved while the athlete stood tall.

    Bent over a bar the feet are hidden; behind a plate they jitter, but the hips do not.
    """
    level = driver[cycle.turn] - cycle.size / 2
    tall = np.flatnonzero(driver[cycle.start : cycle.end + 1] >= level) + cycle.start
    if not tall.size:
        return 0.0
    return min(moved(signals, int(tall[0]), int(tall[-1])) for moved in (steps_taken, hips_moved))
