"""What tables, report and review desk show of a record beyond its own fields."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from statistics import median
from typing import Final

from cli.wording import deciding_checks
from counting.record.types import AuditRecord, RepPart, RepVerdict


@dataclass(frozen=True, slots=True)
class SetSummary:
    """One set with its reps counted by verdict and the rest that followed.

    ``cycle_s`` holds each rep's whole cycle, start position to start position, in film order (none
    where the film tells no time);
    ``rest_s`` is the time to the next set, ``rest_kind`` how it was spent; None after the last set.
    """

    number: int
    movement: str
    first_rep: int
    last_rep: int
    start_s: float
    end_s: float
    good: int
    no_rep: int
    too_close: int
    only_counted: int
    cycle_s: tuple[float, ...]
    rest_s: float | None
    rest_kind: str | None

    @property
    def attempts(self) -> int:
        """Reps tried, counted or not."""
        return self.good + self.no_rep + self.too_close + self.only_counted

    @property
    def cycle_median_s(self) -> float | None:
        """Middle cycle time, None for a set without any."""
        return median(self.cycle_s) if self.cycle_s else None


TIME_KINDS: Final = ("moving", "paused mid-set", "breaks", "transition", "scheduled rest")


@dataclass(frozen=True, slots=True)
class TimeShare:
    """How long the athlete did one thing between the first rep's start and the last one's end."""

    what: str
    duration_s: float
    share: float


def set_summaries(record: AuditRecord) -> list[SetSummary]:
    """Summarise every set of a record, in film order."""
    rests = {part.after_set: part.kind for part in record.breaks}
    summaries = []
    for part, following in zip_longest(record.sets, record.sets[1:]):
        reps = [rep for rep in record.reps if part.first_rep <= rep.number <= part.last_rep]
        rest_s = None if following is None else following.start_s - part.end_s
        summaries.append(
            SetSummary(
                number=part.number,
                movement=part.movement,
                first_rep=part.first_rep,
                last_rep=part.last_rep,
                start_s=part.start_s,
                end_s=part.end_s,
                good=_count(reps, "good"),
                no_rep=_count(reps, "no-rep"),
                too_close=_count(reps, "too close"),
                only_counted=_count(reps, "only counted"),
                cycle_s=tuple(rep.end_s - rep.start_s for rep in reps if record.film.times_known),
                rest_s=rest_s if record.film.times_known else None,
                rest_kind=None if rest_s is None else rests.get(part.number, "transition"),
            )
        )
    return summaries


def where_time_went(record: AuditRecord) -> list[TimeShare]:
    """Split the time from the first rep's start to the last one's end by what was done.

    The parts sum to that span: pauses are taken out of the sets they lie in, and what is neither
    set nor break is transition. Empty where no rep was found or the film tells no time.
    """
    if not record.reps or not record.film.times_known:
        return []
    span_s = max(rep.end_s for rep in record.reps) - record.reps[0].start_s
    if span_s <= 0:
        return []
    in_sets_s = sum(part.end_s - part.start_s for part in record.sets)
    paused_s = min(sum(part.end_s - part.start_s for part in record.pauses), in_sets_s)
    broken_s = sum(part.end_s - part.start_s for part in record.breaks)
    parts = [
        ("moving", in_sets_s - paused_s),
        ("paused mid-set", paused_s),
        ("breaks", broken_s),
        ("transition", max(span_s - in_sets_s - broken_s, 0.0)),
    ]
    return [TimeShare(what, time_s, time_s / span_s) for what, time_s in parts if time_s > 1e-6]


def flagged(record: AuditRecord) -> list[RepPart]:
    """Give the reps a person should look at: all that are not good."""
    return [rep for rep in record.reps if rep.verdict != "good"]


def review_order(record: AuditRecord) -> list[RepPart]:
    """Put the flagged reps in the order in which a look can change most.

    First open reps that change the score alone, then the other open ones, then no-reps; among
    equals that nearest to an even bet, since its verdict varies most, p (1 - p).
    """
    alone = {
        item.rep
        for item in (record.workout.score.undecided if record.workout else ())
        if not item.if_good.same_score(item.if_no_rep)
    }

    def place(rep: RepPart) -> tuple[bool, bool, float, int]:
        doubt = rep.probability_good * (1.0 - rep.probability_good)
        return rep.verdict == "no-rep", rep.number not in alone, -round(doubt, 3), rep.number

    return sorted(flagged(record), key=place)


def to_explain(record: AuditRecord) -> list[RepPart]:
    """Give the flagged reps that each need words of their own.

    Reps that are only counted have a reason in common, which `counted_sentences` says once; those
    among them that came near to missing something are told one by one.
    """
    return [
        rep
        for rep in flagged(record)
        if rep.verdict != "only counted"
        or any(check.verdict in ("too close", "not met") for check in rep.checks)
    ]


def counted_sentences(record: AuditRecord) -> list[str]:
    """Say once for each movement how many reps were only counted, and why."""
    reasons: dict[tuple[str, str], int] = {}
    for rep in record.reps:
        if rep.verdict == "only counted":
            open_checks = [check for check in rep.checks if check.verdict == "not judged"]
            whys = [f"{check.name} {check.reason}" for check in open_checks]
            why = "; ".join(whys) or "its standard holds no check"
            reasons[rep.movement, why] = reasons.get((rep.movement, why), 0) + 1
    return [
        f"{movement}: {count} rep{'s' if count > 1 else ''} only counted, "
        f"for a person to call: {why}"
        for (movement, why), count in reasons.items()
    ]


def movements(record: AuditRecord) -> list[str]:
    """Name the movements of a record, in the order they first appear."""
    if record.movement:
        return [record.movement]
    return list(dict.fromkeys(rep.movement for rep in record.reps))


def movement_words(record: AuditRecord) -> str:
    """Name the movements in one phrase: ``thruster and pull-up``."""
    names: Sequence[str] = movements(record)
    if not names:
        return "no movement found"
    if len(names) == 1:
        return names[0]
    return ", ".join(names[:-1]) + " and " + names[-1]


def decision_s(rep: RepPart) -> float:
    """Time of the frame that decides a rep: that of its worst check, else its turn."""
    timed = [check.at_s for check in deciding_checks(rep) if check.at_s is not None]
    return timed[0] if timed else rep.turn_s


def _count(reps: list[RepPart], verdict: RepVerdict) -> int:
    return sum(rep.verdict == verdict for rep in reps)
