"""Which repetitions belong to one set.

A set ends when the athlete lets go: hands leave the pull-up bar, the barbell goes down, the body
leaves the plank. With nothing to let go of, and where the hands were not seen, it ends when the
gap is longer than this athlete's own rhythm explains. Where several movements were done, their sets
are put into one numbering.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.movements.types import Movement
from counting.record.types import BreakKind
from counting.reps.evidence import HALF_ARM, SEEN, around, steps_taken
from counting.reps.measures import MEASURES
from counting.reps.types import Cycle, Rep
from counting.sets.types import Break, Pause, RepSet
from counting.signals.resampling import stretches
from counting.signals.types import Signals
from vision.track import BoolArray, FloatArray

_LET_GO_S: Final = 0.25
"""Shorter than this, hands off the bar are a blink of the tracker or a new grip."""

_SURELY_OFF_S: Final = 1.5
"""So long no tracker loses both hands of a hanging body."""

_LONGEST_STILL_S: Final = 1.2
_LONGEST_OF_USUAL: Final = 3.0
_LONGEST_OF_CYCLE: Final = 0.25
"""A wait is a break where it is longer than all of these: seconds; usual waits, but no more than
twice those seconds; cycles (chosen, not measured)."""
_LONGEST_UNSEEN_CYCLES: Final = 1.0
"""Cycles that may have been done unseen, beyond which a gap is no wait (chosen, not measured)."""
_WALKED_OFF: Final = 0.06
"""Statures that the feet move when somebody walks off: more than a stance is widened by (chosen,
not measured)."""
_DROPPED: Final = 0.1
"""Off the bar the shoulders are lower than in the hang by at least this share of stature."""

_LEFT_START: Final = 0.6
"""Of a cycle's size: a driver so far above the start position has left it."""
_START_SLACK: Final = 0.05
"""Statures beyond the start position's ranges that are still in them: what landmarks jitter by
twice."""
_MOSTLY_AT_START: Final = 0.9
"""Share of a gap for which a bar in the hands is where the start position has it."""


@dataclass(frozen=True, slots=True)
class Grouped:
    """Sets, breaks and pauses of one film, each in film order."""

    sets: tuple[RepSet, ...]
    breaks: tuple[Break, ...]
    pauses: tuple[Pause, ...]


def group(
    signals: Signals,
    movement: Movement,
    driver: FloatArray,
    cycles: list[Cycle],
    reps: tuple[Rep, ...],
) -> Grouped:
    """Group repetitions into sets.

    Parameters
    ----------
    signals, movement
        What was seen, and what was done.
    driver
        (M,) the signal that the cycles swing in.
    cycles, reps
        The repetitions, in film order: on the signals' grid and as reported.
    """
    if not reps:
        return Grouped((), (), ())
    rhythm = _rhythm(reps)
    released = [_let_go(signals, movement, driver, pair, rhythm) for pair in pairwise(cycles)]
    firsts = [0, *(k + 1 for k, gone in enumerate(released) if gone)]
    lasts = [*(k for k, gone in enumerate(released) if gone), len(reps) - 1]
    sets = tuple(
        RepSet(n, movement.name, first + 1, last + 1, reps[first].start_s, reps[last].end_s)
        for n, (first, last) in enumerate(zip(firsts, lasts, strict=True), start=1)
    )
    breaks = tuple(
        Break(n, reps[k].end_s, reps[k + 1].start_s, _kind(signals, movement, cycles[k : k + 2]))
        for n, k in enumerate((k for k, gone in enumerate(released) if gone), start=1)
    )
    pauses = tuple(
        Pause(k + 1, reps[k].end_s, reps[k + 1].start_s, _where(movement))
        for k, gone in enumerate(released)
        if not gone and reps[k + 1].start_s - reps[k].end_s > rhythm.longest_still_s
    )
    return Grouped(sets, breaks, pauses)


@dataclass(frozen=True, slots=True)
class _Rhythm:
    """The athlete's own: seconds of a usual cycle, and the longest gap that it explains."""

    cycle_s: float
    longest_still_s: float


def _rhythm(reps: tuple[Rep, ...]) -> _Rhythm:
    cycle_s = float(np.median([rep.end_s - rep.start_s for rep in reps]))
    gaps = [b.start_s - a.end_s for a, b in pairwise(reps)]
    usual_s = float(np.median(gaps)) if gaps else 0.0
    longest_s = max(
        _LONGEST_STILL_S,
        min(_LONGEST_OF_USUAL * usual_s, 2 * _LONGEST_STILL_S),
        _LONGEST_OF_CYCLE * cycle_s,
    )
    return _Rhythm(cycle_s, longest_s)


def _let_go(
    signals: Signals,
    movement: Movement,
    driver: FloatArray,
    pair: tuple[Cycle, Cycle],
    rhythm: _Rhythm,
) -> bool:
    before, after = pair
    first, last = before.end, max(after.start, before.end)
    gap = slice(first, last + 1)
    gap_s = after.start_s - before.end_s
    by_rhythm = movement.apparatus == "none" and movement.base == "standing"
    if by_rhythm or (movement.phases and movement.base != "hanging"):
        bar = movement.apparatus == "barbell"
        waits = bar and not after.anew and _at_start(signals, movement, gap)
        return gap_s > rhythm.longest_still_s and not waits
    unseen_too_long = gap_s > _LONGEST_UNSEEN_CYCLES * rhythm.cycle_s + rhythm.longest_still_s
    if _lasts(signals, _off(signals, movement, driver, pair, gap)):
        return True
    if movement.hands == "low" or movement.base == "floor":
        return unseen_too_long and steps_taken(signals, first, last) > _WALKED_OFF
    if movement.base == "hanging":
        hands_off = _true(signals.wrist[gap] < signals.shoulder[gap])
        if _lasts(signals, hands_off, _SURELY_OFF_S):
            return True
    seen = np.mean(signals.wrist_seen[gap] > SEEN) > 0.5 if last > first else True
    return unseen_too_long and not seen


