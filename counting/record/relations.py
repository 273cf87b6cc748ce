"""What the parts of an audit record must have to do with each other to be read together.

Only what everything that reads a record relies on is asked for. Numbers that merely contradict
each other, as after a call edited by hand, are a matter for the seal.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, Protocol

from counting.record.types import AuditRecord, SeriesPart
from counting.workout.record import WorkoutPart

BEYOND_THE_FILM_S: Final = 5.0
"""How much longer than the film its times may reach: cycles are followed a little past its ends."""


class _Stretch(Protocol):
    @property
    def start_s(self) -> float: ...
    @property
    def end_s(self) -> float: ...


def first_contradiction(record: AuditRecord) -> str | None:
    """Say where a record contradicts itself, beginning with the key; None where it does not."""
    return next(_contradictions(record), None)


def _contradictions(record: AuditRecord) -> Iterator[str]:
    yield from _in_reps(record)
    yield from _in_sets(record)
    if record.series is not None:
        yield from _in_series(record.series)
    yield from _in_times(record)
    if record.workout is not None:
        yield from _in_workout(record.workout, len(record.reps))


def _in_reps(record: AuditRecord) -> Iterator[str]:
    yield from _misnumbered("reps", [rep.number for rep in record.reps])
    for index, rep in enumerate(record.reps):
        if not rep.start_s <= rep.turn_s <= rep.end_s:
            yield f"reps[{index}]: its start, turn and end are not in this order"
        places = (rep.block, rep.round, rep.station)
        if None in places and any(place is not None for place in places):
            yield f"reps[{index}]: its place needs block, round and station"


def _in_sets(record: AuditRecord) -> Iterator[str]:
    reps, sets = len(record.reps), len(record.sets)
    yield from _misnumbered("sets", [part.number for part in record.sets])
    for index, part in enumerate(record.sets):
        if not part.first_rep <= part.last_rep <= reps:
            yield f"sets[{index}]: it holds reps {part.first_rep} to {part.last_rep} of {reps}"
    for index, gap in enumerate(record.breaks):
        if gap.after_set > sets:
            yield f"breaks[{index}].after_set: there is no set {gap.after_set}"
    for index, pause in enumerate(record.pauses):
        if pause.after_rep > reps:
            yield f"pauses[{index}].after_rep: there is no rep {pause.after_rep}"
    yield from _backward("sets", record.sets)
    yield from _backward("breaks", record.breaks)
    yield from _backward("pauses", record.pauses)
    yield from _backward("unexplained", record.unexplained)


def _in_series(series: SeriesPart) -> Iterator[str]:
    if len(series.time_s) != len(series.value):
        yield f"series: {len(series.time_s)} times for {len(series.value)} values"
    if any(after < before for before, after in pairwise(series.time_s)):
        yield "series.time_s: its times do not increase"


def _in_times(record: AuditRecord) -> Iterator[str]:
    """Bound how far apart times lie: the film's own clock may begin anywhere."""
    times_s = list(_times_s(record))
    most_s = record.film.duration_s + BEYOND_THE_FILM_S
    # a further film may begin before the first one, and go on after it
    most_s += sum(view.film.duration_s for view in record.further_films)
    if times_s and max(times_s) - min(times_s) > most_s:
        yield (
            f"film.duration_s: its times lie {max(times_s) - min(times_s):.0f} s apart, the film "
            f"is {record.film.duration_s:.0f} s long"
        )


def _times_s(record: AuditRecord) -> Iterator[float]:
    for rep in record.reps:
        moments = (rep.start_s, rep.turn_s, rep.end_s, rep.counted_s)
        yield from (moment for moment in moments if moment is not None)
        yield from (check.at_s for check in rep.checks if check.at_s is not None)
    stretches: tuple[Sequence[_Stretch], ...] = (
        record.sets,
        record.breaks,
        record.pauses,
        record.unexplained,
    )
    for part in (part for parts in stretches for part in parts):
        yield from (part.start_s, part.end_s)
    if record.series is not None:
        yield from record.series.time_s[:1]
        yield from record.series.time_s[-1:]


def _in_workout(workout: WorkoutPart, reps: int) -> Iterator[str]:
    # Loaded for records of a workout alone.
    from counting.workout.file import broken_rule

    rule = broken_rule(workout.definition)
    if rule is not None:
        yield f"workout.definition: {rule}"
    for index, line in enumerate(workout.stations):
        if any(number > reps for number in line.reps):
            yield f"workout.stations[{index}].reps: there are only {reps} reps"
    for index, item in enumerate(workout.score.undecided):
        if item.rep > reps:
            yield f"workout.score.undecided[{index}].rep: there is no rep {item.rep}"


def _misnumbered(where: str, numbers: Sequence[int]) -> Iterator[str]:
    for index, number in enumerate(numbers):
        if number != index + 1:
            yield f"{where}[{index}].number is {number}, not {index + 1}"


def _backward(where: str, stretches: Sequence[_Stretch]) -> Iterator[str]:
    for index, part in enumerate(stretches):
        if part.end_s < part.start_s:
            yield f"{where}[{index}]: it ends before it starts"
