"""The most likely sequence of phases in a film: a hidden semi-Markov chain.

A phase is a stretch in which what the standard says of body and hands is true; between two phases
the body is on its way, and only what both ask on the same side stays true: who lies, stands up and
sits down has done no sit-up. How long a phase lasts is free within a broad
log-normal about its usual time (explicit durations: Yu 2010, section 2); the usual time is first
the standard's and then this athlete's own. Phases follow each other in the standard's order; one
that is left out costs as much as it takes the film to say so clearly.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.movements.types import Measure, Phase, Range
from counting.reps.measures import JITTER, MEASURES
from counting.signals.types import Signals
from vision.track import FloatArray, IntArray

RATE_HZ: Final = 15.0
INDEPENDENT_PER_S: Final = 8.0
"""Samples closer together than an eighth of a second tell the same thing."""

SOFT: Final = 0.025
"""Statures over which a border of a range is blurred: what landmarks jitter by."""

TRUE_AT_ALL: Final = 1.0
"""What a sample in a phase adds over one between phases, natural logarithm."""

_LEAST: Final = -5.0
"""What a sample takes from a phase at most: one that was misread rules nothing out."""
_UNSEEN: Final = -0.2
"""What a measure that was not seen takes from a phase, natural logarithm."""
LONGEST_PHASE_S: Final = 6.0
"""Longest that a phase is held in one piece: the search takes longer in proportion."""
_WIDE: Final = 0.9
_OWN_RHYTHM: Final = 0.6
"""Standard deviation of the logarithm of how long a phase lasts: of anybody, and of one athlete."""
_FEWEST: Final = 3
"""Phases or ways of an athlete from which their own rhythm is taken; all of these are chosen, not
measured."""

LEAST_LIKELY_ATTEMPT: Final = -1.5
"""Least log probability of beginning an attempt at a given moment of the start position; it is one
over the moments that this usually lasts, so that quick steps need less to be seen than slow lifts.
"""

LEFT_OUT: Final = -5.0
"""Log probability of leaving a phase out."""

AGAIN: Final = -1.0
"""Log probability of coming back to a phase from the way to the next."""

GIVEN_UP: Final = -3.0
"""Log probability of giving an attempt up and doing something else."""

BETWEEN_PHASES: Final = -0.7
"""What a usual way from one phase to the next within an attempt adds over that time spent
otherwise. It lasts a second, until the athlete's own rhythm is known: whoever goes from phase to
phase in half of that is gone sooner."""

BESIDE: Final = 0.075
"""Statures by which a body on its way may pass a border that both phases keep: three times as far
as a border is blurred."""

_WAY_S: Final = 1.0
_SHORTEST_WAY_S: Final = 0.5
_LONGEST_WAY_S: Final = 3.0
"""Seconds between two phases of an attempt: as assumed at first, and the least and most that the
athlete's own rhythm may make of it (no source)."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Samples [first, end) of the signals' grid in which one phase lasted.

    ``anew`` says that what was done before it has nothing to do with it.
    """

    phase: int
    first: int
    end: int
    anew: bool = False


def decode(signals: Signals, phases: Sequence[Phase]) -> list[Segment]:
    """Find the phases in film order.

    Parameters
    ----------
    signals
        Of the athlete.
    phases
        In the standard's order, the start position first.
    """
    step = max(1, round(signals.rate_hz / RATE_HZ))
    rate_hz = signals.rate_hz / step
    emissions = np.stack([_emissions(signals, phase)[::step] for phase in phases])
    emissions *= INDEPENDENT_PER_S / rate_hz
    usual_s = np.array([phase.usual_s for phase in phases])
    around = [_kept_by_both(one, other) for one, other in pairwise([*phases, phases[0]])]
    kept = np.stack([_log_of_ways(signals, one)[::step] for one in around])
    kept *= INDEPENDENT_PER_S / rate_hz
    between = BETWEEN_PHASES / rate_hz
    found = _most_likely(
        emissions, _durations(usual_s, _WIDE, rate_hz), kept + between / _WAY_S, _attempt(usual_s)
    )
    own_s = usual_s.copy()
    for k in range(len(phases)):
        lasted = [(one.end - one.first) / rate_hz for one in found if one.phase == k]
        if len(lasted) >= _FEWEST:
            own_s[k] = float(np.median(lasted))
    way_s = _own_way_s(found, rate_hz)
    found = _most_likely(
        emissions,
        _durations(own_s, _OWN_RHYTHM, rate_hz),
        kept + between / way_s,
        _attempt(np.minimum(usual_s, own_s)),
    )
    last = signals.time_s.size
    return [replace(one, first=one.first * step, end=min(one.end * step, last)) for one in found]


def _attempt(usual_s: FloatArray) -> float:
    """Log probability of beginning an attempt at a moment of the start position."""
    return max(-math.log(max(INDEPENDENT_PER_S * usual_s[0], 1.0)), LEAST_LIKELY_ATTEMPT)


def _own_way_s(found: Sequence[Segment], rate_hz: float) -> float:
    """Usual time between two phases that follow each other in one attempt."""
    ways_s = [
        (after.first - before.end) / rate_hz
        for before, after in pairwise(found)
        if not after.anew and before.phase != after.phase
    ]
    if len(ways_s) < _FEWEST:
        return _WAY_S
    return min(max(float(np.median(ways_s)), _SHORTEST_WAY_S), _LONGEST_WAY_S)


def _emissions(signals: Signals, phase: Phase) -> FloatArray:
    """(M,) log likelihood of each sample in a phase, over that of being on the way.

    Nobody is in a phase where nothing of it was seen for longer than signals are bridged.
    """
    total = np.full(signals.time_s.shape, TRUE_AT_ALL)
    seen = np.zeros(total.shape, dtype=bool)
    for measure, span in phase.where.items():
        within = _log_within(signals, measure, span)
        known = np.isfinite(within)
        total += np.where(known, within, _UNSEEN)
        seen |= known
    return np.where(seen, np.maximum(total, _LEAST), _LEAST)


def _kept_by_both(one: Phase, other: Phase) -> dict[Measure, Range]:
    """Borders of measures that two phases both keep to: of either, the one that allows more."""
    kept: dict[Measure, Range] = {}
    for measure in one.where.keys() & other.where.keys():
        own, their = one.where[measure], other.where[measure]
        above = None if own.above is None or their.above is None else min(own.above, their.above)
        below = None if own.below is None or their.below is None else max(own.below, their.below)
        if above is not None or below is not None:
            kept[measure] = Range(
                above=None if above is None else above - BESIDE,
                below=None if below is None else below + BESIDE,
            )
    return kept


def _log_of_ways(signals: Signals, kept: Mapping[Measure, Range]) -> FloatArray:
    """(M,) log likelihood of each sample on a way that keeps to some borders: 0 well within."""
    total = np.zeros(signals.time_s.shape)
    for measure, span in sorted(kept.items()):
        total += np.nan_to_num(_log_within(signals, measure, span), nan=0.0)
    return np.maximum(total, _LEAST)


def _log_within(signals: Signals, measure: Measure, span: Range) -> FloatArray:
    """(M,) log likelihood of a measure lying within blurred borders; NaN where it was not seen."""
    values = MEASURES[measure](signals)
    known = np.isfinite(values)
    soft = JITTER.get(measure, SOFT)
    level, total = np.where(known, values, 0.0), np.where(known, 0.0, np.nan)
    if span.above is not None:
        total -= np.logaddexp(0.0, -(level - span.above) / soft)
    if span.below is not None:
        total -= np.logaddexp(0.0, -(span.below - level) / soft)
    return total


def _durations(usual_s: FloatArray, spread: float, rate_hz: float) -> FloatArray:
    """(K, D) log likelihood of lasting 1 to D samples; the start position may last for ever."""
    lasts_s = np.arange(1, int(LONGEST_PHASE_S * rate_hz) + 1) / rate_hz
    off = (np.log(lasts_s)[None, :] - np.log(usual_s)[:, None]) / spread
    off[0] = np.minimum(off[0], 0.0)
    likely: FloatArray = -0.5 * off**2
    return likely


def _most_likely(
    emissions: FloatArray, durations: FloatArray, between: FloatArray, attempt: float
) -> list[Segment]:
    """Phases of the best path, by Viterbi's algorithm over segments.

    At each border between samples a state is "phase k ends here", "between phases after phase k"
    or, number K of the latter, "doing something else". ``emissions`` is (K, samples), ``durations``
    (K, longest), ``between`` (K, samples) what being on the way from each phase to the next adds,
    ``attempt`` what beginning an attempt does.
    """
    count, samples = emissions.shape
    longest = durations.shape[1]
    summed = np.concatenate([np.zeros((count, 1)), np.cumsum(emissions, axis=1)], axis=1)
    ends = np.full((count, samples + 1), -np.inf)
    lasted: IntArray = np.zeros((count, samples + 1), dtype=np.int64)
    tail = np.full(count, -np.inf)
    tail_from: IntArray = np.zeros(count, dtype=np.int64)
    ways = np.full((count + 1, samples + 1), -np.inf)
    ways[count, 0] = 0.0
    # From the start position on, something else may be done; nothing is given up with it.
    stops = np.array([0.0, *[GIVEN_UP] * (count - 1)])
    left: IntArray = np.zeros((count + 1, samples + 1), dtype=np.int64)
    left[count] = -1
    begins = np.full((count, samples + 1), -np.inf)
    begun_by: IntArray = np.full((count, samples + 1), count, dtype=np.int64)
    every = np.arange(count)
    steps = _steps(count, attempt)
    for t in range(samples + 1):
        if t:
            span = min(t, longest)
            scores = (begins - summed)[:, t - span : t] + durations[:, span - 1 :: -1][:, -span:]
            best = scores.argmax(axis=1)
            if t >= longest:
                older = begins[:, t - longest] - summed[:, t - longest] + durations[:, -1]
                tail_from = np.where(older > tail, t - longest, tail_from)
                tail = np.maximum(tail, older)
            longer = tail > scores[every, best]
            ends[:, t] = np.maximum(tail, scores[every, best]) + summed[:, t]
            lasted[:, t] = np.where(longer, t - tail_from, span - best)
            stays = ways[:count, t - 1] >= ends[:, t - 1]
            ways[:count, t] = np.where(stays, ways[:count, t - 1], ends[:, t - 1])
            left[:count, t] = np.where(stays, left[:count, t - 1], t - 1)
            ways[:count, t] += between[:, t - 1]
            ways[count, t], left[count, t] = ways[count, t - 1], left[count, t - 1]
            leaves = ways[:count, t] + stops
            stopped = int(np.argmax(leaves))
            if leaves[stopped] > ways[count, t]:
                ways[count, t] = leaves[stopped]
                left[count, t] = stopped * (samples + 1) + left[stopped, t]
        for source, target, cost, at_once in steps:
            if ways[source, t] + cost > begins[target, t]:
                begins[target, t], begun_by[target, t] = ways[source, t] + cost, source
            if at_once and ends[source, t] + cost > begins[target, t]:
                begins[target, t], begun_by[target, t] = ends[source, t] + cost, -1 - source
    return _path(ends, lasted, ways, left, begun_by)


def _steps(count: int, attempt: float) -> list[tuple[int, int, float, bool]]:
    """Ways from one phase to another: source, target, cost, and whether without a way between."""
    steps: list[tuple[int, int, float, bool]] = [(count, 0, 0.0, False)]
    for k in range(count):
        begins = attempt if k == 0 else 0.0
        steps.append((k, (k + 1) % count, begins, True))
        steps.append((k, k, 0.0 if k == 0 else AGAIN, False))
        for left_out in range(1, count - 1):
            target = k + 1 + left_out
            # From the start position past all others and back nothing was tried.
            if target <= count and not (k == 0 and target == count):
                steps.append((k, target % count, begins + left_out * LEFT_OUT, False))
    return steps


def _path(
    ends: FloatArray, lasted: IntArray, ways: FloatArray, left: IntArray, begun_by: IntArray
) -> list[Segment]:
    """Follow the best path back from the film's end."""
    count, samples = ends.shape[0], ends.shape[1] - 1
    t = samples
    code = int(np.argmax(np.concatenate([ways[:, t], ends[:, t]])))
    code = code if code <= count else count - code
    found: list[Segment] = []
    while True:
        anew = code == count
        if anew:
            if left[count, t] < 0:
                break
            phase, t = divmod(int(left[count, t]), samples + 1)
        elif code >= 0:
            phase, t = code, int(left[code, t])
        else:
            phase = -1 - code
        if found and anew:
            found[-1] = replace(found[-1], anew=True)
        first = t - int(lasted[phase, t])
        found.append(Segment(phase, first, t))
        t, code = first, int(begun_by[phase, first])
    return _joined(found[::-1])


def _joined(found: list[Segment]) -> list[Segment]:
    """Join stretches of one phase but the start that the body left and came back to."""
    joined = found[:1]
    for before, after in pairwise(found):
        if before.phase == after.phase != 0:
            joined[-1] = replace(joined[-1], end=after.end)
        else:
            joined.append(after)
    return joined
