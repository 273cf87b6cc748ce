"""``repwitness agreement``: the tool beside what people decided, and what it learns from them."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.errors import BAD_INPUT, UserError
from cli.options import OwnStandards

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from counting.checks.tuning import TunedError, TunedGroup
    from counting.review.against_people import Compared, Share
    from counting.review.agreement import PairAgreement
    from counting.review.decisions import Decision
    from counting.review.sheet import ReviewedSheet


def agreement(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder with audits and people's calls.")
    ],
    tune: Annotated[
        Path | None,
        typer.Option("--tune", metavar="FILE", help="Learn from the calls; for 'audit --tuned'."),
    ] = None,
    standards: OwnStandards = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")] = False,
) -> None:
    """Compare the tool with what people decided.

    Takes the calls made with 'repwitness review FOLDER'. With --tune, the error of a film is
    learnt anew for each movement and view of which people decided 30 reps or more.
    """
    from counting.review.against_people import against_people
    from counting.review.agreement import agreement as pairs_of

    sheets, decisions = _reviewed(folder)
    compared = against_people(sheets)
    if not compared:
        raise UserError(
            f"{folder}: people have decided no rep of these audits; call some with "
            f"'repwitness review {folder}'",
            BAD_INPUT,
        )
    pairs = pairs_of([sheet.record for sheet in sheets], decisions)
    groups = None if tune is None else _tuned(tune, sheets, standards)
    if as_json:
        import json

        typer.echo(json.dumps(_document(compared, pairs, groups), indent=1, allow_nan=False))
        return
    from cli.tables.audit import audit_console

    out = audit_console()
    _print_compared(compared, out)
    _print_pairs(pairs, out)
    if groups is not None:
        _print_tuned(groups, out)
        typer.echo(f"written to {tune}")


def _reviewed(folder: Path) -> "tuple[list[ReviewedSheet], list[Decision]]":
    """Put the calls of a folder's log over its audits; edited records teach nothing."""
    from cli.review.library import Library
    from cli.review.log import LOG_NAME, DecisionLog, LogError
    from counting.record.seal import EDITED, stamp
    from counting.review.sheet import reviewed_sheet
    from vision.files import is_file, is_folder

    if not is_folder(folder):
        raise UserError(
            f"{folder}: no such folder; name the folder that holds the audits", BAD_INPUT
        )
    if not is_file(folder / LOG_NAME):
        raise UserError(
            f"{folder}: nobody has called a rep here; start with 'repwitness review {folder}'",
            BAD_INPUT,
        )
    try:
        decisions = DecisionLog(folder / LOG_NAME).decisions()
    except LogError as error:
        raise UserError(str(error), BAD_INPUT) from error
    by_film: dict[str, list[Decision]] = {}
    for row in decisions:
        by_film.setdefault(row.film_sha256, []).append(row)
    sheets = []
    for attempt in Library(folder).attempts():
        if attempt.doubt == EDITED:
            typer.echo(f"repwitness: {attempt.place}: left out, {stamp(EDITED)}", err=True)
            continue
        sheets.append(reviewed_sheet(attempt.record, by_film.get(attempt.record.film.sha256, [])))
    return sheets, decisions


def _tuned(
    file: Path, sheets: "Sequence[ReviewedSheet]", standards: list[Path] | None
) -> "tuple[TunedGroup, ...]":
    from cli.standards import movements_known
    from counting.checks.tuning import write_tuning
    from counting.review.learning import FEWEST_REPS, learn_tuning
    from vision.files import WriteError

    tuning = learn_tuning(sheets, movements_known(standards))
    if not tuning.groups:
        raise UserError(
            f"{file}: not written, as nothing can be learnt yet: {FEWEST_REPS} decided reps of one "
            "movement from one view are needed, with every check read, in audits made by this "
            "version",
            BAD_INPUT,
        )
    try:
        write_tuning(tuning, file)
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
    return tuning.groups


def _named(one: "Compared") -> str:
    return "all" if one.movement is None else one.movement


def _share(share: "Share") -> str:
    low, high = share.interval
    return f"{share.hits} of {share.of} ({100 * low:.0f} to {100 * high:.0f} %)"


def _kappa(value: float, reps: int) -> str:
    from counting.review.agreement import KAPPA_FROM

    if reps < KAPPA_FROM:
        return f"from {KAPPA_FROM} reps"
    return "not defined" if value != value else f"{value:.2f}"


