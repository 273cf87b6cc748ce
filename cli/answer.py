"""What every view says first: the score with its range, the tie-break, what an eye must decide."""

from dataclasses import dataclass
from typing import Final

from cli.scores import most_probable, range_words, reps_named, score_span, tie_break_words
from cli.summary import decision_s
from cli.wording import moment, on_clock, percent
from counting.record.types import AuditRecord, CountsPart, RepPart

_MOST_TIMES: Final = 4
"""As many as are read at a glance (chosen, not measured)."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The first lines of a view.

    Attributes
    ----------
    workout
        Name of the workout; None where one movement was audited.
    value, words
        The most likely score and its range, or the reps that count and how sure that is.
    tie_break
        When it was reached; None without one.
    to_decide
        Which reps a person has to look at, and why.
    """

    workout: str | None
    value: str
    words: str
    tie_break: str | None
    to_decide: str


def answer_of(record: AuditRecord) -> Answer:
    """Sum a record up."""
    part = record.workout
    if part is None:
        value, words = _count_words(record.counts)
        return Answer(None, value, words, None, _to_decide(record))
    tie_break = part.score.tie_break
    likely = most_probable(part) if part.score.undecided else None
    words = range_words(part) if likely is None else f"{likely}; {range_words(part)}"
    return Answer(
        workout=part.definition.name,
        value=score_span(part),
        words=words,
        tie_break=None if tie_break is None else tie_break_words(tie_break),
        to_decide=_to_decide(record),
    )


def _count_words(counts: CountsPart) -> tuple[str, str]:
    if counts.lowest == counts.highest:
        if counts.lowest == 1:
            return "1 rep", "counts; every rep is called"
        return f"{counts.lowest} reps", "count; every rep is called"
    words = "reps may count"
    likely = max(counts.distribution, key=lambda part: part.probability, default=None)
    if likely is not None and likely.probability < 0.995 and not counts.only_counted:
        words += f", most likely {likely.good} ({percent(likely.probability)})"
    return f"{counts.lowest} to {counts.highest}", words


def _to_decide(record: AuditRecord) -> str:
    close = [rep for rep in record.reps if rep.verdict == "too close"]
    counted = [rep for rep in record.reps if rep.verdict == "only counted"]
    said = []
    if close:
        verb = "is" if len(close) == 1 else "are"
        said.append(f"{_named(record, close)} {verb} too close to call")
    if counted:
        verb = "was" if len(counted) == 1 else "were"
        said.append(f"{_named(record, counted)} {verb} only counted")
    if record.workout is not None and len(close) + len(counted) > 1:
        open_calls = record.workout.score.undecided
        deciding = sum(not item.if_good.same_score(item.if_no_rep) for item in open_calls)
        said.append(f"{deciding or 'none'} can change the score alone")
    hidden = sum(stretch.most for stretch in record.unexplained)
    if hidden:
        reps = "1 more rep" if hidden == 1 else f"{hidden} more reps"
        stretches = [on_clock(stretch.start_s, record.start_s) for stretch in record.unexplained]
        said.append(f"up to {reps} may be hidden after {_joined(stretches)}")
    return "; ".join(said) or "nothing"


def _joined(times: list[str]) -> str:
    shown = times[:_MOST_TIMES]
    more = len(times) - len(shown)
    said = ", ".join(shown)
    return f"{said} and at {more} more places" if more else said


def _named(record: AuditRecord, reps: list[RepPart]) -> str:
    if len(reps) > _MOST_TIMES:
        return f"{len(reps)} reps"
    named = reps_named([rep.number for rep in reps])
    times = ", ".join(moment(decision_s(rep), record.start_s) for rep in reps)
    return f"{named} at {times}"
