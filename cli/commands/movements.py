"""``repwitness movements``: which movements are known, and what their standard is."""

import shutil
import textwrap
from typing import TYPE_CHECKING, Annotated, Final

import typer

from cli.options import OwnStandards
from cli.standards import movement_asked, movements_known

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counting.movements.types import Check, Movement, ObjectName, Phase, Range

_NARROWEST: Final = 40
_WIDEST: Final = 100
"""Columns of the terminal between which text is wrapped: beyond, lines are hard to follow."""


def movements(
    name: Annotated[
        str | None, typer.Argument(help="A movement, to see its whole standard.", metavar="NAME")
    ] = None,
    standards: OwnStandards = None,
) -> None:
    """List the movements, or show one's whole standard.

    Lists what is judged from which view, and what is only counted.

    For each it says what a film can make of a rep, which checks are judged from which view, which
    are for a person to call, and what needs an eye beside the athlete. Event rulebooks differ, and
    theirs decides: copy a standard, change a limit, and pass it with --standards.
    """
    known = movements_known(standards)
    if name is not None:
        typer.echo(wrapped(_whole(movement_asked(name, known))))
        return
    for movement in known.values():
        typer.echo(wrapped(listed(movement)))
    typer.echo(wrapped(_told_of_all(list(known.values()))))


def wrapped(lines: "Sequence[str]") -> str:
    """Break lines at the terminal's width, what follows indented below its own line."""
    width = min(max(shutil.get_terminal_size().columns, _NARROWEST), _WIDEST)
    broken = []
    for line in lines:
        hang = " " * (len(line) - len(line.lstrip()) + 4)
        broken += textwrap.wrap(line, width, subsequent_indent=hang, break_on_hyphens=False)
    return "\n".join(broken)


def _told_of_all(movements: "Sequence[Movement]") -> list[str]:
    from counting.checks.table import VIEWS

    good = sum(bool(views_of_good(movement)) for movement in movements)
    refused = sum(bool(_by_views(movement)) for movement in movements) - good
    views = ", ".join(f"{name} {low:.0f} to {high:.0f}" for name, (low, high) in VIEWS.items())
    counted = len(movements) - good - refused
    return [
        f"{len(movements)} movements: {good} whose reps a film can call good, {refused} whose reps "
        f"it can refuse but calls none good, {counted} whose reps it counts",
        "only counted: found and timed, for a person to call; repwitness movements NAME says why a "
        "check is not judged",
        f"views, in degrees off the athlete's front: {views}; from behind nothing is judged",
    ]


_SIDES: Final = {
    "alternating": "alternating; a side that repeats is marked for a person to call",
    "each": "one at a time, as many on each; which did a rep is told",
    "either": "one at a time, whichever the athlete likes; which did a rep is told",
}


_OBJECTS: Final[dict["ObjectName", str]] = {
    "ball": "the ball is seen and --target says where its line is",
    "box": "the box is seen",
    "rope": "the rope is heard on the floor",
}


def listed(movement: "Movement") -> list[str]:
    """Give its name, words, what a film can say of a rep, and who judges what."""
    lines = [movement.name, f"  {' '.join(movement.words.split())}", f"  {_said_of_reps(movement)}"]
    for views, checks in _by_views(movement).items():
        lines.append(f"  judged from {_spoken(views)}: {', '.join(checks)}")
    counted = [check for check in movement.checks if not _views(check, movement)]
    if counted:
        told = "; ".join(f"{check.name} ({check.words})" for check in counted)
        lines.append(f"  not judged, for a person to call: {told}")
    for one in movement.objects:
        if movement.checks:
            lines.append(f"  judged where {_OBJECTS[one.object]}: {one.name}")
        else:
            lines.append(f"  refused where {_OBJECTS[one.object]} and clearly missed: {one.name}")
    if _reached(movement):
        lines.append(f"  refused where clearly missed: {', '.join(_reached(movement))}")
    if _in_between(movement):
        lines.append(f"  refused where clearly left out: {', '.join(_in_between(movement))}")
    if movement.sides is not None:
        lines.append(f"  sides: {_SIDES[movement.sides.done]}")
    if movement.by_eye:
        lines.append(f"  needs an eye beside the athlete: {'; '.join(movement.by_eye)}")
    return lines


