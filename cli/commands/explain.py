"""``repwitness explain``: one rep's checks in full, with a still of the deciding frame."""

from pathlib import Path
from typing import Annotated

import typer

from cli.audit.opening import Audit, checked_film, open_audit
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.names import file_name
from counting.record.types import CheckPart, RepPart


def explain(
    audit: Annotated[
        Path, typer.Argument(help="Audit folder, or its audit.json.", metavar="AUDIT")
    ],
    rep: Annotated[int, typer.Option("--rep", help="Number of the rep.", min=1)],
    check: Annotated[
        str | None,
        typer.Option("--check", help="Draw this check [the one that decided]."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="The still [AUDIT/rep-NUMBER-CHECK.png]."),
    ] = None,
    film: Annotated[
        Path | None, typer.Option("--film", help="The film, if it is not beside the audit.")
    ] = None,
    still: Annotated[bool, typer.Option("--still/--no-still", help="Write the still.")] = True,
) -> None:
    """Explain one rep: each of its checks, and a still.

    Every check is told with value, limit, uncertainty and probability. The still is the frame that
    decided, with what was measured and the limit drawn on it.
    """
    opened = open_audit(audit, film)
    part = _find_rep(opened, rep)
    chosen = _find_check(part, check)
    typer.echo("\n".join(_lines(opened, part)))
    if not still:
        return
    if chosen is None or chosen.at_s is None:
        typer.echo("no still: no frame of this rep could be read")
        return
    target = out or opened.folder / file_name(f"rep-{rep}-{chosen.name}", ".png")
    if opened.film is None:
        raise UserError(
            f"{opened.folder}: the film {opened.record.film.file} is not beside it; name it with "
            "--film, or leave the still out with --no-still",
            BAD_INPUT,
        )
    from cli.still import write_still

    write_still(opened, checked_film(opened.film, opened), part, chosen, target)
    typer.echo(f"still: {target}")


def _find_rep(audit: Audit, number: int) -> RepPart:
    for part in audit.record.reps:
        if part.number == number:
            return part
    known = len(audit.record.reps)
    listed = f"its reps are 1 to {known}" if known else "it holds no reps"
    raise UserError(f"{audit.folder}: there is no rep {number}; {listed}", WRONG_USAGE)


def _find_check(rep: RepPart, name: str | None) -> CheckPart | None:
    if name is None:
        readable = [check for check in rep.checks if check.at_s is not None]
        return min(readable, key=lambda check: check.probability_met, default=None)
    for check in rep.checks:
        if check.name.lower() == name.lower():
            return check
    names = ", ".join(check.name for check in rep.checks)
    raise UserError(f'rep {rep.number} has no check "{name}"; it has: {names}', WRONG_USAGE)


def _lines(audit: Audit, rep: RepPart) -> list[str]:
    from cli.wording import limit, moment, on_clock

    risk, zero_s = audit.record.risk, audit.record.start_s
    lines = [] if audit.doubt is None else [audit.doubt]
    lines += [
        f"rep {rep.number}, {rep.movement}, {on_clock(rep.start_s, zero_s)} to "
        f"{moment(rep.end_s, zero_s)}: {rep.verdict} "
        f"(probability of a good rep {rep.probability_good:.3f})"
    ]
    if rep.reason is not None:
        lines.append(f"  {rep.reason}")
    for check in rep.checks:
        lines.append(f"  {check.name}: {check.verdict}")
        lines.append(f"    {check.words}")
        lines.append(f"    {_measured(check, zero_s)}; standard: {limit(check)}")
        lines.append(
            f"    probability met {check.probability_met:.3f} (met from {risk.met_at_least:g}, "
            f"not met to {risk.not_met_at_most:g})"
        )
        if check.reason is not None:
            lines.append(f"    {check.reason}")
    return lines


def _measured(check: CheckPart, zero_s: float | None) -> str:
    from cli.wording import measured, moment

    if check.value is None:
        return "not read"
    at = "" if check.at_s is None else f", read at {moment(check.at_s, zero_s, 2)}"
    return f"{check.quantity} {measured(check)}{at}"
