"""``repwitness validate``: how far the tool can be trusted, measured on labelled films."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.errors import BAD_INPUT, UserError
from cli.standards import OWN_STANDARDS, movement_asked, movements_known

if TYPE_CHECKING:
    from collections.abc import Callable

    from counting.lab.accuracy import FilmAccuracy
    from counting.lab.labels import LabelledFilm
    from counting.lab.verdict_tables import JudgedFilm
    from counting.movements.types import Movement
    from counting.record.types import AuditRecord


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("validate")(validate)


def validate(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="CLIPS_DIR",
            help="Folder of labelled films: NAME/clip.mp4 with NAME/truth.json, or NAME.mp4 with "
            "NAME.truth.json.",
        ),
    ],
    out: Annotated[
        Path,
        typer.Option("--out", help="Where audits and landmarks go; a second run reuses them."),
    ] = Path("validation.audits"),
    tracks: Annotated[
        Path | None,
        typer.Option(
            "--tracks",
            help="Folder of landmark files NAME.npz: count from them alone, without verdicts.",
        ),
    ] = None,
    standards: Annotated[
        list[Path] | None,
        typer.Option("--standards", metavar="FILE|DIR", help=OWN_STANDARDS),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the figures as JSON on standard output.")
    ] = False,
) -> None:
    """Measure counts, times, breaks and verdicts on labelled films.

    Prints exact-count rates with Wilson intervals by movement and view, the error of the ends of
    repetitions, breaks missed and invented, and how verdicts stand against the truth.
    """
    from counting.lab.accuracy import accuracy_report
    from counting.lab.labels import labelled_films
    from counting.lab.truth import TruthError
    from counting.lab.verdict_tables import verdict_report

    known = movements_known(standards)
    try:
        films, left_out = labelled_films(folder, known.values())
    except TruthError as error:
        raise UserError(str(error), BAD_INPUT) from error
    for name, reason in left_out.items():
        typer.echo(f"left out: {name} {reason}", err=True)
    if not films:
        raise UserError(f"{folder}: no labelled film of one movement that has a standard")
    judged: list[JudgedFilm] = []
    if tracks is not None:
        accuracies = _from_tracks(films, tracks, known)
    else:
        own = tuple(standards or ())
        accuracies, judged = _from_films(films, lambda film: _audit(film, out, own), known)
    if as_json:
        typer.echo(json.dumps(_figures(accuracies, judged), indent=1))
        return
    typer.echo(accuracy_report(accuracies))
    if judged:
        typer.echo("\n" + verdict_report(judged))


def _audit(film: "LabelledFilm", out: Path, standards: tuple[Path, ...]) -> "AuditRecord":
    from cli.audit.request import AuditRequest
    from cli.audit.run import audit_film
    from cli.progress import film_progress

    with film_progress() as progress:
        return audit_film(
            AuditRequest(
                film=film.film,
                movement=film.movement,
                workout=None,
                standards=standards,
                out=out / film.name,
                anyway=True,
            ),
            progress,
        )


def _from_films(
    films: "list[LabelledFilm]",
    audit: "Callable[[LabelledFilm], AuditRecord]",
    known: "dict[str, Movement]",
) -> "tuple[list[FilmAccuracy], list[JudgedFilm]]":
    from counting.lab.accuracy import film_accuracy
    from counting.lab.judged import found_in_record, judged_film

    accuracies, judged = [], []
    for film in films:
        record = audit(film)
        accuracies.append(film_accuracy(film, found_in_record(record)))
        judged.append(judged_film(film, record, movement_asked(film.movement, known)))
    return accuracies, judged


def _from_tracks(
    films: "list[LabelledFilm]", tracks: Path, known: "dict[str, Movement]"
) -> "list[FilmAccuracy]":
    from counting.lab.accuracy import Found, film_accuracy
    from counting.timeline import find_reps
    from vision.track import TrackError, load_track

    accuracies = []
    for film in films:
        file = tracks / f"{film.name}.npz"
        if not file.exists():
            typer.echo(f"repwitness: no landmark file {file}, film left out", err=True)
            continue
        try:
            timeline = find_reps(load_track(file), movement_asked(film.movement, known))
        except TrackError as error:
            raise UserError(str(error), BAD_INPUT) from error
        found = Found(
            reps=tuple((rep.start_s, rep.end_s) for rep in timeline.reps),
            breaks=tuple((gap.start_s, gap.end_s) for gap in timeline.breaks),
        )
        accuracies.append(film_accuracy(film, found))
    if not accuracies:
        raise UserError(f"{tracks}: holds no landmark file NAME.npz of any labelled film")
    return accuracies


def _figures(accuracies: "list[FilmAccuracy]", judged: "list[JudgedFilm]") -> dict[str, Any]:
    """Figures as plain JSON values; what is undefined is null."""
    import math
    from dataclasses import asdict
    from operator import attrgetter

    from counting.lab.accuracy import accuracy
    from counting.lab.verdict_tables import FAULTS, verdict_figures

    def finite(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: finite(item) for key, item in value.items()}
        if isinstance(value, list | tuple):
            return [finite(item) for item in value]
        return None if isinstance(value, float) and not math.isfinite(value) else value

    reps = [rep for film in judged for rep in film.reps]
    groups = {
        kind: {
            name: asdict(accuracy([film for film in accuracies if key(film) == name]))
            for name in sorted({key(film) for film in accuracies})
        }
        for kind, key in (
            ("by_movement", attrgetter("movement")),
            ("by_view", attrgetter("view")),
        )
    }
    figures = {
        "all": asdict(accuracy(accuracies)),
        **groups,
        "films": [asdict(film) for film in accuracies],
        "verdicts": asdict(verdict_figures(reps)) if reps else None,
        "verdicts_by_share_of_faults": {
            name: asdict(verdict_figures([rep for film in some for rep in film.reps]))
            for name in FAULTS
            if (some := [film for film in judged if film.faults == name])
        },
        "counts_held": [
            {"film": film.name, "good": film.true_good, "held_90": film.count_held(0.9)}
            for film in judged
        ],
    }
    plain: dict[str, Any] = finite(figures)
    return plain
