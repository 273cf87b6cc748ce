"""``repwitness athlete``: a file about what an athlete knows of themselves."""

import json
from pathlib import Path
from typing import Annotated

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.options import VariantDone

HELP = """Keep a file about an athlete, from which attempts are planned.

'new' asks for what is known before a first attempt: sets to the limit, maxima, rep times, rests, an
engine test. Every question may be left empty. 'show' says what the file and its films tell, and how
that grew film by film. Test maxima only with a coach, safeties and a warm-up; stop on pain.
"""


group = typer.Typer(help=HELP, no_args_is_help=True, rich_markup_mode=None)


@group.command("new")
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The file to write, a TOML.")],
    workout: Annotated[
        Path | None,
        typer.Option("--workout", metavar="FILE", help="Ask only for this workout's movements."),
    ] = None,
    variant: VariantDone = None,
) -> None:
    """Ask the questions and write the file."""
    from counting.pacing.model.loads import known_loads
    from vision.files import WriteError, write_whole

    if file.exists():
        raise UserError(f"{file} exists already; edit it, or name another file", WRONG_USAGE)
    movements = sorted(known_loads()) if workout is None else _movements_of(workout, variant)
    typer.echo("Leave a question empty if you do not know; a guess is worse than no answer.")
    lines = []
    name = _asked("Name")
    if name:
        lines.append(f"name = {json.dumps(name)}")
    for key, question in (
        ("age", "Age, years"),
        ("body_kg", "Body mass, kg"),
        ("rest_s", "Usual rest between two sets, s"),
        ("changeover_s", "Usual time from one station to the next, s"),
    ):
        lines += _number_line(key, question)
    engine = _clock_line("row_2000_m", "2000 m on a rowing ergometer, m:ss")
    engine += _clock_line("run_5000_m", "5000 m on foot, m:ss")
    if engine:
        lines += ["", "[engine]", *engine]
    for movement in movements:
        lines += _movement_lines(movement)
    try:
        write_whole(file, "\n".join(lines) + "\n")
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
    typer.echo(f"written to {file}; plan with 'repwitness plan --workout FILE --athlete {file}'")


@group.command("show")
def show(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The athlete's file.")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="PAGE", help="Write how it grew to an HTML page as well."),
    ] = None,
) -> None:
    """Show what is estimated about the athlete, and how each film changed it."""
    from cli.card.growth import growth_page
    from cli.commands.plan import athlete_of, earlier_films, film_words
    from counting.pacing.card.growth import growth_of
    from counting.pacing.card.lines import belief_cells
    from vision.files import WriteError, write_whole

    person = athlete_of(file)
    films = [(film_words(audit), attempt) for audit, attempt in earlier_films(person, [])]
    if not films and not person.movements:
        raise UserError(f"{file}: neither movements nor films are in it yet", BAD_INPUT)
    growth = growth_of(person.known, films)
    for belief in growth.beliefs[-1]:
        typer.echo("  ".join(cell for cell in belief_cells(belief) if cell))
    if out is not None:
        try:
            write_whole(out, growth_page(person.name or file.stem, growth))
        except WriteError as error:
            raise UserError(str(error), BAD_INPUT) from error
        typer.echo(f"written to {out}")


def _movements_of(workout: Path, variant: str | None) -> tuple[str, ...]:
    from counting.pacing.model.loads import PacingError, known_loads
    from counting.pacing.search.course import course_of
    from counting.workout.file import WorkoutError, load_workout

    try:
        return course_of(load_workout(workout, known_loads(), variant)).movements
    except (WorkoutError, PacingError) as error:
        raise UserError(str(error), BAD_INPUT) from error


def _movement_lines(movement: str) -> list[str]:
    from counting.pacing.model.loads import load_of

    barbell = load_of(movement).usual_kg is not None
    lines = _number_line("unbroken", f"{movement}: most reps in one set when fresh (0.5: not yet)")
    if lines and barbell:
        lines += _number_line("at_kg", f"{movement}: with how many kg")
    if barbell:
        lines += _number_line("maximum_kg", f"{movement}: one-rep maximum, kg")
    lines += _number_line("rep_s", f"{movement}: seconds for one rep in a good rhythm")
    return ["", f"[movements.{json.dumps(movement)}]", *lines] if lines else []


def _number_line(key: str, question: str) -> list[str]:
    while True:
        text = _asked(question)
        if not text:
            return []
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if 0 < value <= 10000:
            return [f"{key} = {value:g}"]
        typer.echo(f"{text!r} is not a number above zero; leave it empty if you do not know")


def _clock_line(key: str, question: str) -> list[str]:
    while True:
        text = _asked(question)
        minutes, colon, rest = text.partition(":")
        if not text:
            return []
        if colon and minutes.isdigit() and rest.isdigit() and int(rest) < 60:
            return [f"{key} = {json.dumps(f'{int(minutes)}:{int(rest):02d}')}"]
        typer.echo(f"{text!r} is not a valid time; write it as 7:25")


def _asked(question: str) -> str:
    answer: str = typer.prompt(question, default="", show_default=False)
    return answer.strip()
