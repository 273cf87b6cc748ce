"""From advice to the plan file: marks, percentiles, the decisive part, words."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

from counting.pacing.card.causes import causes_of
from counting.pacing.card.document import (
    PERCENTILES,
    Alternative,
    BeliefPart,
    Level,
    LiftPart,
    Mark,
    Outlook,
    Percentile,
    PlanDocument,
    PricePart,
    RedlinePart,
    Row,
)
from counting.pacing.card.notes import (
    bad_day_words,
    no_rep_words,
    notes_of,
    target_words,
    typed_words,
)
from counting.pacing.card.warm_up import warm_up_words
from counting.pacing.card.words import CAUTIONS, EVIDENCE, behind_words
from counting.pacing.model.beliefs import beliefs_of
from counting.pacing.model.loads import known_groups
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.advice import Advice, Price
from counting.pacing.search.best import Rated
from counting.pacing.search.course import LONGEST_WORKOUT_S, Course
from counting.pacing.search.departures import plan_words
from counting.pacing.search.forecast import Forecast
from counting.pacing.search.plan import plural
from vision.times import clock

SURE = 0.94
"""Where every rep is surer than this, no station is decided by strength."""

HARDLY_IN_REACH = 0.15
"""Mean chance of a station's least sure rep below which the station is called out of reach."""

SHOWN_SHARE = 0.10
SHOWN_ENDLESS_SHARE = 0.5
"""Stations that fewer plays than this reach are left off the card; where rounds only end with the
time, most attempts never see the last ones."""


def document_of(
    advice: Advice, made_from: Sequence[str], redlines: Sequence[RedlinePart], seed: int
) -> PlanDocument:
    """Write a plan down.

    Parameters
    ----------
    advice
        The plan and its forecasts.
    made_from
        Names of the films.
    redlines
        Where past attempts broke.
    seed
        The seed the advice was made with.
    """
    course, played = advice.course, advice.forecast
    lowest = lowest_chances(course, played)
    decisive = decisive_station(course, played)
    rows = _rows(advice, decisive, lowest)
    target = advice.target
    beliefs = beliefs_of(advice.fit, seed)
    return PlanDocument(
        workout=course.name,
        cap_s=None if course.cap_s >= LONGEST_WORKOUT_S else course.cap_s,
        tie_break_rep=course.tie_break_rep,
        made_from=list(made_from),
        typed=typed_words(advice.fit.known, course.movements),
        target=None if target is None else target_words(target),
        target_probability=None if target is None else float(np.mean(target.reached(played))),
        rows=rows,
        rows_beyond=len(course.stations) - len(rows),
        endless=course.endless or _windowed(course),
        outlook=[
            _outlook("all", 1.0, played, course),
            *(
                _outlook(form, advice.fit.weights[form], run, course)
                for form, run in advice.by_form.items()
            ),
        ],
        beliefs=[BeliefPart(**vars(belief)) for belief in beliefs],
        equals=[_alternative(item, course) for item in advice.equals],
        prices=[_price_part(price) for price in advice.prices],
        lifts=_lifts(course, played),
        decisive=_decisive_words(advice, decisive, lowest),
        strength_decides=bool(round(lowest[decisive], 2) <= SURE),
        notes=notes_of(advice, beliefs, [(row.movement, max(row.sets)) for row in rows], seed),
        no_reps=no_rep_words(advice.corrections),
        causes=causes_of(advice),
        bad_day=bad_day_words(advice),
        warm_up=warm_up_words(course, advice.limits),
        if_behind=behind_words(advice.behind, course),
        groups=[
            *(known_groups()[name].words for name in advice.fit.space.groups),
            "whole body",
        ],
        levels=_levels(played),
        redlines=list(redlines),
        cautions=list(CAUTIONS),
        evidence=list(EVIDENCE),
        seed=seed,
    )


def _lifts(course: Course, played: Forecast) -> list[LiftPart]:
    """Share of plays in which every rep of each attempt goes, where a load is the score."""
    if not course.one_try:
        return []
    blocks = np.concatenate([np.full(s.reps, s.block) for s in course.stations])
    done = np.isfinite(played.rep_s)
    return [
        LiftPart(
            load_kg=max(s.load_kg or 0.0 for s in course.stations if s.block == block),
            goes=float(np.mean(np.all(done[:, blocks == block], axis=1))),
        )
        for block in np.unique(blocks)
    ]


