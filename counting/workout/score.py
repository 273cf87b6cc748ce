"""The score of a workout with the uncertainty of every call carried through."""

import itertools
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.workout.ends import range_of
from counting.workout.record import (
    OutcomePart,
    OutcomeProbability,
    ScorePart,
    TieBreakPart,
    UndecidedPart,
)
from counting.workout.sheet import CalledRep, Sheet, fill_sheet
from counting.workout.types import (
    LoadUnit,
    Run,
    Slot,
    Workout,
    rounds_to_write,
    runs,
    script,
)

MOST_ENUMERATED: Final = 10
"""Open reps up to which every combination is worked out: 1,024 sheets."""
SAMPLES: Final = 2000
"""Combinations drawn where there are more: a share of a half is known to 1.1 percentage points."""
SEED: Final = 20_11
"""The same draw every time: a score does not change from one look to the next."""


@dataclass(frozen=True, slots=True)
class ScoredRep:
    """A rep as the score needs it.

    ``run`` is the run in which it was done, None off the script; ``set`` the number of its set;
    ``clock_s`` the clock when its standard was complete (where it counts), with the standard
    uncertainty of the zero and of the event in ``uncertainty_s``.
    """

    number: int
    run: int | None
    set: int
    clock_s: float
    uncertainty_s: float
    probability_good: float
    undecided: bool
    only_counted: bool = False


@dataclass(frozen=True, slots=True)
class _Rules:
    workout: Workout
    slots: tuple[Slot, ...]
    runs: tuple[Run, ...]
    other_penalties_s: float

    def sheet(self, reps: Sequence[ScoredRep], calls: Sequence[bool]) -> Sheet:
        called = [
            CalledRep(rep.number, rep.run, rep.clock_s, good)
            for rep, good in zip(reps, calls, strict=True)
        ]
        if self.workout.scoring == "one-set maximum":
            called = _best_set(reps, called)
        return fill_sheet(self.workout, self.slots, self.runs, called, self.other_penalties_s)


def score(
    workout: Workout,
    reps: Sequence[ScoredRep],
    other_penalties_s: float = 0.0,
    rounds_reached: int = 1,
) -> tuple[ScorePart, Sheet]:
    """Score an attempt.

    Parameters
    ----------
    workout
        What was asked.
    reps
        Every rep tried, in film order.
    other_penalties_s
        Seconds for a short rest or a wrong start.
    rounds_reached
        The furthest round that the runs of the reps belong to.

    Returns
    -------
    The score, and the sheet of the most likely calls.
    """
    rules = _rules(workout, reps, other_penalties_s, rounds_reached)
    slots = rules.slots
    probabilities = [_counts_probability(workout, rep) for rep in reps]
    open_calls = [
        index for index, rep in enumerate(reps) if rep.undecided or _near_cap(workout, rep)
    ]
    likely_calls = [p >= 0.5 for p in probabilities]
    likely = rules.sheet(reps, likely_calls)
    worst = rules.sheet(reps, _with(likely_calls, dict.fromkeys(open_calls, False)))
    best = rules.sheet(reps, _with(likely_calls, dict.fromkeys(open_calls, True)))
    spread_s = 2.0 * max((rep.uncertainty_s for rep in reps), default=0.0)
    worst_part = _outcome(workout, worst, spread_s)
    best_part = _outcome(workout, best, -spread_s)
    weighted = _all_outcomes(rules, reps, probabilities, likely_calls)
    within = sum(p for sheet, p in weighted if _rank(worst) <= _rank(sheet) <= _rank(best))
    part = ScorePart(
        likely=_outcome(workout, likely, 0.0),
        worst=worst_part,
        best=best_part,
        within=min(1.0, within),
        distribution=_distribution(workout, weighted),
        counting=_counting_words(workout),
        reps_asked=_asked(workout, slots),
        rounds_done=_rounds(slots, likely)[0],
        reps_in_round=_rounds(slots, likely)[1],
        good_reps=sum(likely_calls),
        missing_reps=sum(likely.missing.values()),
        penalties_s=likely.penalties_s,
        time_uncertainty_s=spread_s / 2.0,
        tie_break=_tie_break(workout, likely, weighted, spread_s / 2.0),
        undecided=[
            _undecided(rules, reps, likely_calls, index, _why(workout, reps[index]))
            for index in open_calls
        ],
    )
    return part, likely


