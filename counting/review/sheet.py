"""The reviewed sheet: measured verdicts with calls put over them, and what a look is worth yet."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import msgspec
import numpy as np

from counting.decision.counting_reps import count_reps, hidden_good
from counting.record.types import (
    AuditRecord,
    CountProbability,
    CountsPart,
    RepPart,
    RepVerdict,
)
from counting.review.decisions import Decision, latest_calls

State = Literal["as measured", "decided", "disputed"]
NEGLIGIBLE: Final = 1e-6
"""Probability of a count under which it is not listed."""

NO_REP_WEIGHT: Final = 0.05
"""A look at a definite no-rep, against one at a rep that is an even bet."""


@dataclass(frozen=True, slots=True)
class ReviewedRep:
    """One rep with the calls made on it.

    ``state`` is "decided" where all who called it agree, "disputed" where they do not, and
    "as measured" where nobody called it good or no-rep; ``verdict`` is what stands.
    """

    measured: RepPart
    calls: dict[str, Decision]
    state: State
    verdict: RepVerdict


@dataclass(frozen=True, slots=True)
class OpenPlace:
    """A place of the film at which a look can change the count.

    Either a rep whose verdict is not definite, or, without ``rep``, a stretch in which reps may be
    hidden; ``doubt`` is four times the variance that it adds to the count: 1 for a rep that is an
    even bet.
    """

    start_s: float
    end_s: float
    doubt: float
    rep: ReviewedRep | None = None


@dataclass(frozen=True, slots=True)
class ReviewedSheet:
    """An audit as reviewed: ``record`` holds the verdicts, counts and score that now stand."""

    record: AuditRecord
    reps: list[ReviewedRep]

    @property
    def open_reps(self) -> list[ReviewedRep]:
        """Reps whose verdict is still not definite."""
        return [rep for rep in self.reps if rep.verdict in ("too close", "only counted")]

    @property
    def queue(self) -> list[OpenPlace]:
        """What there is to look at, in film order: open reps and stretches that may hide some."""
        reps = [
            OpenPlace(
                rep.measured.start_s, rep.measured.end_s, _doubt(rep.measured.probability_good), rep
            )
            for rep in self.open_reps
        ]
        stretches = [
            OpenPlace(part.start_s, part.end_s, _hidden_doubt(part.most))
            for part in self.record.unexplained
        ]
        return sorted([*reps, *stretches], key=lambda place: place.start_s)

    @property
    def disputed(self) -> list[ReviewedRep]:
        """Reps on which reviewers disagree."""
        return [rep for rep in self.reps if rep.state == "disputed"]


def reviewed_sheet(record: AuditRecord, decisions: Iterable[Decision]) -> ReviewedSheet:
    """Put the standing calls over a record and count, and score, anew.

    A rep that reviewers dispute is too close to call, with its measured probability.
    """
    calls = latest_calls(record, decisions)
    reps = [_reviewed(rep, calls.get(rep.number, {})) for rep in record.reps]
    changed = msgspec.structs.replace(record, reps=[_as_part(rep) for rep in reps])
    hidden = [stretch.most for stretch in record.unexplained]
    changed = msgspec.structs.replace(
        changed, counts=_counts(changed.reps, record.counts.shared_error, hidden)
    )
    return ReviewedSheet(_scored(changed), reps)


def _scored(record: AuditRecord) -> AuditRecord:
    """Score anew where a workout was followed; its rules are only loaded for one that was."""
    if record.workout is None:
        return record
    from counting.workout.whole import scored_again

    return scored_again(record)


def _reviewed(rep: RepPart, calls: dict[str, Decision]) -> ReviewedRep:
    definite = {decision.call for decision in calls.values()} - {"skip"}
    if not definite:
        return ReviewedRep(rep, calls, "as measured", rep.verdict)
    if len(definite) > 1:
        return ReviewedRep(rep, calls, "disputed", "too close")
    return ReviewedRep(rep, calls, "decided", "good" if "good" in definite else "no-rep")


def _as_part(rep: ReviewedRep) -> RepPart:
    measured = rep.measured
    if rep.state == "as measured":
        return measured
    names = " and ".join(sorted(name for name, row in rep.calls.items() if row.call != "skip"))
    if rep.state == "disputed":
        return msgspec.structs.replace(
            measured, verdict="too close", reason=f"disputed by {names}", counted_s=measured.end_s
        )
    notes = "; ".join(row.note for row in rep.calls.values() if row.note)
    failed = " and ".join(dict.fromkeys(row.standard for row in rep.calls.values() if row.standard))
    return msgspec.structs.replace(
        measured,
        verdict=rep.verdict,
        probability_good=1.0 if rep.verdict == "good" else 0.0,
        counted_s=None if rep.verdict == "no-rep" else measured.counted_s or measured.end_s,
        reason=f"called {rep.verdict} by {names}"
        + (f" for {failed}" if failed else "")
        + (f": {notes}" if notes else ""),
    )


def _counts(reps: list[RepPart], shared: float, hidden: list[int]) -> CountsPart:
    counted = count_reps(
        [rep.verdict for rep in reps], [_probability(rep) for rep in reps], shared, hidden
    )
    return CountsPart(
        good=counted.good,
        no_rep=counted.no_rep,
        too_close=counted.too_close,
        only_counted=counted.only_counted,
        lowest=counted.lowest,
        highest=counted.highest,
        shared_error=shared,
        distribution=[
            CountProbability(good=good, probability=min(probability, 1.0))
            for good, probability in enumerate(counted.distribution)
            if probability > NEGLIGIBLE
        ],
    )


def _probability(rep: RepPart) -> float:
    """Take a definite verdict as settled, so that the counts lie within the interval shown."""
    return {"good": 1.0, "no-rep": 0.0}.get(rep.verdict, rep.probability_good)


@dataclass(frozen=True, slots=True)
class Triage:
    """What a look may change.

    ``film_in_doubt`` says that the film is not certain to show one uncut attempt of one person;
    ``open_reps`` counts reps without a definite verdict; ``unseen_no_reps`` definite no-reps that
    nobody has looked at; ``doubt`` sums up how uncertain the count is: 1 for each rep that is an
    even bet, less for one that is nearly sure.
    """

    film_in_doubt: bool
    open_reps: int
    unseen_no_reps: int
    doubt: float

    @property
    def rank(self) -> tuple[bool, float]:
        """Key to sort by, most worth first when reversed: films in doubt, then doubtful counts."""
        return self.film_in_doubt, self.doubt


def triage_of(sheet: ReviewedSheet, *, film_in_doubt: bool) -> Triage:
    """Value a look at an attempt as it stands after review so far.

    Variances of what is open add up to that of the count.
    """
    unseen = sum(
        rep.measured.verdict == "no-rep" and rep.state == "as measured" and not rep.calls
        for rep in sheet.reps
    )
    doubt = sum(place.doubt for place in sheet.queue) + NO_REP_WEIGHT * unseen
    return Triage(film_in_doubt, len(sheet.open_reps), unseen, doubt)


def _doubt(probability: float) -> float:
    return 4.0 * probability * (1.0 - probability)


def _hidden_doubt(most: int) -> float:
    chances, good = hidden_good(most), np.arange(most + 1)
    return 4.0 * float(chances @ good**2 - (chances @ good) ** 2)
