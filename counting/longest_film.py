"""Reps of an attempt that several films show: found in the one that shows the athlete longest.

A phone that starts late, stops early or is knocked over does not end the attempt. Times are always
on the first film's clock.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, TypeVar

import numpy as np

from counting.checks.films import OtherFilm
from counting.movements.types import Movement
from counting.reps.types import PhaseSeen, Rep
from counting.sets.types import Break, Pause, RepSet
from counting.timeline import Timeline, find_reps
from vision.synchrony.types import ClockFit
from vision.track import PoseTrack

CLEARLY_S: Final = 3.0
"""So much more of the athlete a further film has to show for the reps to be looked for in it."""

_Stretch = TypeVar("_Stretch", RepSet, Break, Pause)


def find_reps_in_films(
    track: PoseTrack, others: Sequence[OtherFilm], movement: Movement
) -> Timeline:
    """Find repetitions as `counting.timeline.find_reps` in the film that shows the athlete longest.

    Parameters
    ----------
    track
        The first film's landmarks.
    others
        Further films of the same attempt.
    movement
        What is being done.

    Returns
    -------
    Timeline
        On the first film's clock; rows of the reps are those of its track, the nearest where it
        has none.
    """
    if not others:
        return find_reps(track, movement)
    longest = max(others, key=lambda other: _seen_s(other.track))
    if _seen_s(longest.track) <= _seen_s(track) + CLEARLY_S:
        return find_reps(track, movement)
    return _on_first_clock(find_reps(longest.track, movement), longest.clock, track)


def _seen_s(track: PoseTrack) -> float:
    """How long a film shows the athlete."""
    steps = np.diff(track.time_s, append=track.time_s[-1:])
    return float(steps[track.seen].sum())


def _on_first_clock(timeline: Timeline, clock: ClockFit, track: PoseTrack) -> Timeline:
    def at(moment_s: float) -> float:
        return float(clock.first_s(np.array([moment_s]))[0])

    def moved(part: _Stretch) -> _Stretch:
        return replace(part, start_s=at(part.start_s), end_s=at(part.end_s))

    return replace(
        timeline,
        signals=replace(timeline.signals, time_s=clock.first_s(timeline.signals.time_s)),
        reps=tuple(_rep(rep, clock, track) for rep in timeline.reps),
        sets=tuple(moved(one) for one in timeline.sets),
        breaks=tuple(moved(one) for one in timeline.breaks),
        pauses=tuple(moved(one) for one in timeline.pauses),
    )


def _rep(rep: Rep, clock: ClockFit, track: PoseTrack) -> Rep:
    times_s = clock.first_s(np.array([rep.start_s, rep.turn_s, rep.end_s]))
    start, turn, end = (int(np.argmin(np.abs(track.time_s - moment))) for moment in times_s)
    return replace(
        rep,
        start_index=start,
        turn_index=turn,
        end_index=end,
        start_s=float(times_s[0]),
        turn_s=float(times_s[1]),
        end_s=float(times_s[2]),
        phases=tuple(_phase(phase, clock) for phase in rep.phases),
    )


def _phase(phase: PhaseSeen, clock: ClockFit) -> PhaseSeen:
    if phase.first_s is None or phase.last_s is None:
        return phase
    first_s, last_s = clock.first_s(np.array([phase.first_s, phase.last_s]))
    return replace(phase, first_s=float(first_s), last_s=float(last_s))
