"""``repwitness film-setup``: where to put the phone for the movements planned."""

from typing import TYPE_CHECKING, Annotated, Final

import typer

from cli.options import OwnStandards
from cli.standards import movement_asked, movements_known
from counting.decision.normal import NORMAL_95

if TYPE_CHECKING:
    from counting.movements.types import Check, Movement

_ALWAYS: Final = (
    "Stand the phone on something that does not move; film at 30 frames a second or more.",
    "Keep the whole athlete in the picture all the time: feet, hands overhead, and the bar.",
    "Stay 4 to 6 m away, the lens 0.5 to 1.5 m high, and start filming before the first rep.",
    "Let nobody stand between phone and athlete; keep the phone out of the bar's path.",
)


_FOR_TWO: Final = (
    "Put the second phone 40 to 110 degrees further round the athlete, and not at the same height.",
    "On nine pairs of labelled films two phones left 41 % of the reps too close, one 54 %; on five "
    "others both left 32 %.",
    "Leave the sound of both on, and start both before the first rep: nothing else puts their "
    "clocks together. Then: repwitness audit FILM --second-view FILM2",
)


def film_setup(
    movements: Annotated[
        list[str], typer.Argument(help="The movements planned.", metavar="MOVEMENT...")
    ],
    phones: Annotated[
        int, typer.Option("--phones", min=1, max=2, help="How many phones film the attempt.")
    ] = 1,
    standards: OwnStandards = None,
) -> None:
    """Say where to put the phone for the movements planned.

    The place is the one from which they are judged best.

    The figures are those of the calibration behind the verdicts: how far off a reading may be, from
    each view, with a body and a camera never seen before.
    """
    known = movements_known(standards)
    planned = [movement_asked(name, known) for name in movements]
    for movement in planned:
        typer.echo("\n".join(_advice(movement) if phones == 1 else _advice_for_two(movement)))
    if len(planned) > 1 and phones == 1:
        typer.echo(_together(planned))
    for line in (*_ALWAYS, *(_FOR_TWO if phones > 1 else ())):
        typer.echo(line)


def _advice(movement: "Movement") -> list[str]:
    from counting.checks.wording import VIEW_WORDS

    scores = _scores([movement])
    lines = [movement.name]
    if scores:
        best = min(scores, key=lambda view: scores[view])
        lines.append(f"  film it {VIEW_WORDS[best]}")
    else:
        lines.append("  it is only counted: no labelled film tells which view suits it")
    if movement.filming:
        lines.append(f"  {' '.join(movement.filming.split())}")
    lines += [f"  {check.name}: {_by_view(check, movement)}" for check in movement.checks]
    return [*lines, *(f"  not from a film: {asked}" for asked in movement.by_eye)]


def _advice_for_two(movement: "Movement") -> list[str]:
    """Name the two views from which the movement is read best, and what two films state then."""
    from counting.checks.coverage import why_not_judged
    from counting.checks.table import entry_name, packaged_table
    from counting.checks.together import packaged_films_table, stated_error
    from counting.checks.wording import VIEW_WORDS

    judged = [check for check in movement.checks if why_not_judged(check, movement) is None]
    scores = _scores([movement])
    if not judged or not scores:
        return _advice(movement)
    lines = [movement.name]
    errors: dict[tuple[str, str], dict[str, float]] = {}
    alone: dict[str, float] = {}
    for first, second in _TWO_VIEWS:
        if first in scores and second in scores:
            errors[first, second] = found = {}
            for check in judged:
                part = movement.part_of(check) or check.phase
                entry = packaged_table().find(check.quantity, movement.base, part)
                if entry is not None:
                    key = entry_name(check.quantity, movement.base, part)
                    alone[check.name] = min(entry.error(view) for view in scores)
                    found[check.name] = stated_error(
                        entry, (first, second), key, check.unit, packaged_films_table()
                    )
    if not errors:
        return _advice(movement)
    pair = min(errors, key=lambda views: sum(errors[views].values()))
    lines.append(f"  film it {VIEW_WORDS[pair[0]]} and {VIEW_WORDS[pair[1]]}")
    lines += [
        f"  {check.name}: ± {NORMAL_95 * errors[pair][check.name]:.0f} {check.unit}"
        f", with one phone ± {NORMAL_95 * alone[check.name]:.0f} {check.unit}"
        for check in judged
        if check.name in errors[pair]
    ]
    return [*lines, *(f"  not from a film: {asked}" for asked in movement.by_eye)]


_TWO_VIEWS: Final = (("front", "side"), ("front", "oblique"), ("oblique", "side"))


def _by_view(check: "Check", movement: "Movement") -> str:
    """Say how far one reading may be off from each view, 95 %, and how often there is one."""
    from counting.checks.coverage import why_not_judged
    from counting.checks.table import VIEWS, packaged_table

    reason = why_not_judged(check, movement)
    part = movement.part_of(check)
    calibration = packaged_table().find(check.quantity, movement.base, part or check.phase)
    if reason is not None or calibration is None:
        return reason or "not judged here: not calibrated"
    said = []
    for view in VIEWS:
        if calibration.films.get(view):
            error = NORMAL_95 * calibration.error(view)
            read = 100 * calibration.read_share[view]
            said.append(f"{view} ± {error:.0f} {check.unit} ({read:.0f} % read)")
    return ", ".join(said)


def _scores(movements: "list[Movement]") -> dict[str, float]:
    """Rate each view, lowest best: relative error of all checks, worse where often unread.

    Views without labelled films are left out.
    """
    from counting.checks.coverage import why_not_judged
    from counting.checks.table import VIEWS, packaged_table

    table = packaged_table()
    scores: dict[str, float] = {}
    for view in VIEWS:
        errors = []
        for movement in movements:
            for check in movement.checks:
                if why_not_judged(check, movement) is not None:
                    continue
                part = movement.part_of(check) or check.phase
                entry = table.find(check.quantity, movement.base, part)
                if entry is None or not entry.films.get(view):
                    break
                smallest = min(entry.error(v) for v in VIEWS if entry.films.get(v))
                errors.append(entry.error(view) / smallest / entry.read_share[view] ** 2)
            else:
                continue
            break
        else:
            if errors:
                scores[view] = sum(errors) / len(errors)
    return scores


def _together(movements: "list[Movement]") -> str:
    from counting.checks.wording import VIEW_WORDS

    scores = _scores(movements)
    if not scores:
        return "one phone: no single view suits all of them; film each station from its own side"
    return f"one phone for all: {VIEW_WORDS[min(scores, key=lambda view: scores[view])]}"