def _at_start(signals: Signals, movement: Movement, gap: slice) -> bool:
    """Whether the start position of a movement of phases was kept through a gap."""
    kept = []
    for measure, span in movement.phases[0].where.items():
        values = MEASURES[measure](signals)[gap]
        values = values[np.isfinite(values)]
        if span.above is not None:
            kept.append(values > span.above - _START_SLACK)
        if span.below is not None:
            kept.append(values < span.below + _START_SLACK)
    return all(part.size and part.mean() >= _MOSTLY_AT_START for part in kept)


def _off(
    signals: Signals,
    movement: Movement,
    driver: FloatArray,
    pair: tuple[Cycle, Cycle],
    gap: slice,
) -> BoolArray:
    """Where in a gap the hands, or the body that rests on them, are clearly off."""
    before, after = pair
    above = signals.wrist[gap] - signals.shoulder[gap]
    ends = [around(driver, index, signals.rate_hz) for index in (before.end, after.start)]
    known = [level for level in ends if np.isfinite(level)]
    start_position = float(np.mean(known)) if known else float("nan")
    if movement.base == "hanging":
        return _true((above < 0) & (driver[gap] < start_position - _DROPPED))
    if movement.base == "floor" or movement.hands == "low":
        return _true(driver[gap] > start_position + _LEFT_START * max(before.size, after.size))
    return _true(above < -HALF_ARM)


def _true(condition: BoolArray | FloatArray) -> BoolArray:
    return np.asarray(condition, bool)


def _lasts(signals: Signals, off: BoolArray, least_s: float = _LET_GO_S) -> bool:
    longest = max((end - first for first, end in stretches(off)), default=0)
    return longest / signals.rate_hz >= least_s


def _kind(signals: Signals, movement: Movement, around_break: list[Cycle]) -> BreakKind:
    before, after = around_break
    if steps_taken(signals, before.end, after.start) > _WALKED_OFF:
        return "walked off"
    if movement.apparatus == "barbell":
        return "bar down"
    return "at the bar" if movement.apparatus == "pull-up bar" else "standing"


def _where(movement: Movement) -> str:
    if movement.phases:
        return f"in the start position ({movement.phases[0].name})"
    if movement.base == "hanging":
        return "in the hang"
    if movement.base == "floor":
        return "in the plank"
    if movement.hands == "low":
        return "at the floor, hands on the bar"
    if movement.hands == "overhead":
        return "bar overhead"
    return "in the rack" if movement.apparatus == "barbell" else "standing"


@dataclass(frozen=True, slots=True)
class PlacedRep:
    """A rep under its number in the whole film, with where it came from.

    Attributes
    ----------
    rep
        Numbered over the whole film.
    own_number
        Its number within its movement's own timeline.
    run
        Stretch of the script it was done in; reps of different runs never share a set.
    """

    rep: Rep
    own_number: int
    run: int | None


def merged(placed: Sequence[PlacedRep], by_movement: Mapping[str, Grouped]) -> Grouped:
    """Renumber the sets of each movement's timeline into one film.

    A rep that its timeline listed and ``placed`` leaves out is left out of its set; a set whose
    reps lie in different runs is cut there. Going from one run to the next is a transition and
    no break.

    Parameters
    ----------
    placed
        All reps, in film order.
    by_movement
        Each movement's own sets, breaks and pauses.
    """
    set_of = {
        (name, number): own.number
        for name, grouped in by_movement.items()
        for own in grouped.sets
        for number in range(own.first_rep, own.last_rep + 1)
    }
    sets: list[RepSet] = []
    origins: list[tuple[str, int, int | None]] = []
    for item in placed:
        rep = item.rep
        origin = (rep.movement, set_of[rep.movement, item.own_number], item.run)
        if origins and origins[-1] == origin:
            sets[-1] = replace(sets[-1], last_rep=rep.number, end_s=rep.end_s)
            continue
        number = len(sets) + 1
        sets.append(RepSet(number, rep.movement, rep.number, rep.number, rep.start_s, rep.end_s))
        origins.append(origin)
    kinds = {
        (name, gap.after_set): gap.kind for name, own in by_movement.items() for gap in own.breaks
    }
    breaks = tuple(
        Break(before.number, before.end_s, after.start_s, kinds[name, own_set])
        for (before, after), ((name, own_set, run), (_, _, next_run)) in zip(
            pairwise(sets), pairwise(origins), strict=True
        )
        if before.movement == after.movement and run == next_run and (name, own_set) in kinds
    )
    number_of = {(item.rep.movement, item.own_number): item.rep.number for item in placed}
    pauses = tuple(
        sorted(
            (
                Pause(number_of[name, wait.after_rep], wait.start_s, wait.end_s, wait.where)
                for name, own in by_movement.items()
                for wait in own.pauses
                if (name, wait.after_rep) in number_of
            ),
            key=lambda wait: wait.start_s,
        )
    )
    return Grouped(tuple(sets), breaks, pauses)
