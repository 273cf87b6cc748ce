"""What verdicts are worth on bodies left out, where few labelled films show a context.

    python -m counting.lab.few_films [READINGS]

The packaged table says what many films show. Here each context is learnt again without the films
of one view, on a few films from each view, or on all films of a few bodies, and tried on bodies
that took no part: by these figures a check is judged or only counted (`counting.checks.table`).
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from pathlib import Path
from typing import Final

import numpy as np

from counting.checks.coverage import MISREAD
from counting.checks.errors import infer_readings, with_errors
from counting.checks.table import VIEWS, covered, view_name
from counting.decision.conformance import Risk, decide
from counting.decision.normal import NORMAL_95
from counting.lab.calibrate import READINGS, fit_entry
from counting.lab.readings import Sample, load_readings, margin_of
from counting.lab.ridge import usable

_BODIES_TRIED: Final = 6
"""Bodies that are left out of a context or put together by twos and threes: more change little."""
_DRAWS: Final = 2

Trial = tuple[Sequence[Sample], Sequence[Sample]]
"""What is learnt from, and what is tried."""


@dataclass(slots=True)
class Tally:
    """Reps that were read, and how many intervals held, calls were sure, and sure ones wrong."""

    reps: int = 0
    held: int = 0
    sure: int = 0
    wrong: int = 0

    def add(self, trials: Iterator[Trial]) -> "Tally":
        """Learn and try."""
        for learnt, tried in trials:
            entry = fit_entry(learnt)
            for sample in tried:
                view = view_name(sample.view_deg)
                # A view without films of its own is tried as well, which no table would.
                if view is None or (entry.films[view] and not covered(entry, view)):
                    continue
                values = entry.combine(sample.rep_features, sample.rep_factors, sample.view_deg)
                readings = with_errors(values, entry, view)
                known = infer_readings(readings, entry.before, sample.check)
                off = np.abs(known.value - sample.rep_truth)
                for rep in np.flatnonzero(np.isfinite(off)):
                    good = margin_of(float(sample.rep_truth[rep]), sample.check) >= 0
                    called = decide(float(known.probability_met[rep]), Risk())
                    self.reps += 1
                    self.held += bool(off[rep] <= NORMAL_95 * known.uncertainty[rep])
                    self.sure += called != "too close"
                    self.wrong += called == ("not met" if good else "met")
        return self

    def __str__(self) -> str:
        """Lay it out in a line."""
        held, sure = self.held / max(self.reps, 1), self.sure / max(self.reps, 1)
        wrong = self.wrong / max(self.sure, 1)
        return f"{self.reps:>6}{held:>14.1%}{sure:>8.0%}{wrong:>16.1%}"


def contexts(samples: Sequence[Sample]) -> list[list[Sample]]:
    """Group what is read of checks that may be judged by context, seen from views that may be."""
    groups: dict[str, list[Sample]] = {}
    for sample in samples:
        judged = sample.key != sample.check.quantity and sample.check.quantity not in MISREAD
        if judged and usable(sample) and view_name(sample.view_deg) is not None:
            groups.setdefault(sample.key, []).append(sample)
    return [groups[key] for key in sorted(groups)]


def of_all_others(context: Sequence[Sample], view: str, *, without_view: bool) -> Iterator[Trial]:
    """Learn on all other bodies, with or without their films from the view that is tried."""
    seen = [sample for sample in context if view_name(sample.view_deg) == view]
    for body in sorted({sample.body for sample in seen})[:_BODIES_TRIED]:
        learnt = [
            sample
            for sample in context
            if sample.body != body and not (without_view and sample in seen)
        ]
        if len({sample.body for sample in learnt}) > 1:
            yield learnt, [sample for sample in seen if sample.body == body]


def of_few_films(context: Sequence[Sample], number: int) -> Iterator[Trial]:
    """Learn on so many films from each view, of bodies drawn by chance."""
    rng = np.random.default_rng(0)
    for _ in range(_DRAWS):
        bodies = list(rng.permutation(sorted({sample.body for sample in context})))
        by_body = sorted(context, key=lambda sample: bodies.index(sample.body))
        taken = {
            view: [s for s in by_body if view_name(s.view_deg) == view][:number] for view in VIEWS
        }
        full = {view for view, films in taken.items() if len(films) == number}
        yield from _if_tried([s for films in taken.values() for s in films], context, full)


def of_few_bodies(context: Sequence[Sample], number: int) -> Iterator[Trial]:
    """Learn on all films of so many bodies, those filmed most often."""
    bodies = [sample.body for sample in context]
    often = sorted(set(bodies), key=lambda body: (-bodies.count(body), body))[:_BODIES_TRIED]
    for chosen in islice(combinations(often, number), 2 * _DRAWS):
        learnt = [sample for sample in context if sample.body in chosen]
        if len(learnt) >= 2 * number:
            views = {view_name(sample.view_deg) for sample in learnt}
            yield from _if_tried(learnt, context, views)


def _if_tried(
    learnt: Sequence[Sample], context: Sequence[Sample], views: "set[str] | set[str | None]"
) -> Iterator[Trial]:
    bodies = {sample.body for sample in learnt}
    tried = [s for s in context if s.body not in bodies and view_name(s.view_deg) in views]
    if tried and len(bodies) > 1:
        yield learnt, tried


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.few_films", description=__doc__)
    parser.add_argument("readings", nargs="?", type=Path, default=READINGS)
    films = load_readings(parser.parse_args(arguments).readings)
    groups = contexts([sample for film in films for sample in film.samples])
    print(f"{'learnt on':<44}{'reps':>6}{'intervals hold':>14}{'sure':>8}{'wrong of sure':>16}")

    def tell(words: str, trials: Iterator[Trial]) -> None:
        print(f"{words:<44}{Tally().add(trials)}", flush=True)

    for view in VIEWS:
        for without in (False, True):
            words = f"all other bodies{', no film' if without else ''}, tried from {view}"
            tell(words, _each(of_all_others(one, view, without_view=without) for one in groups))
    for number in (1, 2, 3, 4, 6):
        words = f"{number} films from each view"
        tell(words, _each(of_few_films(one, number) for one in groups))
    for number in (2, 3, 4):
        tell(f"all films of {number} bodies", _each(of_few_bodies(one, number) for one in groups))


def _each(trials: Iterator[Iterator[Trial]]) -> Iterator[Trial]:
    return (trial for of_context in trials for trial in of_context)


if __name__ == "__main__":
    main()
