"""How far the tool agrees with what people decided."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from counting.checks.table import view_name
from counting.decision.agreement import (
    Kappa,
    cohen_kappa,
    expected_calibration_error,
    wilson_interval,
)
from counting.record.types import RepVerdict
from counting.review.sheet import ReviewedSheet


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many."""

    hits: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """95 % Wilson interval."""
        return wilson_interval(self.hits, self.of)


@dataclass(frozen=True, slots=True)
class Compared:
    """The tool beside people on reps of one movement from one view, or on all of them.

    Attributes
    ----------
    movement, view
        Which reps; None for all.
    films, reps, disputed
        Films and reps that people decided, and reps that they dispute, which are in nothing else.
    called_good
        What people called good.
    table
        ``table[i][j]``: reps that people called ``("good", "no-rep")[i]`` and the tool ``[j]`` of
        good, no-rep, and undecided: too close or only counted.
    kappa
        Agreement beyond chance on reps that both decided.
    stated
        Mean stated probability of a good rep where every part of the standard was judged.
    happened
        How many of those reps people called good.
    calibration_error
        Mean distance of stated and observed shares of these, NaN where there are none.
    """

    movement: str | None
    view: str | None
    films: int
    reps: int
    disputed: int
    called_good: Share
    table: tuple[tuple[int, int, int], tuple[int, int, int]]
    kappa: Kappa
    stated: float
    happened: Share
    calibration_error: float

    @property
    def agreed(self) -> Share:
        """Reps called alike, of those that both decided."""
        (alike, other), (another, also) = (row[:2] for row in self.table)
        return Share(alike + also, alike + other + another + also)

    @property
    def passed_wrongly(self) -> Share:
        """Reps the tool called good, of those that people called no-rep."""
        return Share(self.table[1][0], sum(self.table[1]))

    @property
    def refused_wrongly(self) -> Share:
        """Reps the tool called no-rep, of those that people called good."""
        return Share(self.table[0][1], sum(self.table[0]))

    @property
    def undecided(self) -> Share:
        """Reps that the tool left to people."""
        return Share(self.table[0][2] + self.table[1][2], self.reps)


@dataclass(frozen=True, slots=True)
class _Row:
    movement: str
    view: str
    film: str
    measured: RepVerdict
    probability_good: float
    called: RepVerdict | None


def against_people(sheets: Iterable[ReviewedSheet]) -> list[Compared]:
    """Compare by movement and view, in that order; all of them together come first.

    A film that was audited twice is compared once.
    """
    rows: dict[tuple[str, str, float], _Row] = {}
    for sheet in sheets:
        deg = sheet.record.camera.view_deg
        view = (None if deg is None else view_name(deg)) or "no view"
        for rep in sheet.reps:
            if rep.state == "as measured":
                continue
            measured, film = rep.measured, sheet.record.film.sha256
            called = rep.verdict if rep.state == "decided" else None
            rows.setdefault(
                (film, measured.movement, round(measured.turn_s, 1)),
                _Row(
                    measured.movement,
                    view,
                    film,
                    measured.verdict,
                    measured.probability_good,
                    called,
                ),
            )
    every = list(rows.values())
    if not every:
        return []
    keys = sorted({(row.movement, row.view) for row in every})
    return [
        _compared(None, None, every),
        *(
            _compared(*key, [row for row in every if (row.movement, row.view) == key])
            for key in keys
        ),
    ]


_PEOPLE = ("good", "no-rep")


def _compared(movement: str | None, view: str | None, rows: Sequence[_Row]) -> Compared:
    decided = [row for row in rows if row.called is not None]
    table = np.zeros((2, 3), int)
    for row in decided:
        tool = _PEOPLE.index(row.measured) if row.measured in _PEOPLE else 2
        table[_PEOPLE.index(str(row.called)), tool] += 1
    judged = [row for row in decided if row.measured != "only counted"]
    stated = [row.probability_good for row in judged]
    good = [row.called == "good" for row in judged]
    return Compared(
        movement=movement,
        view=view,
        films=len({row.film for row in decided}),
        reps=len(decided),
        disputed=len(rows) - len(decided),
        called_good=Share(sum(row.called == "good" for row in decided), len(decided)),
        table=(_triple(table[0]), _triple(table[1])),
        kappa=cohen_kappa(table[:, :2]),
        stated=float(np.mean(stated)) if stated else float("nan"),
        happened=Share(sum(good), len(good)),
        calibration_error=expected_calibration_error(stated, good),
    )


def _triple(row: np.ndarray) -> tuple[int, int, int]:
    return int(row[0]), int(row[1]), int(row[2])