def _said_of_reps(movement: "Movement") -> str:
    """Say what a film can make of a repetition: good, refused, or no more than counted."""
    views = views_of_good(movement)
    if views:
        said = f"a film can call reps good or refuse them, seen from {_spoken(views)}"
        objects = " and ".join(_OBJECTS[one.object] for one in movement.objects)
        return f"{said}, where {objects}; else it only refuses or counts them" if objects else said
    if _by_views(movement):
        return "a film can refuse reps, but calls none good: not every check is judged"
    if movement.objects or _reached(movement) or _in_between(movement):
        return "a film only counts reps, but refuses clear misses"
    return "a film only counts reps"


def _reached(movement: "Movement") -> list[str]:
    return [phase.name for phase in movement.phases if phase.reach]


def _in_between(movement: "Movement") -> list[str]:
    """Phases that an attempt can leave out: one that has no other phase is seen as no attempt."""
    return [phase.name for phase in movement.phases[1:]] if len(movement.phases) > 2 else []


def views_of_good(movement: "Movement") -> tuple[str, ...]:
    """Give the views from which every check is judged, so that a repetition can be good."""
    from counting.checks.table import VIEWS

    seen = [_views(check, movement) for check in movement.checks]
    return tuple(view for view in VIEWS if seen and all(view in views for views in seen))


def _by_views(movement: "Movement") -> dict[tuple[str, ...], list[str]]:
    found: dict[tuple[str, ...], list[str]] = {}
    for check in movement.checks:
        views = _views(check, movement)
        if views:
            found.setdefault(views, []).append(check.name)
    return found


def _views(check: "Check", movement: "Movement") -> tuple[str, ...]:
    from counting.checks.coverage import judged_views

    return tuple(judged_views(check, movement))


def _spoken(views: tuple[str, ...]) -> str:
    return views[0] if len(views) == 1 else f"{', '.join(views[:-1])} and {views[-1]}"


def _whole(movement: "Movement") -> list[str]:
    from counting.checks.coverage import why_not_judged
    from counting.movements.types import PART_WORDS

    lines = [
        *listed(movement),
        f"  wording: {movement.source}",
        f"  apparatus: {movement.apparatus}; base: {movement.base}",
    ]
    if movement.cycle is not None:
        cycle = movement.cycle
        lines.append(
            f"  a repetition swings the {cycle.driver}, with its {cycle.turn} point at the turn"
            + (f", then the {cycle.then}" if cycle.then else "")
        )
    else:
        lines.append("  a repetition goes through these phases and back to the first:")
        for phase in movement.phases:
            lines += _phase(phase)
    lines.append("  checks:" if movement.checks else "  checks: none")
    for check in movement.checks:
        when = PART_WORDS.get(check.phase, f"at the {check.phase}")
        lines += [
            f"  - {check.name}: {check.words}",
            f"      {check.read} {check.quantity} {when} {check.relation} "
            f"{check.limit:g} {check.unit}",
        ]
        reason = why_not_judged(check, movement)
        if reason is not None:
            lines.append(f"      {reason}")
    if movement.objects:
        lines.append("  objects:")
    for asked in movement.objects:
        lines += [
            f"  - {asked.name}: {asked.words}",
            f"      {asked.quantity} {asked.relation} {asked.limit:g} {asked.unit}",
        ]
    if movement.filming:
        lines.append(f"  filming: {' '.join(movement.filming.split())}")
    return lines


def _phase(phase: "Phase") -> list[str]:
    true = "; ".join(_range(measure, span) for measure, span in phase.where.items())
    lines = [f"  - {phase.name}: {phase.words}", f"      where {true} (shares of stature)"]
    if phase.reach:
        asked = "; ".join(_range(measure, span) for measure, span in phase.reach.items())
        lines.append(f"      reached with {asked}")
    return lines


def _range(measure: str, span: "Range") -> str:
    sides = [
        *([f"above {span.above:g}"] if span.above is not None else []),
        *([f"below {span.below:g}"] if span.below is not None else []),
    ]
    return f"{measure} {' and '.join(sides)}"
