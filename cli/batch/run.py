"""A batch from its films to its table, wherever the films are audited."""

import hashlib
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from cli.audit.request import AuditRequest
from cli.batch.films import BatchFilm, LeftOut
from cli.batch.place import Place
from cli.batch.progress import Headway, each_looked_up
from cli.batch.results import Results
from cli.batch.table import BatchRow, write_failures, write_left_out, write_tables
from cli.errors import WRONG_USAGE, UserError
from cli.versions import tool_version
from counting.movements.loader import StandardsError, standards_digest
from vision.files import WriteError, read_whole
from vision.pose.bundle import MOST_BUNDLE_BYTES


def run_batch(
    films: Sequence[BatchFilm],
    template: AuditRequest,
    place: Place,
    left_out: Sequence[LeftOut] = (),
) -> Sequence[BatchRow]:
    """Audit the films that are not yet audited, and give one row for each film.

    Parameters
    ----------
    films
        The films, in the order in which they are to be begun.
    template
        What is asked of each; ``template.out`` is the folder of all results.
    place
        Where they are audited.
    left_out
        What lies beside the films, for the table of what was left out.

    Raises
    ------
    UserError
        The folder cannot be used, a table cannot be written into it, or a file that the request
        names cannot be read.
    """
    results = Results(template.out, _settings(template))
    try:
        return _run(films, template, place, results, left_out)
    except WriteError as error:
        raise UserError(str(error)) from error


def _run(
    films: Sequence[BatchFilm],
    template: AuditRequest,
    place: Place,
    results: Results,
    left_out: Sequence[LeftOut],
) -> Sequence[BatchRow]:
    with results.alone():
        write_left_out(left_out, template.out)
        rows = {}
        for film in each_looked_up(films):
            read = results.finished(film)
            if read is not None:
                rows[film.name] = BatchRow(film, read.record, None, read.doubt)
        open_films = [film for film in films if film.name not in rows]
        with (
            Headway(films, done=[row.film for row in rows.values()]) as headway,
            closing(place(open_films, template, results.start, headway.told)) as outcomes,
        ):
            for outcome in outcomes:
                row = _row(outcome.film, outcome.error, results)
                rows[row.film.name] = row
                headway.ended(row.film, row.error)
                if row.record is None:
                    write_failures(list(rows.values()), template.out)
        ordered = list(rows.values())
        write_tables(ordered, template.out)
    return ordered


def _row(film: BatchFilm, error: str | None, results: Results) -> BatchRow:
    if error is None:
        try:
            read = results.finish(film)
            return BatchRow(film, read.record, None, read.doubt)
        except (UserError, WriteError) as cause:
            error = str(cause)
        except OSError as cause:
            error = f"its results cannot be put in their place ({cause.strerror})"
    results.drop(film)
    return BatchRow(film, None, error)


def _settings(template: AuditRequest) -> dict[str, Any]:
    """Give what decides a film's result, files by their content."""
    return {
        "movement": template.movement,
        "workout": _digest(template.workout),
        "variant": template.variant,
        "standards": _standards(template.standards),
        "start_s": template.start_s,
        "end_s": template.end_s,
        "met_at_least": template.met_at_least,
        "not_met_at_most": template.not_met_at_most,
        "lane": template.lane,
        "thorough": template.thorough,
        "model": template.model if template.model == "full" else _digest(Path(template.model)),
        "reader": template.reader,
        "tool": tool_version(),
    }


def _standards(standards: tuple[Path, ...]) -> str | None:
    try:
        return standards_digest(standards)
    except StandardsError as error:
        raise UserError(str(error), WRONG_USAGE) from error


def _digest(file: Path | None) -> str | None:
    if file is None:
        return None
    try:
        return hashlib.sha256(read_whole(file, MOST_BUNDLE_BYTES)).hexdigest()
    except OSError as error:
        raise UserError(f"{file}: cannot be read ({error.strerror})", WRONG_USAGE) from error
