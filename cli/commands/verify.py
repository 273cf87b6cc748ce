"""``repwitness verify``: audit a film again and say whether a record is reproduced."""

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from vision.reader import TWO_NETWORKS

if TYPE_CHECKING:
    from cli.audit.request import AuditRequest
    from counting.record.differences import Difference
    from counting.record.types import AuditRecord, FilmPart

DIFFERS: Final = 1
"""Exit status where a record is not reproduced."""
_SHOWN: Final = 20
"""Differences that are told one by one."""


def verify(
    audit: Annotated[Path, typer.Argument(help="The audit's folder or its audit.json.")],
    film: Annotated[Path, typer.Argument(help="The film it was made from.")],
    workout: Annotated[
        Path | None, typer.Option("--workout", "-w", help="The workout file it followed.")
    ] = None,
    variant: Annotated[
        str | None,
        typer.Option("--variant", metavar="NAME", help="The workout file's variant it followed."),
    ] = None,
    standards: Annotated[
        list[Path] | None,
        typer.Option("--standards", metavar="FILE|DIR", help="The movement standards it used."),
    ] = None,
    tuned: Annotated[
        Path | None,
        typer.Option("--tuned", help="The file of people's calls, if the audit used one."),
    ] = None,
    model: Annotated[
        str | None,
        typer.Option("--model", help="The pose model, if the audit used your own."),
    ] = None,
    second_view: Annotated[
        list[Path] | None,
        typer.Option("--second-view", metavar="FILM", help="The further films, in their order."),
    ] = None,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Parallel processes; 0: one per core.")
    ] = 0,
) -> None:
    """Audit the film again and compare with the record.

    Uses the record's settings and says "reproduced", or what differs.

    Nothing is written. Exit status: 0 reproduced, 1 it differs or was edited, 2 wrong usage, 3 a
    film or record that cannot be read.
    """
    from cli.audit.opening import open_audit
    from cli.audit.run import audit_film
    from cli.progress import film_progress
    from counting.record.differences import record_differences, version_differences
    from counting.record.seal import EDITED
    from vision.cores import core_count

    opened = open_audit(audit, film)
    record = opened.record
    given = {"workout": () if workout is None else (workout,), "standards": tuple(standards or ())}
    _check_film(film, record.film)
    views = tuple(second_view or ())
    if len(views) != len(record.further_films):
        raise UserError(
            f"the record was made with {len(record.further_films)} further films: name them with "
            "--second-view, in their order",
            WRONG_USAGE,
        )
    for path, view in zip(views, record.further_films, strict=True):
        _check_film(path, view.film)
    _check_files(record, given)
    _check_tuned(record, tuned)
    with tempfile.TemporaryDirectory(prefix="repwitness-") as folder:
        request = replace(
            _request(record, film, Path(folder), given, model, workers or core_count()),
            tuned=tuned,
            variant=variant,
            second_views=views,
            second_lane=record.further_films[0].lane if views else None,
        )
        with film_progress() as progress:
            again = audit_film(request, progress)
    edited = opened.doubt == EDITED
    versions = version_differences(record, again)
    differences = record_differences(record, again)
    for line in _told(record, edited, versions, differences):
        typer.echo(line)
    if edited or not all(difference.is_rounding for difference in differences):
        raise typer.Exit(DIFFERS)


def _told(
    record: "AuditRecord",
    edited: bool,
    versions: "Sequence[Difference]",
    differences: "Sequence[Difference]",
) -> list[str]:
    from counting.record.seal import EDITED, UNSEALED

    lines = []
    if edited:
        lines.append(EDITED)
    elif record.digest is None:
        lines.append(UNSEALED)
    lines += [f"made by other means: {difference.words}" for difference in versions]
    telling = [difference for difference in differences if not difference.is_rounding]
    if telling:
        lines += [f"differs: {difference.words}" for difference in telling[:_SHOWN]]
        if len(telling) > _SHOWN:
            lines.append(f"and {len(telling) - _SHOWN} more")
        return [*lines, f"not reproduced: {len(telling)} values differ"]
    if edited:
        return [*lines, "not reproduced: the verdicts match, but the record is another"]
    if differences:
        values = "1 value" if len(differences) == 1 else f"{len(differences)} values"
        return [*lines, f"reproduced except for rounding in {values}"]
    return [*lines, "reproduced"]


