"""How far two reviewers agree, and on which reps they do not."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from counting.decision.agreement import Kappa, cohen_kappa
from counting.record.types import AuditRecord
from counting.review.decisions import Decision, latest_calls

KAPPA_FROM: Final = 20
"""Reps called by both from which kappa is told: of fewer, one call decides it. Common practice, no
source."""

_ORDER = ("good", "no-rep")


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A rep that two reviewers called differently."""

    record: AuditRecord
    rep: int
    first: Decision
    second: Decision


@dataclass(frozen=True, slots=True)
class PairAgreement:
    """Two reviewers on the reps both called good or no-rep.

    ``table[i][j]`` counts reps the first called ``("good", "no-rep")[i]`` and the second ``[j]``.
    """

    first: str
    second: str
    table: tuple[tuple[int, int], tuple[int, int]]
    kappa: Kappa
    disagreements: list[Disagreement]

    @property
    def common(self) -> int:
        """Number of reps both called."""
        return sum(map(sum, self.table))


def agreement(records: Iterable[AuditRecord], decisions: Iterable[Decision]) -> list[PairAgreement]:
    """Compare every pair of reviewers who called a rep in common, by name.

    A film that was audited twice is compared once.
    """
    rows = list(decisions)
    tables: dict[tuple[str, str], list[list[int]]] = defaultdict(lambda: [[0, 0], [0, 0]])
    apart: dict[tuple[str, str], list[Disagreement]] = defaultdict(list)
    seen: set[tuple[str, str, float]] = set()
    for record in records:
        for number, calls in latest_calls(record, rows).items():
            rep = record.reps[number - 1]
            key = (record.film.sha256, rep.movement, round(rep.turn_s, 1))
            if key in seen:
                continue
            seen.add(key)
            definite = sorted((name, row) for name, row in calls.items() if row.call != "skip")
            for (first, one), (second, other) in combinations(definite, 2):
                tables[first, second][_ORDER.index(one.call)][_ORDER.index(other.call)] += 1
                if one.call != other.call:
                    apart[first, second].append(Disagreement(record, number, one, other))
    return [
        PairAgreement(
            first,
            second,
            ((table[0][0], table[0][1]), (table[1][0], table[1][1])),
            cohen_kappa(table),
            apart[first, second],
        )
        for (first, second), table in sorted(tables.items())
    ]
