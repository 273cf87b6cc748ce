"""``repwitness plan``: a plan for the next attempt, and an attempt laid over its plan."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.options import OwnStandards, VariantDone
from cli.standards import movements_known

if TYPE_CHECKING:
    from cli.audit.opening import Audit
    from counting.pacing.card.document import PlanDocument
    from counting.pacing.model.athlete_file import AthleteFile
    from counting.pacing.model.attempt import Attempt
    from counting.pacing.model.known import Known
    from counting.pacing.search.course import Course
    from counting.pacing.search.utility import Target

HELP = """Plan the next attempt.

Goes by what the athlete knows and by audits of earlier attempts.

Writes card.html (one page to print), details.html (what it rests on), plan.svg and plan.json into
the folder given by --out.

No trial establishes the best way to break up a workout; the plan says what was measured, what was
assumed, and which plans are equal within the noise. Warm up, stop on pain, look after your hands,
never train to failure under a loaded bar without safeties; ask your coach and your physician.
"""


def plan(
    more: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[AUDIT]...", help="More audits of the same athlete."),
    ] = None,
    workout: Annotated[
        Path | None, typer.Option("--workout", metavar="FILE", help="The workout to plan.")
    ] = None,
    variant: VariantDone = None,
    audits: Annotated[
        list[Path] | None,
        typer.Option(
            "--from", metavar="AUDIT", help="Audit of an earlier attempt; may be repeated."
        ),
    ] = None,
    athlete: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The athlete's file; audits given by --from are noted in it.",
        ),
    ] = None,
    unbroken: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MOVEMENT=REPS",
            help='A capacity you know, as in "bar muscle-up=6" or "thruster@43=25" (kg).',
        ),
    ] = None,
    target: Annotated[
        str | None,
        typer.Option(metavar="REPS|TIME", help="Plan for the best chance of this: 120, or 9:30."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where to write; default: FILE's stem + .plan"),
    ] = None,
    check: Annotated[
        tuple[Path, Path] | None,
        typer.Option(metavar="AUDIT PLAN", help="Compare an attempt with its plan instead."),
    ] = None,
    standards: OwnStandards = None,
    seed: Annotated[int, typer.Option(help="Random seed; the same seed gives the same plan.")] = 0,
    json: Annotated[
        bool, typer.Option("--json", help="Print the plan file and nothing else.")
    ] = False,
) -> None:
    """Plan or check; see the help above."""
    from counting.pacing.model.loads import planning_with

    with planning_with(movements_known(standards).values()):
        if check is not None:
            _check(*check, json=json)
        else:
            _plan(more, (workout, variant), audits, athlete, unbroken, target, out, seed, json=json)


def _plan(
    more: list[Path] | None,
    asked: tuple[Path | None, str | None],
    audits: list[Path] | None,
    athlete: Path | None,
    unbroken: list[str] | None,
    target: str | None,
    out: Path | None,
    seed: int,
    *,
    json: bool,
) -> None:
    workout, variant = asked
    if workout is None:
        raise UserError("say which workout to plan with --workout FILE", WRONG_USAGE)
    sources = [*(audits or []), *(more or [])]
    typed = typed_capacities(unbroken or [])
    person = athlete_of(athlete) if athlete is not None else None
    if not sources and not typed and person is None:
        raise UserError(
            "a plan needs --athlete FILE, --from AUDIT of an earlier attempt, or at least one "
            '--unbroken "MOVEMENT=REPS"',
            WRONG_USAGE,
        )
    document = _planned((workout, variant), sources, typed, person, target, seed)
    if athlete is not None and person is not None and sources:
        _note_films(athlete, person, sources)
    folder = out or workout.with_suffix(".plan")
    _write(document, folder)
    if json:
        from counting.pacing.card.document import plan_json

        typer.echo(plan_json(document), nl=False)
        return
    from cli.tables.audit import audit_console
    from cli.tables.plan import print_plan

    print_plan(document, audit_console())
    typer.echo(f"written to {folder}: card.html to print, details.html, plan.svg, plan.json")


def typed_capacities(items: list[str]) -> dict[str, tuple[float, float | None]]:
    """Read ``MOVEMENT=REPS`` and ``MOVEMENT@KG=REPS`` items.

    Returns
    -------
    Reps, and the load they were done with or None, by movement.

    Raises
    ------
    UserError
        An item has no number above zero, or names a movement that cannot be planned.
    """
    from counting.pacing.model.loads import PacingError, load_of

    capacities: dict[str, tuple[float, float | None]] = {}
    for item in items:
        name, _, reps = item.rpartition("=")
        movement, at, kg = name.partition("@")
        try:
            value, load_kg = float(reps), float(kg.removesuffix("kg")) if at else None
        except ValueError:
            value, load_kg = float("nan"), None
        if not movement or not 0 < value <= 1000 or (load_kg is not None and not load_kg > 0):
            raise UserError(
                f'--unbroken {item!r}: write a movement and its reps, as in "bar muscle-up=6"; '
                "for a movement out of reach write 0.3",
                WRONG_USAGE,
            )
        try:
            capacities[load_of(movement.strip()).movement] = value, load_kg
        except PacingError as error:
            raise UserError(f"--unbroken {item!r}: {error}", WRONG_USAGE) from error
    return capacities


def read_target(text: str, course: "Course") -> "Target":
    """Read a target: reps, or a finishing time as ``m:ss``.

    Raises
    ------
    UserError
        It is neither, or the workout does not hold so many reps.
    """
    from counting.pacing.search.utility import Target

    minutes, colon, seconds = text.partition(":")
    if colon and minutes.isdigit() and seconds.isdigit():
        time_s = 60.0 * int(minutes) + int(seconds)
        if not course.finishing:
            raise UserError(
                f"--target {text!r}: this workout is scored in reps, so give reps", WRONG_USAGE
            )
        if not 0 < time_s <= course.cap_s:
            raise UserError(
                f"--target {text!r}: give a time above zero and within the time cap of "
                f"{course.cap_s / 60:g} minutes",
                WRONG_USAGE,
            )
        return Target(time_s=time_s)
    if text.isdigit() and 1 <= int(text) <= course.reps:
        return Target(reps=int(text))
    raise UserError(
        f"--target {text!r}: give reps from 1 to {course.reps}, or a time as 9:30", WRONG_USAGE
    )


def _planned(
    asked: tuple[Path, str | None],
    sources: list[Path],
    typed: dict[str, tuple[float, float | None]],
    person: "AthleteFile | None",
    target: str | None,
    seed: int,
) -> "PlanDocument":
    from counting.pacing.card.document import RedlinePart
    from counting.pacing.card.words import redline_words
    from counting.pacing.card.writing import document_of
    from counting.pacing.model.fit import fit_athlete
    from counting.pacing.model.loads import PacingError, known_loads
    from counting.pacing.model.redline import find_redline
    from counting.pacing.search.advice import advise
    from counting.pacing.search.course import course_of
    from counting.workout.file import WorkoutError, load_workout

    workout, variant = asked
    engine = None if person is None else person.known.engine
    try:
        course = course_of(load_workout(workout, known_loads(), variant), engine or 1.0)
    except (WorkoutError, PacingError) as error:
        raise UserError(_naming(workout, str(error)), BAD_INPUT) from error
    wanted = None if target is None else read_target(target, course)
    opened = [*earlier_films(person, sources), *(_attempt(path) for path in sources)]
    known = _known(person, typed)
    told = {movement for _, attempt in opened for movement in attempt.movements}
    told |= known.movements.keys()
    if not told & set(course.movements):
        raise UserError(
            f"{workout}: nothing is known of this workout's movements "
            f"({', '.join(course.movements)}); known: {', '.join(sorted(told)) or 'none'}. "
            "Give the audit of a film that shows one of them, or what you know with --unbroken",
            BAD_INPUT,
        )
    attempts = [attempt for _, attempt in opened]
    fit = fit_athlete(attempts, course.movements, known, seed, at_kg=course.at_kg)
    redlines = []
    for audit, attempt in opened:
        found = find_redline(attempt, seed, fit)
        if found is not None:
            redlines.append(RedlinePart(film=film_words(audit), words=redline_words(found)))
    advice = advise(fit, course, wanted, seed)
    return document_of(advice, [film_words(audit) for audit, _ in opened], redlines, seed)


def athlete_of(path: Path) -> "AthleteFile":
    """Read an athlete's file."""
    from counting.pacing.model.athlete_file import load_athlete
    from counting.pacing.model.loads import PacingError

    try:
        return load_athlete(path)
    except PacingError as error:
        raise UserError(
            f"{error}; 'repwitness athlete new FILE' asks for what it takes", BAD_INPUT
        ) from error