def _check_film(film: Path, audited: "FilmPart") -> None:
    import hashlib

    try:
        with film.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise UserError(f"{film}: cannot be read ({error.strerror})", BAD_INPUT) from error
    if digest != audited.sha256:
        raise UserError(
            f"{film}: is not the film of this record ({audited.file}): its content differs; "
            "give the file that was audited",
            BAD_INPUT,
        )


def _check_files(record: "AuditRecord", given: dict[str, tuple[Path, ...]]) -> None:
    from counting.movements.loader import StandardsError, standards_digest

    for name, paths in given.items():
        expected = record.versions.standards.get(name)
        if not paths and expected is not None:
            raise UserError(f"the record was made with a {name} file: name it with --{name}")
        if not paths:
            continue
        if expected is None:
            raise UserError(
                f"the record was made without a {name} file; leave out --{name}", WRONG_USAGE
            )
        try:
            digest = standards_digest(paths)
        except StandardsError as error:
            raise UserError(str(error), BAD_INPUT) from error
        if digest != expected:
            named = ", ".join(map(str, paths))
            what = "is not the" if len(paths) == 1 else "are not the"
            raise UserError(
                f"{named}: {what} {name} file of this record: its content differs", BAD_INPUT
            )


def _check_tuned(record: "AuditRecord", tuned: Path | None) -> None:
    from counting.checks.tuning import TuningError, load_tuning

    expected = record.versions.tuned
    if tuned is None and expected is not None:
        raise UserError("the record was made with a file of people's calls: name it with --tuned")
    if tuned is None:
        return
    if expected is None:
        raise UserError("the record was made without --tuned; leave it out", WRONG_USAGE)
    try:
        digest = load_tuning(tuned).sha256
    except TuningError as error:
        raise UserError(str(error), BAD_INPUT) from error
    if digest != expected.sha256:
        raise UserError(
            f"{tuned}: is not the file of people's calls of this record: its content differs",
            BAD_INPUT,
        )


def _request(
    record: "AuditRecord",
    film: Path,
    folder: Path,
    given: dict[str, tuple[Path, ...]],
    model: str | None,
    workers: int,
) -> "AuditRequest":
    from cli.audit.request import AuditRequest
    from counting.objects.line import target_of

    extraction = record.versions.extraction
    lane = extraction.get("lane")
    height_m = extraction.get("height_m")
    target = extraction.get("target")
    try:
        return AuditRequest(
            film=film,
            movement=record.movement,
            workout=next(iter(given["workout"]), None),
            standards=given["standards"],
            out=folder,
            start_s=_start_by_hand(record),
            end_s=extraction.get("end_s"),
            met_at_least=record.risk.met_at_least,
            not_met_at_most=record.risk.not_met_at_most,
            lane=None if lane is None else (float(lane[0]), float(lane[1])),
            thorough=bool(extraction.get("thorough", False)),
            anyway=True,
            model=model or record.versions.model,
            reader=str(extraction.get("reader", TWO_NETWORKS)),
            workers=workers,
            height_m=None if height_m is None else float(height_m),
            target=None if target is None else target_of(target),
        )
    except (TypeError, ValueError, IndexError, KeyError) as error:
        raise UserError(
            f"the record's settings of extraction cannot be used ({error})", BAD_INPUT
        ) from error


def _start_by_hand(record: "AuditRecord") -> float | None:
    """Clock zero that was given with --start; one found in the film is to be found again."""
    if record.workout is None:
        return record.start_s
    return record.start_s if record.workout.clock.source == "given by hand" else None
