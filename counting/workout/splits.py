"""Where the clock's time went: work, pauses, breaks, transitions and scheduled rest."""

import itertools
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import msgspec

from counting.record.scored import workout_part
from counting.record.tables import csv_text, fixed
from counting.record.types import AuditRecord, PausePart, RepPart
from counting.workout.ends import end_of, stays_of
from counting.workout.placing import Place, complete_s, place_of
from counting.workout.record import SplitLevel, SplitPart
from counting.workout.types import Workout

Kind = Literal["work", "pause", "break", "transition", "rest"]

_PRECEDENCE: Final[tuple[Kind, ...]] = ("rest", "pause", "work")
CSV_DECIMALS: Final = 2
"""Hundredths of a second: finer than a film's frames tell."""


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of the film's time of one kind."""

    start_s: float
    end_s: float
    kind: Kind


@dataclass(frozen=True, slots=True)
class Visit:
    """Neighbouring reps at one place, with the clock from the end of the visit before.

    ``in_time`` are those of ``reps`` that were complete before time was up. ``end_range_s`` is the
    range of ``end_s`` where that hangs on open calls, else None.
    """

    place: Place
    reps: tuple[RepPart, ...]
    start_s: float
    end_s: float
    spans: tuple[Span, ...]
    in_time: tuple[RepPart, ...]
    end_range_s: tuple[float, float] | None = None


def splits(
    workout: Workout,
    reps: Sequence[RepPart],
    pauses: Sequence[PausePart],
    zero_s: float,
    end_s: float | None = None,
    counted: Collection[int] = (),
) -> list[SplitPart]:
    """Divide the clock from zero to the end of the work into its parts.

    A station's time runs from the moment the station before it was complete to the moment it most
    likely was itself: with the last good rep that was asked for, else with its last good rep. What
    lies before its first rep is transition (or the rest that the workout orders, or the end of the
    work before), what lies between its sets is break. Where calls are open, the range of the end
    is told beside it (`end_of`).

    Parameters
    ----------
    workout
        For the rests it orders and its time cap.
    reps
        In film order, with their places.
    pauses
        Waits inside sets.
    zero_s
        The clock's zero on the film's clock.
    end_s
        Where the clock stops on the film's clock; None: at the last good rep.
    counted
        Numbers of the reps that count.

    Returns
    -------
    Rows for the whole workout, then each block, round, station and set, in the clock's seconds.
    """
    visits = visits_of(workout, reps, pauses, zero_s, end_s)
    if not visits:
        return []
    whole = _row("workout", visits, zero_s, counted)
    blocks = _grouped(visits, "block", 1, zero_s, counted)
    rounds = _grouped(visits, "round", 2, zero_s, counted)
    stations = [_row("station", [visit], zero_s, counted) for visit in visits]
    sets = [row for visit in visits for row in _set_rows(visit, pauses, zero_s, counted)]
    return [whole, *blocks, *rounds, *stations, *sets]


def visits_of(
    workout: Workout | None,
    reps: Sequence[RepPart],
    pauses: Sequence[PausePart],
    zero_s: float,
    end_s: float | None = None,
) -> list[Visit]:
    """Divide the film's time from zero on by place, without gaps; arguments as for `splits`.

    Without a workout no rest is ordered and no time cap ends it.
    """
    cap_s = workout.time_cap_s if workout is not None else None
    time_up_s = float("inf") if cap_s is None else zero_s + cap_s
    stop_s = min(time_up_s, float("inf") if end_s is None else end_s)
    done = [rep for rep in reps if rep.end_s > zero_s and rep.start_s < stop_s]
    groups = [tuple(group) for _, group in itertools.groupby(done, key=place_of)]
    in_time = [rep for rep in reps if rep.end_s > zero_s and complete_s(rep) <= time_up_s]
    stays = stays_of(workout, in_time)
    found: list[Visit] = []
    start_s = zero_s
    for number, group in enumerate(groups):
        place = place_of(group[0])
        stopped = number == len(groups) - 1 and end_s is not None
        end = end_of(stays, group[0], time_up_s if stopped and cap_s is not None else None)
        over_s = stop_s if stopped else end.likely_s
        over_s = max(start_s, min(group[-1].end_s if over_s is None else over_s, stop_s))
        rest_s = _ordered_rest_s(workout, found[-1].place if found else None, place)
        spans = _spans(group, done, pauses, start_s, over_s, rest_s)
        own = tuple(rep for rep in group if complete_s(rep) <= time_up_s)
        found.append(Visit(place, group, start_s, over_s, spans, own, end.range_about(over_s)))
        start_s = over_s
    return found


def _ordered_rest_s(workout: Workout | None, before: Place, now: Place) -> float:
    if workout is None or before is None or now is None or before[0] >= now[0]:
        return 0.0
    return sum(block.rest_after_s for block in workout.blocks[before[0] - 1 : now[0] - 1])