def likely_sheet(workout: Workout, reps: Sequence[ScoredRep], rounds_reached: int = 1) -> Sheet:
    """Fill the sheet of the most likely calls alone, without penalties from flags."""
    rules = _rules(workout, reps, 0.0, rounds_reached)
    return rules.sheet(reps, [_counts_probability(workout, rep) >= 0.5 for rep in reps])


def _rules(
    workout: Workout, reps: Sequence[ScoredRep], other_penalties_s: float, rounds_reached: int
) -> _Rules:
    slots = script(workout, rounds_to_write(workout, len(reps), rounds_reached))
    return _Rules(workout, slots, runs(workout, slots), other_penalties_s)


def _counts_probability(workout: Workout, rep: ScoredRep) -> float:
    """Probability that the rep is good and was complete before time was up."""
    return rep.probability_good * _in_time_probability(workout, rep)


def _in_time_probability(workout: Workout, rep: ScoredRep) -> float:
    if workout.time_cap_s is None or not math.isfinite(rep.clock_s):
        return 1.0
    early_s = workout.time_cap_s - rep.clock_s
    return 0.5 * (1.0 + math.erf(early_s / (math.sqrt(2.0) * max(rep.uncertainty_s, 1e-6))))


def _near_cap(workout: Workout, rep: ScoredRep) -> bool:
    return 0.025 < _in_time_probability(workout, rep) < 0.975 and rep.probability_good > 0.05


def _why(workout: Workout, rep: ScoredRep) -> str:
    words = []
    if rep.only_counted:
        words.append("only counted")
    elif rep.undecided:
        words.append("too close")
    if _near_cap(workout, rep):
        words.append("complete too near the time cap to tell")
    return " and ".join(words)


def _with(calls: Sequence[bool], changed: Mapping[int, bool]) -> list[bool]:
    return [changed.get(index, call) for index, call in enumerate(calls)]


def _all_outcomes(
    rules: _Rules,
    reps: Sequence[ScoredRep],
    probabilities: Sequence[float],
    likely_calls: list[bool],
) -> list[tuple[Sheet, float]]:
    """Sheets with their probability: every combination of calls, or a seeded sample of them."""
    unsure = [i for i, p in enumerate(probabilities) if 0.0005 < p < 0.9995]
    weighted: list[tuple[Sheet, float]] = []
    if len(unsure) <= MOST_ENUMERATED:
        for calls in itertools.product((False, True), repeat=len(unsure)):
            changed = dict(zip(unsure, calls, strict=True))
            p = math.prod(
                probabilities[i] if good else 1.0 - probabilities[i] for i, good in changed.items()
            )
            weighted.append((rules.sheet(reps, _with(likely_calls, changed)), p))
        return weighted
    drawn = np.random.default_rng(SEED).random((SAMPLES, len(reps))) < np.array(probabilities)
    for row, times in Counter(map(tuple, drawn.tolist())).items():
        weighted.append((rules.sheet(reps, row), times / SAMPLES))
    return weighted


def _rank(sheet: Sheet) -> tuple[float, bool, float, float]:
    """Order of sheets: by load where that is the score, finished first, faster, more reps."""
    clock_s = -round(sheet.time_s, 6) if sheet.time_s is not None else -math.inf
    return sheet.heaviest or 0.0, sheet.finished, clock_s, float(sheet.reps)


def _outcome(workout: Workout, sheet: Sheet, later_s: float) -> OutcomePart:
    time_s = sheet.time_s
    return OutcomePart(
        finished=sheet.finished,
        reps=sheet.reps,
        time_s=None if time_s is None else time_s + later_s,
        load=sheet.heaviest,
        load_unit=_load_unit(workout),
    )


def _load_unit(workout: Workout) -> LoadUnit | None:
    """Give the unit of the score where that is a load."""
    if workout.scoring != "maximum load":
        return None
    return next(s.load_unit for block in workout.blocks for s in block.stations if s.load_unit)


