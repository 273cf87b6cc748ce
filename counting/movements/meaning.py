"""What a standards file may not say though every word of it is known: contradictions of meaning."""

from collections.abc import Iterator
from itertools import combinations
from math import isfinite
from typing import Final, get_args

from counting.movements.key_lines import Path
from counting.movements.types import (
    OBJECTS,
    QUANTITY_APPARATUS,
    QUANTITY_UNITS,
    Check,
    Cycle,
    Measure,
    Movement,
    ObjectCheck,
    Part,
    Phase,
    Quantity,
    Range,
)

Found = Iterator[tuple[Path, str]]

LARGEST_SWING: Final = 2.0
_LARGEST_RANGE: Final = 2.5
"""Statures: no part of a body goes further from the start position, or is further from another."""
_DEEPEST: Final = frozenset[Quantity]({"hip crease above knee top"})
_ANGLE_RANGE: Final = (0.0, 180.0)
"""Degrees between two bones."""


def contradictions(movement: Movement) -> Found:
    """All places where a movement contradicts itself, and how."""
    if not movement.slug:
        yield ("name",), "name is empty, expected the movement's name"
    if (movement.cycle is None) == (not movement.phases):
        yield (), "say how repetitions are found, either by [cycle] or by [[phases]]"
    if (movement.base == "hanging") != (movement.apparatus == "pull-up bar"):
        yield (
            ("base",),
            f'base is "{movement.base}" with apparatus "{movement.apparatus}", expected '
            'base "hanging" and apparatus "pull-up bar" together',
        )
    if movement.cycle is not None:
        yield from _of_cycle(movement, movement.cycle)
    if movement.phases:
        yield from _of_phases(movement.phases)
    for index, check in enumerate(movement.checks):
        yield from _of_check(check, index, movement)
    yield from _between_checks(movement)
    for index, asked in enumerate(movement.objects):
        yield from _of_object(asked, index, movement)
    if movement.recognised is not None:
        hundredths = sum(movement.recognised.postures.values())
        if hundredths > 100 or min(movement.recognised.postures.values(), default=0) < 0:
            yield (
                ("recognised", "postures"),
                f"recognised.postures add up to {hundredths} hundredths, expected shares above 0 "
                "that add up to 100 at most",
            )
    if movement.load is not None and movement.load.main not in movement.load.loads:
        yield (
            ("load", "main"),
            f'load.main is "{movement.load.main}", expected one of load.loads: '
            f"{', '.join(movement.load.loads)}",
        )
    elif movement.load is not None and movement.load.loads[movement.load.main] != 1.0:
        yield (
            ("load", "loads"),
            f"load.loads.{movement.load.main} is {movement.load.loads[movement.load.main]:g}, "
            "expected 1.0 for the group that gives out first",
        )


def _of_cycle(movement: Movement, cycle: Cycle) -> Found:
    if not 0 < cycle.smallest_swing < LARGEST_SWING:
        yield (
            ("cycle", "smallest_swing"),
            f"cycle.smallest_swing is {cycle.smallest_swing}, expected a share of the "
            f"athlete's stature above 0 and below {LARGEST_SWING:g}",
        )
    for name in ("still_share", "smallest_share"):
        share = getattr(cycle, name)
        if not 0 <= share <= 1:
            yield ("cycle", name), f"cycle.{name} is {share}, expected 0 to 1"
    if cycle.driver == "shoulders above hands" and movement.base == "standing":
        yield (
            ("cycle", "driver"),
            f'cycle.driver is "{cycle.driver}" with base "standing", expected a base '
            'on which the hands are fixed: "hanging" or "floor"',
        )
    if movement.base in ("inverted", "lying"):
        yield (
            ("base",),
            f'base is "{movement.base}" with a [cycle], whose signals suppose a body that is '
            "upright or prone: describe the movement by [[phases]]",
        )


def _of_phases(phases: tuple[Phase, ...]) -> Found:
    if len(phases) < 2:
        yield ("phases",), "a movement has two phases at least: the start position and another"
    names = [phase.name for phase in phases]
    for index, phase in enumerate(phases):
        if names.index(phase.name) != index or phase.name in get_args(Part):
            yield (
                ("phases", index, "name"),
                f'phases[{index}].name is "{phase.name}", expected a name of its own that is none '
                f"of {', '.join(get_args(Part))}",
            )
        if not phase.where:
            yield (
                ("phases", index),
                f"phases[{index}].where is empty, expected what is true in it",
            )
        if not phase.usual_s > 0:
            yield (
                ("phases", index, "usual_s"),
                f"phases[{index}].usual_s is {phase.usual_s}, expected seconds above 0",
            )
        for field in ("where", "reach"):
            for measure, span in getattr(phase, field).items():
                fault = _of_range(span)
                if fault:
                    yield (
                        ("phases", index, field, measure),
                        f'phases[{index}].{field}."{measure}" {fault}',
                    )
        for measure in phase.reach:
            if measure not in phase.where:
                yield (
                    ("phases", index, "reach", measure),
                    f'phases[{index}].reach."{measure}" is asked but not in where, expected the '
                    "measure in both: where says what an attempt looks like",
                )
    for place, (first, second) in enumerate(zip(phases, (*phases[1:], phases[0]), strict=True)):
        told = len(phases) == 2 and place == 1
        if not told and first.name != second.name and not parting(first, second):
            yield (
                ("phases", place),
                f'phases "{first.name}" and "{second.name}" follow each other and can be true at '
                "the same time: give them ranges of one measure that do not overlap",
            )


