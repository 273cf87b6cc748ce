"""``repwitness demo``: the sample workout from the film to the report, the plan and the desk."""

import re
from pathlib import Path
from typing import Annotated, Final

import typer

from cli.errors import BAD_INPUT, UserError

SAMPLE: Final = "boathouse_two_blocks"
_PLACES: Final = (
    Path(__file__).parents[1] / "samples",  # in an installed package
    Path(__file__).parents[2] / "sample_clips",  # in a checkout
)


def demo(
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="DIR", help="Folder to work in.")
    ] = Path("repwitness-demo"),
    desk: Annotated[
        bool, typer.Option("--desk/--no-desk", help="Open the review desk at the end.")
    ] = True,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Show the pages in your browser.")
    ] = True,
) -> None:
    """Try everything on a sample workout.

    It audits the film, writes report and plan, and opens the review desk.

    The film is drawn, not filmed: nobody's attempt is judged. It takes a minute or two.
    """
    from cli.commands.audit import audit
    from cli.commands.plan import plan
    from cli.commands.report import report

    film, workout = _sample_in(out)
    folder = film.with_suffix(".audit")
    typer.echo(f"1 of 4: repwitness audit {film} --workout {workout}")
    audit(film, workout=workout, out=folder)
    typer.echo(f"\n2 of 4: repwitness report {folder}")
    report(folder)
    planned = out / f"{SAMPLE}.plan"
    typer.echo(f"\n3 of 4: repwitness plan --workout {workout} --from {folder}")
    plan(workout=workout, audits=[folder], out=planned)
    if browser:
        _show((folder / "report.html").resolve().as_uri())
        _show((planned / "card.html").resolve().as_uri())
    if not desk:
        typer.echo(f"\n4 of 4: repwitness review {out}")
        return
    from cli.review.serving import serve

    def say(words: str) -> None:
        typer.echo(words)
        address = re.search(r"http://\S+", words)
        if browser and address is not None:
            _show(address[0])

    typer.echo(f"\n4 of 4: repwitness review {out}")
    serve(out, "127.0.0.1", 0, [], None, say)


def _sample_in(folder: Path) -> tuple[Path, Path]:
    """Copy the sample film and its workout into a folder."""
    from vision.files import WriteError, write_whole

    place = next((p for p in _PLACES if (p / f"{SAMPLE}.mp4").is_file()), None)
    if place is None:
        raise UserError(
            "the sample workout is not installed; run the demo from a checkout of the source",
            BAD_INPUT,
        )
    made = []
    try:
        for suffix in (".mp4", ".toml"):
            target = folder / f"{SAMPLE}{suffix}"
            write_whole(target, (place / target.name).read_bytes())
            made.append(target)
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
    return made[0], made[1]


def _show(address: str) -> None:
    import webbrowser

    webbrowser.open(address)
