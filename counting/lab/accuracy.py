"""How well counts, times and breaks agree with the truth, by movement and view."""

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Final

import numpy as np

from counting.decision.agreement import wilson_interval
from counting.lab.labels import LabelledFilm
from counting.lab.matching import Interval, match
from counting.lab.verdict_tables import VIEWS


@dataclass(frozen=True, slots=True)
class Found:
    """What the tool found in one film, whichever way it was run."""

    reps: tuple[Interval, ...]
    breaks: tuple[Interval, ...]


@dataclass(frozen=True, slots=True)
class FilmAccuracy:
    """One film's agreement with its truth.

    ``end_errors_frames`` holds found minus true end of every paired repetition, in frames of that
    film.
    """

    name: str
    movement: str
    view: str
    true_reps: int
    found_reps: int
    end_errors_frames: tuple[float, ...]
    missed_reps: int
    invented_reps: int
    missed_breaks: int
    invented_breaks: int

    @property
    def exact(self) -> bool:
        """Whether the count is right, and of the right repetitions."""
        return self.missed_reps == 0 and self.invented_reps == 0


def film_accuracy(film: LabelledFilm, found: Found) -> FilmAccuracy:
    """Compare one film with its truth."""
    reps = match([(rep.start_s, rep.end_s) for rep in film.reps], found.reps)
    breaks = match(film.breaks_s, found.breaks)
    ends = tuple(found.reps[j][1] - film.reps[i].end_s for i, j in reps.pairs)
    return FilmAccuracy(
        name=film.name,
        movement=film.movement,
        view=view_name(film.view_deg),
        true_reps=len(film.reps),
        found_reps=len(found.reps),
        end_errors_frames=tuple(error * film.frame_rate_hz for error in ends),
        missed_reps=len(reps.missed),
        invented_reps=len(reps.invented),
        missed_breaks=len(breaks.missed),
        invented_breaks=len(breaks.invented),
    )


def view_name(view_deg: float) -> str:
    """Name of the sector a view lies in."""
    return next(name for name, low, high in VIEWS if low <= view_deg < high)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Figures over some films; errors are absolute, NaN without any pair.

    ``exact_low`` and ``exact_high`` are the 95 % Wilson interval of the exact-count rate.
    """

    films: int
    exact: int
    exact_low: float
    exact_high: float
    within_one: int
    end_median_frames: float
    end_95_frames: float
    missed_breaks: int
    invented_breaks: int


def accuracy(films: Sequence[FilmAccuracy]) -> Accuracy:
    """Sum films up."""
    exact = sum(film.exact for film in films)
    low, high = wilson_interval(exact, len(films)) if films else (0.0, 1.0)
    errors = np.abs([error for film in films for error in film.end_errors_frames])
    return Accuracy(
        films=len(films),
        exact=exact,
        exact_low=low,
        exact_high=high,
        within_one=sum(abs(film.found_reps - film.true_reps) <= 1 for film in films),
        end_median_frames=float(np.median(errors)) if errors.size else float("nan"),
        end_95_frames=float(np.percentile(errors, 95)) if errors.size else float("nan"),
        missed_breaks=sum(film.missed_breaks for film in films),
        invented_breaks=sum(film.invented_breaks for film in films),
    )


_HEAD: Final = (
    f"  {'':<24}{'films':>6}{'exact':>7}{'95 % interval':>16}{'within 1':>10}"
    f"{'end, frames':>14}{'breaks missed':>15}{'invented':>10}"
)


def accuracy_report(films: Sequence[FilmAccuracy]) -> str:
    """Table as text: by movement, by view, all; then each film whose count or breaks are off."""
    lines = ["Counts, ends of repetitions (median / 95 %), breaks", _HEAD]
    for group_of in (attrgetter("movement"), attrgetter("view")):
        lines += [
            _row(name, [film for film in films if group_of(film) == name])
            for name in sorted({group_of(film) for film in films})
        ]
    lines.append(_row("all", films))
    off = [f for f in films if not f.exact or f.missed_breaks or f.invented_breaks]
    lines += [
        f"  {film.name}: {film.found_reps} of {film.true_reps} repetitions, {film.missed_reps} "
        f"missed, {film.invented_reps} invented; breaks {film.missed_breaks} missed, "
        f"{film.invented_breaks} invented"
        for film in off
    ]
    return "\n".join(lines)


def _row(name: str, films: Sequence[FilmAccuracy]) -> str:
    a = accuracy(films)
    interval = f"{100 * a.exact_low:.0f} to {100 * a.exact_high:.0f} %"
    ends = f"{a.end_median_frames:.1f} / {a.end_95_frames:.1f}"
    return (
        f"  {name:<24}{a.films:>6}{a.exact:>7}{interval:>16}{a.within_one:>10}"
        f"{ends:>14}{a.missed_breaks:>15}{a.invented_breaks:>10}"
    )
