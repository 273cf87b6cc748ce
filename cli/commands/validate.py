"""``repwitness validate``: how far the tool can be trusted, measured on labelled films."""

import json
import math
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.options import OwnStandards
from cli.standards import movement_asked, movements_known
from vision.reader import READER_HELP, TWO_NETWORKS, ReaderError, reader_named

if TYPE_CHECKING:
    from collections.abc import Callable

    from counting.lab.accuracy import FilmAccuracy
    from counting.lab.labels import LabelledFilm
    from counting.lab.verdict_tables import JudgedFilm
    from counting.movements.types import Movement
    from counting.record.types import AuditRecord


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
    standards: OwnStandards = None,
    readers: Annotated[
        list[str] | None,
        typer.Option(
            "--reader",
            help=f"{READER_HELP} Name several to see them side by side. [default: {TWO_NETWORKS}]",
        ),
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
    if tracks is not None:
        found = {"": Measured(_from_tracks(films, tracks, known), [])}
    else:
        _check(readers or [])
        own = tuple(standards or ())
        found = {
            reader: _measured(films, known, partial(_audit, out=out, standards=own, reader=reader))
            for reader in dict.fromkeys(readers or [TWO_NETWORKS])
        }
    if as_json:
        figures = {reader: _figures(one) for reader, one in found.items()}
        one_reader = next(iter(figures.values())) if len(figures) == 1 else None
        typer.echo(json.dumps(one_reader or {"by_reader": figures}, indent=1))
        return
    for reader, one in found.items():
        title = f"Reader {reader}\n" if len(found) > 1 else ""
        typer.echo(title + accuracy_report(one.accuracies))
        if one.judged:
            typer.echo("\n" + verdict_report(one.judged) + "\n")
    if len(found) > 1:
        typer.echo(_side_by_side(found))


def _check(readers: "list[str]") -> None:
    for reader in readers:
        try:
            reader_named(reader)
        except ReaderError as error:
            raise UserError(str(error), WRONG_USAGE) from error


def _audit(
    film: "LabelledFilm", *, out: Path, standards: tuple[Path, ...], reader: str
) -> "AuditRecord":
    from cli.audit.request import AuditRequest
    from cli.audit.run import audit_film
    from cli.progress import film_progress

    own = out if reader == TWO_NETWORKS else out / reader
    with film_progress() as progress:
        return audit_film(
            AuditRequest(
                film=film.film,
                movement=film.movement,
                workout=None,
                standards=standards,
                out=own / film.name,
                anyway=True,
                reader=reader,
            ),
            progress,
        )


@dataclass(frozen=True, slots=True)
class Measured:
    """What one reader's audits of labelled films come to.

    ``processor_s`` and ``film_s`` are processor time and length of the films, NaN where nothing was
    audited.
    """

    accuracies: "list[FilmAccuracy]"
    judged: "list[JudgedFilm]"
    processor_s: float = math.nan
    film_s: float = math.nan

    @property
    def cost(self) -> float:
        """Processor time over the films' length; kept landmarks cost next to nothing."""
        return self.processor_s / self.film_s


def _side_by_side(found: dict[str, Measured]) -> str:
    """Accuracy and cost of several readers, one a line."""
    from counting.lab.accuracy import accuracy

    lines = [
        "Readers side by side (processor seconds a film second, less where landmarks are kept)",
        f"  {'':<16}{'films':>6}{'exact':>7}{'within 1':>10}{'end, frames':>14}{'cost':>8}",
    ]
    for reader, one in found.items():
        a = accuracy(one.accuracies)
        ends = f"{a.end_median_frames:.1f} / {a.end_95_frames:.1f}"
        lines.append(
            f"  {reader:<16}{a.films:>6}{a.exact:>7}{a.within_one:>10}{ends:>14}{one.cost:>8.2f}"
        )
    return "\n".join(lines)


def _measured(
    films: "list[LabelledFilm]",
    known: "dict[str, Movement]",
    audit: "Callable[[LabelledFilm], AuditRecord]",
) -> Measured:
    from counting.lab.accuracy import film_accuracy
    from counting.lab.judged import found_in_record, judged_film

    accuracies, judged = [], []
    begun_s, film_s = _processor_s(), 0.0
    for film in films:
        record = audit(film)
        film_s += record.film.duration_s
        accuracies.append(film_accuracy(film, found_in_record(record)))
        judged.append(judged_film(film, record, movement_asked(film.movement, known)))
    return Measured(accuracies, judged, _processor_s() - begun_s, film_s)


def _processor_s() -> float:
    """Processor time of this process and of those that it has waited for, seconds."""
    return sum(os.times()[:4])


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


def _figures(found: Measured) -> dict[str, Any]:
    """Figures as plain JSON values; what is undefined is null."""
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

    accuracies, judged = found.accuracies, found.judged
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
        "processor_s_a_film_s": found.cost,
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