def lowest_chances(course: Course, played: Forecast) -> FloatArray:
    """Mean chance of the least sure rep of each station, shape ``(S,)``.

    Reps that fewer than half of the attempts come to are left out; 1 where that leaves none.
    """
    ends = np.cumsum([station.reps for station in course.stations])
    usual = np.mean(np.isfinite(played.begin_s), axis=0) >= 0.5
    chances = np.split(np.where(usual, played.chance, 1.0), ends[:-1])
    return np.array([float(np.min(own)) for own in chances])


def decisive_station(course: Course, played: Forecast) -> int:
    """Station within reach at which a rep is least sure; where none is in doubt, the longest."""
    ends = np.cumsum([station.reps for station in course.stations])
    first = ends - np.array([station.reps for station in course.stations])
    counted = np.array([station.timed_s is None for station in course.stations])
    begun = np.mean(np.isfinite(played.begin_s[:, first]), axis=0) > 0.5
    reached = np.flatnonzero(begun & counted)
    lowest = np.round(lowest_chances(course, played)[reached], 2)
    if lowest.min() <= SURE:
        return int(reached[np.argmin(lowest)])
    usual_s = np.median(np.minimum(played.rep_s, played.cap_s), axis=0)
    begin_s = np.median(np.minimum(played.begin_s, played.cap_s), axis=0)
    spans_s = usual_s[ends[reached] - 1] - begin_s[first[reached]]
    return int(reached[np.argmax(np.round(spans_s))])


def quantile_s(times_s: FloatArray, share: float) -> float | None:
    """Quantile of clock readings of which some are infinite; None where it is infinite itself."""
    value = float(np.quantile(times_s, share, method="inverted_cdf"))
    return value if np.isfinite(value) else None


def _rows(advice: Advice, decisive: int, lowest: FloatArray) -> list[Row]:
    course, played = advice.course, advice.forecast
    rows: list[Row] = []
    end = 0
    rounds = {
        block: max(s.round for s in course.stations if s.block == block)
        for block in {station.block for station in course.stations}
    }
    windowed = _windowed(course)
    for place, (station, stint) in enumerate(zip(course.stations, advice.chosen, strict=True)):
        begun = float(np.mean(np.isfinite(played.begin_s[:, end])))
        end += station.reps
        least = SHOWN_ENDLESS_SHARE if course.endless else SHOWN_SHARE
        if windowed and station.number > 1 and begun < least:
            continue
        if not windowed and place and begun < least:
            break
        own_s = played.rep_s[:, end - station.reps : end]
        times_s = played.clock_at(end)
        rows.append(
            Row(
                block=station.block,
                round=station.round,
                rounds=rounds[station.block],
                station=station.number,
                movement=station.movement,
                reps=station.reps,
                load_kg=station.load_kg,
                able=round(advice.limits.able.get(station.kind, 1.0), 2),
                usual_reps=int(np.median(np.sum(np.isfinite(own_s), axis=1))),
                reached=begun,
                due_s=station.deadline_s if np.isfinite(station.deadline_s) else None,
                sets=list(stint.sets),
                rests_s=list(stint.rests_s),
                rest_before_s=stint.rest_before_s,
                fixed_rest_s=station.fixed_rest_s,
                effort=stint.effort,
                mark=Mark(
                    early_s=quantile_s(times_s, 0.1),
                    middle_s=quantile_s(times_s, 0.5),
                    late_s=quantile_s(times_s, 0.9),
                ),
                lowest_chance=float(lowest[place]),
                decisive=place == decisive,
                timed_s=station.timed_s,
                begin_s=quantile_s(played.begin_s[:, end - station.reps], 0.5),
                swaps=course.others_go > 0,
                as_many=station.as_many,
            )
        )
    return rows


def _windowed(course: Course) -> bool:
    """Whether the clock goes on to other work where some is left over."""
    return any(np.isfinite(station.deadline_s) for station in course.stations)