def _known(person: "AthleteFile | None", typed: dict[str, tuple[float, float | None]]) -> "Known":
    """Take what the file tells, overruled by what was typed in."""
    from dataclasses import replace

    from counting.pacing.model.known import Known, KnownMovement

    known = person.known if person is not None else Known()
    movements = dict(known.movements)
    for name, (reps, at_kg) in typed.items():
        before = movements.get(name, KnownMovement())
        movements[name] = replace(before, unbroken=reps, at_kg=at_kg)
    return replace(known, movements=movements)


def earlier_films(
    person: "AthleteFile | None", sources: list[Path]
) -> list[tuple["Audit", "Attempt"]]:
    """Open the films noted in the athlete's file, oldest first, less weighty the older they are."""
    from dataclasses import replace
    from datetime import date

    if person is None or not person.films:
        return []
    latest = date.today() if sources else max(film.date for film in person.films)
    given = {path.resolve() for path in sources}
    earlier = []
    for film in sorted(person.films, key=lambda item: item.date):
        if Path(film.audit).resolve() not in given:
            audit, attempt = _attempt(Path(film.audit))
            earlier.append((audit, replace(attempt, weight=film.weight(latest))))
    return earlier


def _note_films(path: Path, person: "AthleteFile", sources: list[Path]) -> None:
    """Add films to the athlete's file, so that the next plan knows them."""
    import json
    from datetime import date

    from vision.files import WriteError, write_whole

    noted = {Path(film.audit).resolve() for film in person.films}
    new = [source.resolve() for source in sources if source.resolve() not in noted]
    if not new:
        return
    text = path.read_text(encoding="utf-8").rstrip() + "\n"
    for audit in new:
        text += f"\n[[films]]\naudit = {json.dumps(str(audit))}\ndate = {date.today()}\n"
    try:
        write_whole(path, text)
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
    typer.echo(f"noted in {path}: {', '.join(audit.name for audit in new)}", err=True)