def _distribution(
    workout: Workout, weighted: list[tuple[Sheet, float]]
) -> list[OutcomeProbability]:
    """Sum the probability of each score; with a load, whatever the reps are."""
    sums: Counter[tuple[float, int, bool]] = Counter()
    for sheet, p in weighted:
        heaviest = sheet.heaviest
        key = (0.0, sheet.reps, sheet.finished) if heaviest is None else (heaviest, 0, False)
        sums[key] += p  # type: ignore[assignment]
    unit = _load_unit(workout)
    return [
        OutcomeProbability(
            reps=reps,
            finished=finished,
            probability=min(1.0, p),
            load=None if unit is None else load,
            load_unit=unit,
        )
        for (load, reps, finished), p in sorted(sums.items())
        if p >= 0.0005
    ]


def _undecided(
    rules: _Rules, reps: Sequence[ScoredRep], calls: list[bool], index: int, why: str
) -> UndecidedPart:
    good = rules.sheet(reps, _with(calls, {index: True}))
    bad = rules.sheet(reps, _with(calls, {index: False}))
    return UndecidedPart(
        rep=reps[index].number,
        why=why,
        if_good=_outcome(rules.workout, good, 0.0),
        if_no_rep=_outcome(rules.workout, bad, 0.0),
    )


def _tie_break(
    workout: Workout,
    likely: Sheet,
    weighted: list[tuple[Sheet, float]],
    uncertainty_s: float,
) -> TieBreakPart | None:
    tie_break = workout.tie_break
    if tie_break is None:
        return None
    times = range_of((s.tie_break_s, p) for s, p in weighted if s.tie_break_s is not None)
    if times is not None and likely.tie_break_s is not None:
        times = min(times[0], likely.tie_break_s), max(times[1], likely.tie_break_s)
    where = (
        f"rep {tie_break.rep}" if tie_break.rep is not None else f"end of block {tie_break.block}"
    )
    return TieBreakPart(
        words=where,
        time_s=likely.tie_break_s,
        earliest_s=None if times is None else times[0] - 2.0 * uncertainty_s,
        latest_s=None if times is None else times[1] + 2.0 * uncertainty_s,
        uncertainty_s=uncertainty_s,
        reached=min(1.0, sum(p for sheet, p in weighted if sheet.tie_break_s is not None)),
    )


def _best_set(reps: Sequence[ScoredRep], called: Sequence[CalledRep]) -> list[CalledRep]:
    """Keep the good reps of the set that holds most of them, the first of equals."""
    good = Counter(rep.set for rep, call in zip(reps, called, strict=True) if call.good)
    if not good:
        return list(called)
    best = max(good, key=lambda number: (good[number], -number))
    return [call for rep, call in zip(reps, called, strict=True) if rep.set == best]


def _asked(workout: Workout, slots: tuple[Slot, ...]) -> int | None:
    if workout.blocks[-1].fixed_rounds is None or any(slot.reps is None for slot in slots):
        return None
    if any(b.open_ended or any(s.as_many for s in b.stations) for b in workout.blocks):
        return None
    return sum(slot.reps or 0 for slot in slots if slot.scored)


def _rounds(slots: tuple[Slot, ...], sheet: Sheet) -> tuple[int, int]:
    """Full scored rounds from the beginning on, and the reps counted after them."""
    done = Counter(slot for _, slot in sheet.counted)
    full, reps_in_full = 0, 0
    for _, group in itertools.groupby(
        enumerate(slots), key=lambda item: (item[1].block, item[1].round)
    ):
        members = list(group)
        scored = members[0][1].scored
        if any(slot.reps is None or done[index] < slot.reps for index, slot in members):
            break
        if not scored:
            continue
        full += 1
        reps_in_full += sum(slot.reps or 0 for _, slot in members)
    return full, sheet.reps - reps_in_full


def _counting_words(workout: Workout) -> str:
    if workout.scoring == "one-set maximum":
        return "the set with the most good reps counts"
    if workout.scoring == "maximum load":
        return "the heaviest round of which every rep is good counts"
    if workout.scoring == "fixed interval":
        return "good reps count within their own interval"
    if workout.missing_reps == "deducted":
        return "missing reps are deducted, the others count"
    return "counting stops at the first missing rep"
