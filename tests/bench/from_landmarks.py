"""How long counting takes from landmarks to record, and how that grows with the film."""

import dataclasses
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from counting.checks.judge import judge
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.timeline import find_reps
from vision.track import PoseTrack


@dataclass(frozen=True, slots=True)
class Growth:
    """Processor and wall seconds for films of several lengths, and the exponent of their growth."""

    minutes: list[float]
    processor_s: list[float]
    wall_s: list[float]

    @property
    def exponent(self) -> float:
        """Slope of log time over log length: 1 is linear."""
        slope, _ = np.polyfit(np.log(self.minutes), np.log(self.processor_s), 1)
        return float(slope)


def lengthened(track: PoseTrack, minutes: float) -> PoseTrack:
    """Repeat a track until it lasts so long."""
    step_s = float(np.median(np.diff(track.time_s)))
    lap_s = float(track.time_s[-1] - track.time_s[0]) + step_s
    laps = max(1, round(minutes * 60.0 / lap_s))
    return repeated(track, np.concatenate([track.time_s + lap * lap_s for lap in range(laps)]))


def repeated(track: PoseTrack, time_s: npt.NDArray[np.float64]) -> PoseTrack:
    """Give a track over and over, a row at each of the times."""
    rows = np.arange(len(time_s)) % track.frames
    arrays = {
        field.name: getattr(track, field.name)[rows]
        for field in dataclasses.fields(track)
        if isinstance(getattr(track, field.name), np.ndarray)
    }
    return dataclasses.replace(track, **(arrays | {"time_s": time_s}))


def growth(track: PoseTrack, movement: str, minutes: Sequence[float]) -> Growth:
    """Time counting and judging on ever longer repetitions of a track."""
    standard = find_movement(movement)
    lengths, spent, waited = [], [], []
    for length in minutes:
        longer = lengthened(track, length)
        begun_s, started_s = time.perf_counter(), time.process_time()
        timeline = find_reps(longer, standard)
        judge(longer, timeline.reps, standard, Risk(0.95, 0.05))
        spent.append(time.process_time() - started_s)
        waited.append(time.perf_counter() - begun_s)
        lengths.append(float(longer.time_s[-1]) / 60.0)
    return Growth(lengths, spent, waited)