def _spans(
    reps: Sequence[RepPart],
    worked: Sequence[RepPart],
    pauses: Sequence[PausePart],
    start_s: float,
    end_s: float,
    rest_s: float,
) -> tuple[Span, ...]:
    """Cut [start, end] where anything begins or ends, and name every piece.

    All reps that were worked on name their time, those of the station before as well: the last
    lowering and tries that did not count come after its last good rep, and are no way to the next.
    """
    first_s = min(max(reps[0].start_s, start_s), end_s)
    named: list[Span] = [Span(rep.start_s, rep.end_s, "work") for rep in worked]
    named += [Span(pause.start_s, pause.end_s, "pause") for pause in pauses]
    named.append(Span(start_s, min(start_s + rest_s, first_s), "rest"))
    edges = {start_s, end_s, first_s}
    edges.update(edge for span in named for edge in (span.start_s, span.end_s))
    inside = sorted(edge for edge in edges if start_s <= edge <= end_s)
    return tuple(
        Span(one, other, _kind((one + other) / 2.0, named, first_s))
        for one, other in itertools.pairwise(inside)
    )


def _kind(at_s: float, named: Iterable[Span], first_s: float) -> Kind:
    here = {span.kind for span in named if span.start_s <= at_s <= span.end_s}
    for kind in _PRECEDENCE:
        if kind in here:
            return kind
    return "transition" if at_s < first_s else "break"


def _grouped(
    visits: list[Visit], level: SplitLevel, depth: int, zero_s: float, counted: Collection[int]
) -> list[SplitPart]:
    def key(visit: Visit) -> tuple[int, ...] | None:
        return None if visit.place is None else visit.place[:depth]

    return [
        _row(level, members, zero_s, counted)
        for place, group in itertools.groupby(visits, key=key)
        for members in [list(group)]
        if place is not None
    ]


def _row(
    level: SplitLevel, visits: Sequence[Visit], zero_s: float, counted: Collection[int]
) -> SplitPart:
    reps = [rep for visit in visits for rep in visit.in_time]
    spent = dict.fromkeys(("work", "pause", "break", "transition", "rest"), 0.0)
    for visit in visits:
        for span in visit.spans:
            spent[span.kind] += span.end_s - span.start_s
    place = visits[0].place
    other_s = sum(seconds for kind, seconds in spent.items() if kind != "work")
    earliest_s, latest_s = visits[-1].end_range_s or (None, None)
    depth = ("workout", "block", "round", "station").index(level)
    return SplitPart(
        level=level,
        block=place[0] if place and depth >= 1 else None,
        round=place[1] if place and depth >= 2 else None,
        station=place[2] if place and depth >= 3 else None,
        movement=visits[0].reps[0].movement if level == "station" else None,
        start_s=visits[0].start_s - zero_s,
        end_s=visits[-1].end_s - zero_s,
        earliest_end_s=None if earliest_s is None else earliest_s - zero_s,
        latest_end_s=None if latest_s is None else latest_s - zero_s,
        reps=len(reps),
        good=_good(reps),
        counted=sum(rep.number in counted for rep in reps),
        work_s=spent["work"],
        pause_s=spent["pause"],
        break_s=spent["break"],
        transition_s=spent["transition"],
        rest_s=spent["rest"],
        cycle_s=_cycle_s(reps),
        work_to_rest=spent["work"] / other_s if other_s > 1e-9 else None,
    )


def _good(reps: Iterable[RepPart]) -> int:
    return sum(_likely_good(rep) for rep in reps)


def _likely_good(rep: RepPart) -> bool:
    """Most likely call, as on the sheet: an open rep that hardly counts ends nothing."""
    return rep.probability_good >= 0.5


def _cycle_s(reps: Sequence[RepPart]) -> float | None:
    """Mean time from turn to turn of neighbours in one set; None without two."""
    steps = [
        after.turn_s - before.turn_s
        for before, after in itertools.pairwise(reps)
        if before.set == after.set
    ]
    return sum(steps) / len(steps) if steps else None


def _set_rows(
    visit: Visit, pauses: Sequence[PausePart], zero_s: float, counted: Collection[int]
) -> list[SplitPart]:
    rows: list[SplitPart] = []
    for number, group in itertools.groupby(visit.reps, key=lambda rep: rep.set):
        reps = tuple(group)
        start_s = min(max(reps[0].start_s, visit.start_s), visit.end_s)
        end_s = max(start_s, min(reps[-1].end_s, visit.end_s))
        spans = _spans(reps, reps, pauses, start_s, end_s, 0.0)
        in_time = tuple(rep for rep in visit.in_time if rep.set == number)
        part = Visit(visit.place, reps, start_s, end_s, spans, in_time)
        row = _row("station", [part], zero_s, counted)
        rows.append(msgspec.structs.replace(row, level="set", set=number))
    return rows


def splits_csv(record: AuditRecord, doubt: str | None = None) -> str:
    """Write a record's splits as CSV with a head line; times in seconds with two decimals.

    ``doubt``, what the seal tells against the record, is put on every line.

    Raises
    ------
    counting.workout.record.NoWorkoutError
        The audit followed no workout.
    """
    return rows_csv(workout_part(record).splits, doubt)


def rows_csv(rows: Sequence[SplitPart], doubt: str | None = None) -> str:
    """Write rows of splits as CSV."""
    names = [field.name for field in msgspec.structs.fields(SplitPart)]
    cells = [[_cell(getattr(row, name)) for name in names] for row in rows]
    return csv_text(names, cells, doubt)


def _cell(value: object) -> object:
    return fixed(value, CSV_DECIMALS) if isinstance(value, float) else value
