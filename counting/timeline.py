"""From the landmarks of one athlete to the timeline of one movement."""

from dataclasses import dataclass, replace

import numpy as np

from counting.movements.types import Movement
from counting.reps.attempts import attempts_of, start_driver
from counting.reps.evidence import driver_of
from counting.reps.handover import hand_over
from counting.reps.measures import MEASURES
from counting.reps.segmentation import cycles_of
from counting.reps.sides import side_of
from counting.reps.types import Cycle, PhaseSeen, Rep
from counting.sets.grouping import group
from counting.sets.types import Break, Pause, RepSet
from counting.signals.apparent import in_apparent_size
from counting.signals.extraction import signals_of
from counting.signals.types import Signals
from vision.track import FloatArray, PoseTrack


@dataclass(frozen=True, slots=True, eq=False)
class Timeline:
    """Everything that happened, before anybody judges it.

    Attributes
    ----------
    movement
        The standard that was looked for.
    signals
        What the segmentation saw.
    driver
        (M,) the driving signal, or the measure that says most of the turn, in statures on
        ``signals.time_s``, NaN where unseen.
    reps, sets, breaks, pauses
        Each in film order; repetitions are listed whether or not they will stand.
    """

    movement: Movement
    signals: Signals
    driver: FloatArray
    reps: tuple[Rep, ...]
    sets: tuple[RepSet, ...]
    breaks: tuple[Break, ...]
    pauses: tuple[Pause, ...]


def find_reps(track: PoseTrack, movement: Movement) -> Timeline:
    """Find repetitions, sets, breaks and pauses.

    Parameters
    ----------
    track
        Landmarks of one athlete over one film, or over a part of it.
    movement
        What is being done. Other motion in the film (walking, picking the bar up, hanging on) is
        told apart from repetitions, other movements of the same shape are not.

    Returns
    -------
    Timeline
        With no repetition at all where none was seen.
    """
    if movement.cycle is not None:
        upright = movement.base != "floor" and movement.cycle.feet == "planted"
        signals = signals_of(track, upright=upright)
        drawn = driver = driver_of(signals, movement.cycle.driver)
        cycles = cycles_of(signals, movement)
        phases: list[tuple[PhaseSeen, ...]] = [()] * len(cycles)
    else:
        signals = signals_of(track, upside_down=movement.upside_down)
        driver = start_driver(signals, movement)
        drawn = MEASURES[next(iter(movement.phases[movement.turn].where))](signals)
        attempts = attempts_of(in_apparent_size(track, signals), movement)
        cycles = [attempt.cycle for attempt in attempts]
        phases = [attempt.phases for attempt in attempts]
    cycles = hand_over(signals, movement, driver, cycles)
    reps = tuple(
        replace(
            _rep(track, movement.name, number, cycle),
            phases=seen,
            side=side_of(signals, movement, cycle.turn),
        )
        for number, (cycle, seen) in enumerate(zip(cycles, phases, strict=True), start=1)
    )
    grouped = group(signals, movement, driver, cycles, reps)
    return Timeline(
        movement=movement,
        signals=signals,
        driver=drawn,
        reps=reps,
        sets=grouped.sets,
        breaks=grouped.breaks,
        pauses=grouped.pauses,
    )


def _rep(track: PoseTrack, movement: str, number: int, cycle: Cycle) -> Rep:
    times = (cycle.start_s, cycle.turn_s, cycle.end_s)
    start, turn, end = (_nearest(track.time_s, time_s) for time_s in times)
    return Rep(number, movement, start, turn, end, *times)


def _nearest(time_s: FloatArray, at_s: float) -> int:
    after = int(np.searchsorted(time_s, at_s).clip(1, len(time_s) - 1))
    return after - 1 if at_s - time_s[after - 1] <= time_s[after] - at_s else after