def _print_compared(compared: "Sequence[Compared]", out: "Console") -> None:
    from cli.tables.fitting import ALWAYS, Column, fitted_table

    def column(
        heading: str, cells: list[str], priority: int = ALWAYS, *, words: bool = False
    ) -> Column:
        return Column(heading, cells, priority, "left" if words else "right")

    columns = [
        column("movement", [_named(one) for one in compared], words=True),
        column("view", [one.view or "" for one in compared], words=True),
        column("films", [str(one.films) for one in compared], 4),
        column("decided", [str(one.reps) for one in compared]),
        column("disputed", [str(one.disputed) for one in compared], 5),
        column("alike", [_share(one.agreed) for one in compared]),
        column("kappa", [_kappa(one.kappa.kappa, one.agreed.of) for one in compared], 3),
        column("no-reps passed", [_share(one.passed_wrongly) for one in compared]),
        column("good refused", [_share(one.refused_wrongly) for one in compared]),
        column("left open", [_share(one.undecided) for one in compared], 2),
        column("stated good", [_percent(one.stated) for one in compared], 1),
        column("called good", [_share(one.happened) for one in compared], 1),
    ]
    out.print(fitted_table("the tool beside people's calls", columns, out))
    out.print("alike: of reps that both decided; in brackets: 95 % interval (Wilson)", style="dim")
    whole = compared[0].calibration_error
    if whole == whole:
        out.print(f"stated and called shares differ by {whole:.2f} on average, in ten steps")


def _percent(share: float) -> str:
    return "" if share != share else f"{100 * share:.0f} %"


def _print_pairs(pairs: "Sequence[PairAgreement]", out: "Console") -> None:
    for pair in pairs:
        out.print(
            f"{pair.first} and {pair.second}: {pair.common} reps called by both, "
            f"{len(pair.disagreements)} of them differently, "
            f"kappa {_kappa(pair.kappa.kappa, pair.common)}"
        )


def _print_tuned(groups: "Sequence[TunedGroup]", out: "Console") -> None:
    for group in groups:
        what = f"{group.movement}, {group.view}: {group.reps} reps of {group.films} films"
        if not group.errors:
            out.print(
                f"{what}: nothing learnt, calls do not follow what was read "
                f"({100 * group.slips:.0f} % seem to have slipped)"
            )
            continue
        out.print(what)
        for error in group.errors:
            out.print(f"  {_learnt(error)}")


def _learnt(error: "TunedError") -> str:
    from cli.wording import number, unit_mark
    from counting.movements.types import QUANTITY_UNITS

    quantity = error.entry.partition(" / ")[0]
    unit = next((unit for name, unit in QUANTITY_UNITS.items() if name == quantity), "cm")
    size = f"error of a film {error.size:.2f} times the packaged one"
    off = number(abs(error.offset), 1)
    if float(off) == 0.0:
        return f"{quantity}: read neither too high nor too low; {size}"
    side = "high" if error.offset > 0 else "low"
    return f"{quantity}: read {off}{unit_mark(unit)} too {side}; {size}"


def _document(
    compared: "Sequence[Compared]",
    pairs: "Sequence[PairAgreement]",
    groups: "Sequence[TunedGroup] | None",
) -> dict[str, Any]:
    import msgspec

    return {
        "compared": [_compared_document(one) for one in compared],
        "reviewers": [
            {
                "first": pair.first,
                "second": pair.second,
                "table": pair.table,
                "kappa": _number(pair.kappa.kappa),
            }
            for pair in pairs
        ],
        "tuned": None if groups is None else msgspec.to_builtins(groups),
    }


def _compared_document(one: "Compared") -> dict[str, Any]:
    shares = {
        "called_good": one.called_good,
        "agreed": one.agreed,
        "passed_wrongly": one.passed_wrongly,
        "refused_wrongly": one.refused_wrongly,
        "undecided": one.undecided,
        "happened": one.happened,
    }
    return {
        "movement": one.movement,
        "view": one.view,
        "films": one.films,
        "reps": one.reps,
        "disputed": one.disputed,
        "table": one.table,
        "kappa": _number(one.kappa.kappa),
        "stated": _number(one.stated),
        "calibration_error": _number(one.calibration_error),
        **{
            name: {"hits": share.hits, "of": share.of, "interval": share.interval}
            for name, share in shares.items()
        },
    }


def _number(value: float) -> float | None:
    return None if value != value else value