def _outlook(
    form: Literal["all", "linear", "exponential", "two-phase"],
    weight: float,
    played: Forecast,
    course: Course,
) -> Outlook:
    order = np.lexsort((-played.rep_s[:, -1], played.reps))
    rows = []
    for percent in PERCENTILES:
        play = int(order[min(int(percent / 100 * order.size), order.size - 1)])
        finish_s = float(played.rep_s[play, -1])
        rows.append(
            Percentile(
                percentile=percent,
                reps=int(played.reps[play]),
                finish_s=finish_s if course.finishing and np.isfinite(finish_s) else None,
                tie_break_s=_tie_break_s(course, played, 1.0 - percent / 100),
            )
        )
    finishes = float(np.mean(np.isfinite(played.rep_s[:, -1]))) if course.finishing else 0.0
    return Outlook(form=form, weight=weight, percentiles=rows, finishes=finishes)


def _tie_break_s(course: Course, played: Forecast, share: float) -> float | None:
    if course.tie_break_rep is None:
        return None
    return quantile_s(played.clock_at(course.tie_break_rep), share)


def _alternative(item: Rated, course: Course) -> Alternative:
    run = item.played
    return Alternative(
        words=plan_words(course, item.plan),
        mean_reps=float(np.mean(run.reps)),
        finish_s=quantile_s(run.rep_s[:, -1], 0.5) if course.finishing else None,
        tie_break_s=_tie_break_s(course, run, 0.5),
        failing=float(np.mean(run.failing)),
    )


def _price_part(price: Price) -> PricePart:
    return PricePart(
        words=price.words,
        reps=price.reps,
        time_s=price.time_s,
        worse=price.worse,
        equal=price.equal,
        failing=price.failing,
        reached=price.reached,
    )


def _decisive_words(advice: Advice, place: int, lowest: FloatArray) -> str:
    course, played = advice.course, advice.forecast
    station = course.stations[place]
    if course.one_try:
        return (
            "open with a load that goes in at least 9 of 10 attempts. Add weight while the lifts "
            "stay fast; after a miss repeat the load or stop, and do not lift with a back that "
            "rounds or arms that shake."
        )
    beyond = [
        kind for kind, able in advice.limits.able.items() if able < 1.0 and kind in course.kinds
    ]
    if beyond:
        names = " and ".join(dict.fromkeys(plural(kind[0]) for kind in beyond))
        first = next(s for s in course.stations if s.kind in beyond)
        before = course.stations[: course.stations.index(first)]
        number = sum(s.reps for s in before)
        before_s = quantile_s(played.clock_at(number), 0.5) if number else None
        made = (
            f"The {sum(s.reps for s in before if s.scored and s.timed_s is None)} reps before it "
            "make the score"
            if number
            else "Every single rep counts"
        )
        if before_s is not None:
            made += f": be there at {clock(before_s, 0)}"
        return (
            f"{names} are out of reach: the estimate is less than one. {made}; use the time left "
            "for single tries, and rest until sure of each."
        )
    rounds = max(other.round for other in course.stations if other.block == station.block)
    where = f"the {plural(station.movement, station.reps)}"
    where += f" of round {station.round}" if rounds > 1 else ""
    if round(lowest[place], 2) > SURE:
        return f"{where}: no rep should fail there. Keep the rhythm, and move on at once."
    if lowest[place] < HARDLY_IN_REACH:
        made = "Score and tie-break are" if course.tie_break_rep is not None else "The score is"
        return (
            f"{where}, barely in reach: fewer than 2 tries in 10 succeed. {made} made before it; "
            "use the time left for single tries, and rest until sure of each."
        )
    return (
        f"{where}. Here a rep is least likely to succeed ({10 * lowest[place]:.0f} in 10 at the "
        "weakest moment). Arrive with strength left, and let go before a rep fails."
    )


def _levels(played: Forecast) -> list[Level]:
    levels = []
    for rep in range(played.rep_s.shape[1]):
        begin_s = quantile_s(played.begin_s[:, rep], 0.5)
        end_s = quantile_s(played.rep_s[:, rep], 0.5)
        if begin_s is None or end_s is None:
            continue
        for at_s, row in ((begin_s, played.before[rep]), (end_s, played.after[rep])):
            percent = [round(100 * float(value), 1) for value in row]
            levels.append(Level(at_s=round(at_s, 2), percent=percent))
    return levels