def _attempt(path: Path) -> tuple["Audit", "Attempt"]:
    from cli.audit.opening import open_audit
    from counting.pacing.model.attempt import attempt_of
    from counting.pacing.model.loads import PacingError

    opened = open_audit(path)
    try:
        return opened, attempt_of(opened.record)
    except PacingError as error:
        raise UserError(_naming(path, str(error)), BAD_INPUT) from error


def film_words(audit: "Audit") -> str:
    """Name an audit's film, with what the seal tells against its record."""
    from counting.record.seal import stamp

    file = audit.record.film.file
    return file if audit.doubt is None else f"{file} ({stamp(audit.doubt)})"


def _naming(path: Path, message: str) -> str:
    return message if str(path) in message else f"{path}: {message}"


def _write(document: "PlanDocument", folder: Path) -> None:
    from cli.card.page import details_page, plan_page
    from counting.pacing.card.document import plan_json
    from counting.pacing.card.picture import plan_picture
    from vision.files import WriteError, write_whole

    try:
        write_whole(folder / "plan.json", plan_json(document))
        write_whole(folder / "card.html", plan_page(document))
        write_whole(folder / "details.html", details_page(document))
        write_whole(folder / "plan.svg", plan_picture(document))
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error


def _check(audit: Path, plan_file: Path, *, json: bool) -> None:
    from counting.pacing.card.document import load_plan
    from counting.pacing.card.overlay import laid_json, laid_over
    from counting.pacing.model.loads import PacingError

    try:
        document = load_plan(plan_file)
    except PacingError as error:
        raise UserError(f"{error}; make one with 'repwitness plan --workout FILE'") from error
    opened, attempt = _attempt(audit)
    try:
        laid = laid_over(attempt, document)
    except PacingError as error:
        raise UserError(f"{audit}: {error}", BAD_INPUT) from error
    if json:
        typer.echo(laid_json(laid, opened.doubt), nl=False)
        return
    from cli.tables.audit import audit_console
    from cli.tables.plan import print_check

    followed = opened.record.workout
    name = None if followed is None else followed.definition.name
    if name is not None and name != document.workout:
        typer.echo(f"note: the audit is of the workout {name!r}, the plan of {document.workout!r}")
    print_check(film_words(opened), document, laid, audit_console())
