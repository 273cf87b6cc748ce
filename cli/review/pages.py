"""The desk's pages, rendered from templates."""

from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from cli.answer import answer_of
from cli.charts import check_gauge, rep_strip, timeline
from cli.charts.timeline import NARROW, WIDE
from cli.look import environment, style
from cli.report.continuity import continuity_sentences
from cli.report.page import Signature, report_html
from cli.report.workout import flag_sentences
from cli.review.desk import Desk, Line, Opened, readable
from cli.scores import change_words
from cli.summary import decision_s, flagged, movement_words, movements, review_order
from cli.wording import deciding_checks, shown
from counting.record.seal import stamp
from counting.record.types import AuditRecord, CheckPart, RepPart
from counting.review.agreement import KAPPA_FROM

REPORT_HEADERS: Final = {
    "content-security-policy": (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
}
_TEMPLATES: Final = environment("cli.review")


@dataclass(frozen=True, slots=True)
class _Card:
    rep: RepPart
    at_s: float
    checks: list[tuple[CheckPart, Markup | None]]
    met: str
    change: str | None
    flagged: bool


def listing(desk: Desk, *, only_open: bool) -> str:
    """Render the list of attempts."""
    lines = desk.lines()
    listed = [line for line in lines if not only_open or _unsettled(line)]
    return _TEMPLATES.get_template("listing.html").render(
        folder=shown(desk.library.root.name or str(desk.library.root)),
        lines=listed,
        first=next((line for line in lines if _unsettled(line)), None),
        total=len(lines),
        unsettled=sum(_unsettled(line) for line in lines),
        only_open=only_open,
        unreadable=desk.library.unreadable(),
        movement_words=movement_words,
        readable=readable,
        place_words=_place_words,
        strip=_strip,
        triage_words=_triage_words,
        stamp=stamp,
        log_trouble=desk.log.trouble,
    )


def attempt(desk: Desk, opened: Opened) -> str:
    """Render the page of one attempt."""
    record = opened.attempt.record
    to_see = {rep.number for rep in flagged(record)}
    # Before the page knows who looks, it shows what was measured and nobody's calls.
    answer = answer_of(record)
    return _TEMPLATES.get_template("attempt.html").render(
        attempt=opened.attempt,
        record=record,
        movement=movement_words(record),
        mixed=len(movements(record)) > 1,
        workout=answer.workout,
        score=answer.value,
        score_words=answer.words,
        counts=record.counts,
        timeline_wide=timeline(record, WIDE, link="#rep-{}"),
        timeline_narrow=timeline(record, NARROW, link="#rep-{}"),
        cards=[_card(record, rep, flagged=rep.number in to_see) for rep in record.reps],
        queue=[(rep, decision_s(rep)) for rep in review_order(record)],
        has_film=desk.library.film(opened.attempt) is not None,
        further=[
            (number, view)
            for number, view in enumerate(opened.attempt.record.further_films, start=1)
            if desk.library.further_film(opened.attempt, number) is not None
        ],
        has_marked=desk.library.film(opened.attempt, marked=True) is not None,
        continuity=continuity_sentences(record),
        flags=flag_sentences(record),
        log_trouble=desk.log.trouble,
    )


def missing(desk: Desk) -> str:
    """Render what is shown in place of an attempt that is not in the folder."""
    return _TEMPLATES.get_template("missing.html").render(log_trouble=desk.log.trouble)


def agreement_page(desk: Desk) -> str:
    """Render the comparison of reviewers."""
    keys = {item.record.film.sha256: item.key for item in desk.library.attempts()}
    return _TEMPLATES.get_template("agreement.html").render(
        pairs=desk.agreement(), kappa_from=KAPPA_FROM, keys=keys, log_trouble=desk.log.trouble
    )


def signed_report(opened: Opened) -> str:
    """Render the report of the reviewed sheet, with its signature where there is one."""
    doubt = opened.attempt.doubt
    return report_html(opened.sheet.record, signature=_signature(opened), doubt=doubt)


async def look_css(_request: Request) -> Response:
    """Give the style sheet that report and desk share."""
    return Response(str(style("cli.look", "look.css")), media_type="text/css")


def _signature(opened: Opened) -> Signature | None:
    if opened.signed is None or opened.changed_since:
        return None
    decided = sum(rep.state != "as measured" for rep in opened.sheet.reps)
    left = len(opened.sheet.open_reps)
    words = f"{decided} of {len(opened.sheet.reps)} reps were called by hand"
    words += f"; {left} were left uncalled." if left else "; none was left uncalled."
    return Signature(opened.signed.reviewer, readable(opened.signed.at), words)


def _card(record: AuditRecord, rep: RepPart, *, flagged: bool) -> _Card:
    return _Card(
        rep=rep,
        at_s=decision_s(rep),
        checks=[(check, check_gauge(check)) for check in deciding_checks(rep)],
        met=", ".join(check.name for check in rep.checks if check.verdict == "met"),
        change=None if record.workout is None else change_words(record.workout, rep.number),
        flagged=flagged,
    )


def _unsettled(line: Line) -> bool:
    return line.triage.film_in_doubt or line.triage.open_reps > 0 or line.seen < line.flagged


def next_place(desk: Desk, after: str) -> str:
    """Give the path of the attempt most worth a look besides one; the list where none waits."""
    waiting = (line.attempt.key for line in desk.lines() if _unsettled(line))
    key = next((key for key in waiting if key != after), None)
    return "/" if key is None else f"/attempt/{key}"


def _place_words(line: Line) -> str:
    """Say where an audit lies, unless that is where its film's name leads one to look."""
    place, stem = line.attempt.place, PurePosixPath(line.attempt.record.film.file).stem
    return "" if place in {".", f"{stem}.audit"} else place


def _strip(line: Line) -> Markup:
    return rep_strip([(rep.set, rep.verdict) for rep in line.shown.record.reps])


def _triage_words(line: Line) -> list[str]:
    triage = line.triage
    words = []
    if triage.film_in_doubt:
        words.append("film in doubt")
    if triage.open_reps:
        words.append(
            "1 rep to call" if triage.open_reps == 1 else f"{triage.open_reps} reps to call"
        )
    if triage.unseen_no_reps:
        no_reps = "1 no-rep" if triage.unseen_no_reps == 1 else f"{triage.unseen_no_reps} no-reps"
        words.append(f"{no_reps} not looked at")
    return words
