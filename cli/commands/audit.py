"""``repwitness audit``: one film in, a judged rep timeline out."""

from pathlib import Path
from typing import Annotated, Final

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.options import BallTarget, LimitsChanged, OwnStandards, VariantDone
from cli.target import target_told
from cli.times import parse_time_s
from vision.reader import READER_HELP, TWO_NETWORKS

_HEIGHTS_M: Final = (1.2, 2.3)
"""Adults' statures, with room: what is typed beyond is a slip of the unit."""


def audit(
    film: Annotated[Path, typer.Argument(help="The film.", metavar="FILM", show_default=False)],
    movement: Annotated[
        str | None,
        typer.Option("--movement", "-m", help="The movement in it; see 'repwitness movements'."),
    ] = None,
    workout: Annotated[
        Path | None,
        typer.Option("--workout", "-w", help="Workout file (TOML), for several movements."),
    ] = None,
    variant: VariantDone = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="Folder for the results [FILM's name + .audit/]."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the audit record alone, as JSON.")
    ] = False,
    start: Annotated[
        str | None,
        typer.Option(
            "--start", help="When in the film the clock starts: 5 or 0:05.", metavar="TIME"
        ),
    ] = None,
    end: Annotated[
        str | None,
        typer.Option("--end", help="Stop looking at this time.", metavar="TIME"),
    ] = None,
    standards: OwnStandards = None,
    risk: Annotated[
        tuple[float, float],
        typer.Option(
            "--risk",
            help="Call a check met from the first probability up, not met from the second down.",
        ),
    ] = (0.95, 0.05),
    second_view: Annotated[
        list[Path] | None,
        typer.Option(
            "--second-view",
            metavar="FILM",
            help="A further film of the same attempt from elsewhere; up to three times.",
        ),
    ] = None,
    second_lane: Annotated[
        tuple[float, float] | None,
        typer.Option("--second-lane", help="As --lane, in the further films."),
    ] = None,
    lane: Annotated[
        tuple[float, float] | None,
        typer.Option(
            "--lane",
            help="Where the athlete is: left and right edge, as shares of the width.",
        ),
    ] = None,
    height: Annotated[
        float | None,
        typer.Option(
            "--height",
            metavar="METRES",
            help="How tall the athlete is, 1.82; without it lengths are off by 5.5 %.",
        ),
    ] = None,
    target: BallTarget = None,
    model: Annotated[
        str, typer.Option("--model", help='"full", or the path of a pose model bundle.')
    ] = "full",
    reader: Annotated[str, typer.Option("--reader", help=READER_HELP)] = TWO_NETWORKS,
    thorough: Annotated[bool, typer.Option("--thorough", help="Look at every frame.")] = False,
    anyway: Annotated[
        bool,
        typer.Option("--anyway", help="Audit as --movement even if the film looks like another."),
    ] = False,
    tuned: Annotated[
        Path | None,
        typer.Option(
            "--tuned",
            metavar="FILE",
            help="What people's calls taught; 'repwitness agreement --tune' makes it.",
        ),
    ] = None,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Parallel processes; 0: one per core.")
    ] = 0,
    limit: LimitsChanged = None,
) -> None:
    """Count and judge the reps of one film.

    With --second-view, further films of the same attempt are judged with it; nothing has to be
    typed in, but their sound has to be on.

    Prints what was seen, the sets, the reps that may not count and why;
    writes audit.json, reps.csv, sets.csv and the landmark file. Exit status: 0 done, 2 wrong
    usage, 3 a film that cannot be read, holds no athlete or looks like another movement.
    """
    from cli.audit.request import AuditRequest
    from cli.audit.run import audit_film
    from cli.film_limits import film_limits
    from cli.names import within_limit
    from cli.progress import film_progress
    from vision.cores import core_count
    from vision.files import exists

    for path in (film, *(second_view or ())):
        if not exists(path):
            raise UserError(f"{path}: no such film; check the name", BAD_INPUT)
    if not 0.0 <= risk[1] < risk[0] <= 1.0:
        raise UserError("--risk: two probabilities from 0 to 1, the larger first", WRONG_USAGE)
    for name, edges in (("--lane", lane), ("--second-lane", second_lane)):
        if edges is not None and not 0.0 <= edges[0] < edges[1] <= 1.0:
            raise UserError(f"{name}: two shares from 0 to 1, the left edge first", WRONG_USAGE)
    if height is not None and not _HEIGHTS_M[0] <= height <= _HEIGHTS_M[1]:
        raise UserError(
            "--height: metres, from {:g} to {:g}; 1.82, say".format(*_HEIGHTS_M), WRONG_USAGE
        )
    request = AuditRequest(
        film=film,
        movement=movement,
        workout=workout,
        variant=variant,
        standards=tuple(standards or ()),
        out=out if out is not None else film.with_name(within_limit(film.stem, ".audit")),
        start_s=None if start is None else parse_time_s(start, "--start"),
        end_s=None if end is None else parse_time_s(end, "--end"),
        met_at_least=risk[0],
        not_met_at_most=risk[1],
        lane=lane,
        thorough=thorough,
        anyway=anyway,
        tuned=tuned,
        model=model,
        reader=reader,
        workers=workers or core_count(),
        limits=film_limits(limit),
        second_views=tuple(second_view or ()),
        second_lane=second_lane,
        height_m=height,
        target=target_told(target, "--target"),
    )
    with film_progress() as progress:
        record = audit_film(request, progress)
    if as_json:
        from counting.record.files import record_json

        typer.echo(record_json(record), nl=False)
        return
    from shlex import quote

    from cli.tables import print_audit

    # The desk shows films that lie in its folder.
    shared = film.parent if request.out.parent == film.parent else request.out

    print_audit(record, review=quote(str(shared)), report=quote(str(request.out)))
    typer.echo(f"written to {request.out}")