def _of_range(span: Range) -> str:
    known = [value for value in (span.above, span.below) if value is not None]
    if not known:
        return "is open on both sides, expected above, below or both"
    if not all(isfinite(value) and abs(value) <= _LARGEST_RANGE for value in known):
        return f"is not within {_LARGEST_RANGE:g} statures"
    if span.above is not None and span.below is not None and span.above >= span.below:
        return f"is above {span.above:g} and below {span.below:g}, which nothing is"
    return ""


def parting(first: Phase, second: Phase) -> list[Measure]:
    """Measures that lie in ranges of their own in two phases."""
    apart = []
    for measure, one in first.where.items():
        other = second.where.get(measure)
        if other is None:
            continue
        for low, high in ((one, other), (other, one)):
            if low.below is not None and high.above is not None and low.below <= high.above:
                apart.append(measure)
    return apart


def _of_check(check: Check, index: int, movement: Movement) -> Found:
    where = f"checks[{index}]"
    unit = QUANTITY_UNITS[check.quantity]
    if check.unit != unit:
        yield (
            ("checks", index, "unit"),
            f'{where}.unit is "{check.unit}", expected "{unit}" for "{check.quantity}"',
        )
    if not isfinite(check.limit):
        yield (
            ("checks", index, "limit"),
            f"{where}.limit is {check.limit}, expected a finite number",
        )
    elif unit == "deg" and not _ANGLE_RANGE[0] <= check.limit <= _ANGLE_RANGE[1]:
        yield (
            ("checks", index, "limit"),
            f"{where}.limit is {check.limit:g} deg, expected 0 to 180",
        )
    if not check.name.strip():
        yield ("checks", index, "name"), f"{where}.name is empty, expected a short name"
    phases = (*get_args(Part), *(phase.name for phase in movement.phases))
    if check.phase not in phases:
        yield (
            ("checks", index, "phase"),
            f'{where}.phase is "{check.phase}", expected one of: {", ".join(sorted(phases))}',
        )
    apparatus = QUANTITY_APPARATUS.get(check.quantity)
    if apparatus is not None and movement.apparatus != apparatus:
        yield (
            ("checks", index, "quantity"),
            f'{where}.quantity is "{check.quantity}", which needs apparatus "{apparatus}"; this '
            f'movement has "{movement.apparatus}"',
        )
    if check.quantity in _DEEPEST and _stands_tall(check, movement):
        yield (
            ("checks", index, "phase"),
            f'{where} asks for "{check.quantity}" in phase "{check.phase}", in which the athlete '
            "stands tall: a squat's depth is read where the hips are low",
        )


def _of_object(asked: ObjectCheck, index: int, movement: Movement) -> Found:
    where = f"objects[{index}]"
    name, unit = OBJECTS[asked.quantity]
    if asked.unit != unit:
        yield (
            ("objects", index, "unit"),
            f'{where}.unit is "{asked.unit}", expected "{unit}" for "{asked.quantity}"',
        )
    whole = unit != "passes" or (asked.limit >= 1 and asked.limit % 1 == 0)
    if not isfinite(asked.limit) or not whole:
        yield (
            ("objects", index, "limit"),
            f"{where}.limit is {asked.limit:g}, expected "
            + ("a whole number from 1" if unit == "passes" else "a finite number"),
        )
    others = [check.name for check in movement.checks]
    others += [one.name for one in movement.objects[:index]]
    if not asked.name.strip() or asked.name in others:
        yield (
            ("objects", index, "name"),
            f'{where}.name is "{asked.name}", expected a name of its own',
        )
    if name in ("box", "rope") and not movement.phases:
        when = "on the box" if name == "box" else "in the air"
        yield (
            ("objects", index, "quantity"),
            f'{where}.quantity is "{asked.quantity}", which needs [[phases]], the second of them '
            f"with the feet {when}",
        )


def _stands_tall(check: Check, movement: Movement) -> bool:
    """Whether a phase is one in which the hips are up by the movement's own account."""
    for phase in movement.phases:
        hips = phase.where.get("hips above feet")
        if phase.name == check.phase and hips is not None:
            return hips.above is not None and hips.below is None
    cycle = movement.cycle
    if cycle is None or cycle.driver not in ("hip height", "shoulder height"):
        return False
    return check.phase == ("turn" if cycle.turn == "high" else "finish")


def _between_checks(movement: Movement) -> Found:
    for (i, first), (j, second) in combinations(enumerate(movement.checks), 2):
        if _exclude_each_other(first, second):
            yield (
                ("checks", j, "limit"),
                f'checks[{i}] and checks[{j}] contradict each other: "{first.quantity}" '
                f"cannot be {first.relation} {first.limit:g} and {second.relation} "
                f'{second.limit:g} {second.unit} in phase "{first.phase}"',
            )
        if first.name == second.name:
            yield (
                ("checks", j, "name"),
                f'checks[{j}].name is "{second.name}" as in checks[{i}], expected a '
                "name of its own",
            )


def _exclude_each_other(first: Check, second: Check) -> bool:
    """Whether no value can satisfy both: the same reading, one floor above one ceiling."""
    same = (first.quantity, first.phase, first.read) == (
        second.quantity,
        second.phase,
        second.read,
    )
    if not same or first.relation == second.relation:
        return False
    least, most = (first, second) if first.relation == "at least" else (second, first)
    return least.limit > most.limit
