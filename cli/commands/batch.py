"""``repwitness batch``: the options, and the run from films to table."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.errors import BAD_INPUT
from cli.options import BallTarget, LimitsChanged, OwnStandards, VariantDone
from cli.target import target_told

if TYPE_CHECKING:
    from cli.batch.films import LeftOut
    from cli.batch.table import BatchRow


def batch(
    films: Annotated[
        str,
        typer.Argument(
            metavar="FOLDER_OR_LIST",
            help="Folder of films, a text file with one path or URL a line, or the URL of either.",
        ),
    ],
    out: Annotated[
        Path,
        typer.Option("--out", "-o", metavar="DIR", help="Folder for the results of all films."),
    ],
    movement: Annotated[
        str | None,
        typer.Option("--movement", "-m", metavar="NAME", help="The movement in every film."),
    ] = None,
    workout: Annotated[
        Path | None,
        typer.Option("--workout", "-w", metavar="FILE", help="The workout done in every film."),
    ] = None,
    variant: VariantDone = None,
    standards: OwnStandards = None,
    target: BallTarget = None,
    model: Annotated[
        str, typer.Option("--model", help="'full' or the path of a model bundle.")
    ] = "full",
    anyway: Annotated[
        bool,
        typer.Option("--anyway", help="Audit as --movement even films that look like another."),
    ] = False,
    thorough: Annotated[bool, typer.Option("--thorough", help="Look at every frame.")] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers", min=1, help="Films at a time on this machine. [default: one per core]"
        ),
    ] = None,
    film_memory: Annotated[
        float,
        typer.Option("--film-memory", min=0.5, metavar="GIB", help="Memory one film may use."),
    ] = 4.0,
    film_stalled: Annotated[
        float,
        typer.Option(
            "--film-stalled",
            min=1.0,
            metavar="S",
            help="Give up on a film that makes no progress for this long.",
        ),
    ] = 600.0,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Dask cluster that does the work (tcp://host:8786); needs the extra 'cluster'.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the table as JSON alone.")] = False,
    limit: LimitsChanged = None,
) -> None:
    """Audit many films; run it again after a stop to continue.

    All are audited with the same request. In a list a film may say more of itself, set off by a
    tab: target=0.4 0.2 0.6 0.21, which goes before --target, or second_view=FILM.

    Each film's results land in DIR/<film>.audit, whole or not at all. A film that fails does not
    stop the others: its error is in the table and in DIR/failures.csv, and the exit status is 3.
    What can be read as a film is one, whatever its name; the rest of a folder is left out and
    listed in DIR/left_out.csv. A film is done again when its content or what is asked changes.
    """
    from cli.audit.request import AuditRequest
    from cli.audit.run import audit_film, what_is_asked
    from cli.batch.film_process import Limits
    from cli.batch.films import find_films
    from cli.batch.run import run_batch
    from cli.batch.table import left_out_words
    from cli.film_limits import film_limits

    of_all = target_told(target, "--target")
    found, left_out = find_films(films, besides=out)
    found = [replace(film, target=film.target or of_all) for film in found]
    template = AuditRequest(
        film=Path(),
        movement=movement,
        workout=workout,
        variant=variant,
        standards=tuple(standards or ()),
        out=out,
        thorough=thorough,
        anyway=anyway,
        model=model,
        limits=film_limits(limit),
    )
    what_is_asked(template)  # a mistake in the request is said once, not for every film
    limits = Limits(stalled_s=film_stalled, memory_bytes=int(film_memory * 2**30))
    if scheduler is None:
        from cli.batch.local import here

        place = here(workers, audit_film, limits)
    else:
        from cli.batch.cluster import on_cluster

        place = on_cluster(scheduler, audit_film, limits)
    for line in left_out_words(left_out, out):
        typer.echo(line, err=True)
    rows = run_batch(found, template, place, left_out)
    _tell(rows, left_out, as_json=as_json)
    if any(row.record is None for row in rows):
        raise typer.Exit(BAD_INPUT)


def _tell(rows: "Sequence[BatchRow]", left_out: "Sequence[LeftOut]", *, as_json: bool) -> None:
    from cli.batch.table import print_rows, summary_document
    from cli.tables import audit_console

    if as_json:
        import json

        typer.echo(json.dumps(summary_document(rows, left_out), indent=1, ensure_ascii=False))
    else:
        print_rows(rows, audit_console())
