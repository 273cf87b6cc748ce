"""Sets, breaks and pauses of a film in which several movements were done, in one numbering."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from counting.reps.types import Rep
from counting.sets.grouping import Grouped
from counting.sets.types import Break, Pause, RepSet


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
