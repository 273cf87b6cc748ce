"""An attempt laid over its plan: where it left the plan, by how much, and where it came back."""

from dataclasses import dataclass

import msgspec

from counting.pacing.card.document import PlanDocument, Row
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.loads import PacingError
from counting.pacing.search.plan import plural, set_words
from vision.times import clock


@dataclass(frozen=True)
class Laid:
    """One station of a plan beside what was done.

    ``done_s`` is the clock at its last rep, None where it was not finished; ``behind_s`` is
    ``done_s`` less the planned mark; ``lost_s`` what this station alone added to it. ``inside``
    says whether the clock lay in the mark's 80 % interval.
    """

    row: Row
    sets: tuple[int, ...]
    done_s: float | None
    behind_s: float | None
    lost_s: float | None
    inside: bool | None

    @property
    def as_planned(self) -> bool:
        """Whether the sets were those of the plan."""
        return list(self.sets) == self.row.sets


def laid_over(attempt: Attempt, document: PlanDocument) -> tuple[Laid, ...]:
    """Lay an attempt over a plan, station by station in the plan's order.

    Sets hold all reps done, counted or not: a no-rep is work too. A station without reps in the
    attempt has empty sets.

    Raises
    ------
    PacingError
        No rep of the attempt lies where the plan has its movement: they are of different workouts.
    """
    if not any(_own(attempt, row) for row in document.rows):
        raise PacingError(
            f"the attempt and the plan of {document.workout!r} do not fit: the film shows "
            f"{', '.join(attempt.movements)}, the plan begins with "
            f"{document.rows[0].reps} {plural(document.rows[0].movement, document.rows[0].reps)}; "
            "audit the film with the workout the plan was made for"
        )
    laid: list[Laid] = []
    behind_before_s = 0.0
    for row in document.rows:
        if row.timed_s is not None:
            continue
        reps = _own(attempt, row)
        finished = len(reps) >= row.reps
        done_s = reps[-1].end_s - attempt.start_s if finished else None
        planned_s = row.mark.middle_s
        behind_s = done_s - planned_s if done_s is not None and planned_s is not None else None
        inside = None
        if done_s is not None and row.mark.early_s is not None:
            late_s = row.mark.late_s if row.mark.late_s is not None else float("inf")
            inside = row.mark.early_s <= done_s <= late_s
        laid.append(
            Laid(
                row=row,
                sets=_sizes(reps),
                done_s=done_s,
                behind_s=behind_s,
                lost_s=None if behind_s is None else behind_s - behind_before_s,
                inside=inside,
            )
        )
        behind_before_s = behind_s if behind_s is not None else behind_before_s
    return tuple(laid)


def verdict_words(laid: tuple[Laid, ...]) -> list[str]:
    """Tell in a few sentences where the attempt left the plan."""
    first = next((item for item in laid if item.sets and not item.as_planned), None)
    worst = max(
        (item for item in laid if item.lost_s is not None),
        key=lambda item: item.lost_s or 0.0,
        default=None,
    )
    words = []
    if first is None:
        words.append("All sets were done as planned.")
    else:
        words.append(
            f"The sets first left the plan at {where_words(first.row)}: "
            f"{set_words(first.sets)} instead of {set_words(tuple(first.row.sets))}."
        )
    if worst is not None and worst.lost_s is not None and worst.lost_s >= 1.0:
        words.append(f"Most time was lost at {where_words(worst.row)}: {worst.lost_s:.0f} s.")
    last = next((item for item in reversed(laid) if item.behind_s is not None), None)
    if last is not None and last.behind_s is not None and last.done_s is not None:
        side = "behind" if last.behind_s > 0 else "ahead of"
        gap = f"{abs(last.behind_s):.0f} s {side}" if abs(last.behind_s) >= 1.0 else "on"
        words.append(
            f"At {clock(last.done_s, 0)}, after {where_words(last.row)}, the clock was {gap} "
            "the plan."
        )
    reached = [item for item in laid if item.sets]
    for item in reached:
        done, row = sum(item.sets), item.row
        if item.done_s is not None:
            continue
        if item is reached[-1]:
            words.append(f"The work ended in {where_words(row)}, after {done} of {row.reps} reps.")
        else:
            words.append(f"The film shows {done} of {row.reps} reps of {where_words(row)}.")
    return words


def _own(attempt: Attempt, row: Row) -> list[SeenRep]:
    place = (row.block, row.round, row.station)
    return [rep for rep in attempt.reps if rep.place == place and rep.movement == row.movement]


def where_words(row: Row) -> str:
    """Name a station in a sentence."""
    told = f"the {plural(row.movement, row.reps)}"
    return f"{told} of round {row.round}" if row.rounds > 1 else told


def _sizes(reps: list[SeenRep]) -> tuple[int, ...]:
    sizes: dict[int, int] = {}
    for rep in reps:
        sizes[rep.set_number] = sizes.get(rep.set_number, 0) + 1
    return tuple(sizes.values())


def laid_json(laid: tuple[Laid, ...], doubt: str | None = None) -> str:
    """Serialise an overlay as indented JSON with a closing newline.

    ``doubt``, what the seal tells against the attempt's record, is put on every station.
    """
    mark = {} if doubt is None else {"doubt": doubt}
    rows = [
        {
            "block": item.row.block,
            "round": item.row.round,
            "station": item.row.station,
            "movement": item.row.movement,
            "planned_sets": item.row.sets,
            "sets": list(item.sets),
            "mark_s": item.row.mark.middle_s,
            "done_s": item.done_s,
            "behind_s": item.behind_s,
            "lost_s": item.lost_s,
            "inside": item.inside,
            **mark,
        }
        for item in laid
    ]
    return msgspec.json.format(msgspec.json.encode(rows), indent=1).decode() + "\n"
