"""From a record to the report's HTML."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from cli.answer import answer_of
from cli.charts import check_gauge, count_likelihood, pace_chart, share_bar, timeline
from cli.charts.timeline import NARROW, WIDE
from cli.look import environment, style
from cli.report.continuity import continuity_sentences, not_shown_words
from cli.report.workout import (
    SPLIT_HEADINGS,
    flag_sentences,
    score_details,
    split_rows,
    time_shares,
)
from cli.scheme import scheme_sentences
from cli.scores import change_words
from cli.summary import (
    counted_sentences,
    decision_s,
    movement_words,
    movements,
    set_summaries,
    to_explain,
)
from cli.wording import deciding_checks
from counting.record.types import AuditRecord, CheckPart, RepPart

NARROW_PACE_PX: Final = 350.0
"""Width of the pace chart for a phone."""


@dataclass(frozen=True, slots=True)
class Still:
    """A film frame as a JPEG ``data:`` address, with its size in pixels."""

    address: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed a reviewed sheet, when, and what was reviewed, in words."""

    reviewer: str
    at: str
    words: str


@dataclass(frozen=True, slots=True)
class _Check:
    part: CheckPart
    gauge: Markup | None


@dataclass(frozen=True, slots=True)
class _Call:
    rep: RepPart
    at_s: float
    checks: list[_Check]
    met: str
    change: str | None
    stills: list[Still]


def report_html(
    record: AuditRecord,
    stills: Mapping[int, Still] | None = None,
    signature: Signature | None = None,
    doubt: str | None = None,
    second_stills: Mapping[int, Sequence[Still]] | None = None,
) -> str:
    """Write the report of a record.

    Parameters
    ----------
    record
        What was measured, or, with ``signature``, the sheet as reviewed.
    stills
        Deciding frames by rep number, for those reps that have one.
    signature
        Who signed the sheet off, or None for a report straight from the tool.
    doubt
        What the seal tells against the record; None where nothing does.
    second_stills
        The same moments in further films.
    """
    workout = record.workout
    shares = time_shares(record, workout)
    page = environment("cli.report").get_template("report.html")
    return page.render(
        style=style("cli.look", "look.css") + style("cli.report", "report.css"),
        record=record,
        answer=answer_of(record),
        zero_s=record.start_s,
        scheme=[] if workout is None else scheme_sentences(workout.definition),
        details=[] if workout is None else score_details(workout),
        movement=movement_words(record),
        mixed=len(movements(record)) > 1,
        likelihood=_likelihood(record),
        signature=signature,
        doubt=doubt,
        timeline_wide=timeline(record, WIDE),
        timeline_narrow=timeline(record, NARROW),
        sets=set_summaries(record),
        pace=pace_chart(record),
        pace_narrow=pace_chart(record, NARROW_PACE_PX),
        shares=shares,
        share_bar=share_bar(shares),
        splits=[] if workout is None else split_rows(workout),
        split_headings=SPLIT_HEADINGS,
        flags=flag_sentences(record),
        calls=[
            _call(
                record,
                rep,
                (stills or {}).get(rep.number),
                (second_stills or {}).get(rep.number, ()),
            )
            for rep in to_explain(record)
        ],
        counted=counted_sentences(record),
        continuity=continuity_sentences(record),
        not_shown=not_shown_words(record),
    )


def _likelihood(record: AuditRecord) -> Markup | None:
    """Draw how probable each score is; of reps that nobody judged no probability is known."""
    if record.counts.only_counted:
        return None
    if record.workout is None:
        return count_likelihood([(str(c.good), c.probability) for c in record.counts.distribution])
    distribution = record.workout.score.distribution
    finished = sum(part.probability for part in distribution if part.finished)
    bars = [
        (str(part.reps) if part.load is None else f"{part.load:g}", part.probability)
        for part in distribution
        if not part.finished
    ]
    return count_likelihood([*bars, ("finish", finished)] if finished else bars)


def _call(record: AuditRecord, rep: RepPart, still: Still | None, second: Sequence[Still]) -> _Call:
    return _Call(
        rep=rep,
        at_s=decision_s(rep),
        checks=[_Check(check, check_gauge(check)) for check in deciding_checks(rep)],
        met=", ".join(check.name for check in rep.checks if check.verdict == "met"),
        change=None if record.workout is None else change_words(record.workout, rep.number),
        stills=[*([] if still is None else [still]), *second],
    )
