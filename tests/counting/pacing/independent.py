"""Athletes of another make than the tool's model, to try plans and intervals on.

Nothing of the tool's equations is used. What is missing of a muscle has a fast and a slow half
(time constants about 22 s and 388 s, half each: Chorley et al. 2022); it grows with every rep and
faster when tired; a rep fails when what is left falls short of a force that varies from rep to rep;
speed is lost late and steeply; breathing follows the work with a lag of a minute and more, and
slows everything. All constants but the two named are invented. People differ in how fast they
recover and how much a set tires as published ones do: the reps of several sets to failure vary by
13 to 20 % (Speretta et al. 2012; Iglesias-Soler et al. 2014).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp

import numpy as np

from counting.pacing.measure.trial import CAPACITIES, Outcome, Person
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.known import Known, unbroken_sets
from counting.pacing.search.course import Course
from counting.pacing.search.plan import Plan

MUSCLES: Mapping[str, Mapping[str, float]] = {
    "thruster": {"legs": 1.0, "shoulders": 0.7},
    "front squat": {"legs": 1.0, "trunk": 0.3},
    "chest-to-bar pull-up": {"arms": 1.0},
    "pull-up": {"arms": 1.0},
    "bar muscle-up": {"arms": 1.0, "shoulders": 0.4},
    "burpee": {"shoulders": 1.0, "legs": 0.6},
    "push-up": {"shoulders": 1.0},
    "air squat": {"legs": 1.0},
}
REP_S: Mapping[str, float] = {
    "thruster": 2.3,
    "front squat": 2.6,
    "chest-to-bar pull-up": 1.6,
    "pull-up": 1.5,
    "bar muscle-up": 3.2,
    "burpee": 3.6,
    "push-up": 1.4,
    "air squat": 1.6,
}
BREATHING: Mapping[str, float] = {"thruster": 1.3, "burpee": 1.2, "bar muscle-up": 0.9}


@dataclass(frozen=True)
class Lifter:
    """One such athlete: capacities and a temper of its own."""

    capacities: Mapping[str, float]
    quick: float
    refill: float
    lungs: float
    grit: float
    changeover_s: float
    least_break_s: float
    tiring: float

    @property
    def known(self) -> Known:
        """Typed unbroken sets."""
        return unbroken_sets(self.capacities)

    def play(self, course: Course, plan: Plan, days: range) -> list[Outcome]:
        """Attempt a plan on several days."""
        return [self._play(course, plan, day) for day in days]

    def _play(self, course: Course, plan: Plan, seed: int) -> Outcome:
        random = np.random.default_rng(seed)
        body = _Body(self, random)
        done, tie_break_s, failed = 0, float("inf"), 0
        number = 0
        for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
            way_s = self.changeover_s * _about(random, 0.15) if place else 0.0
            body.rest(max(way_s, station.fixed_rest_s) + stint.rest_before_s, hands_off=True)
            body.rest(max(station.not_before_s - body.clock_s, 0.0), hands_off=True)
            end_s = min(station.deadline_s, course.cap_s)
            in_time = True
            for index, size in enumerate(stint.sets):
                if index:
                    wanted_s = max(stint.rests_s[index - 1], self.least_break_s)
                    body.rest(wanted_s * _about(random, 0.15), hands_off=True)
                for _ in range(size):
                    number += 1
                    while body.clock_s < end_s and not body.rep(station.movement, stint.effort):
                        failed += 1
                        body.rest(22.0 * _about(random, 0.3), hands_off=True)
                    in_time = body.clock_s <= end_s
                    if not in_time:
                        continue
                    done += 1
                    if number == course.tie_break_rep:
                        tie_break_s = body.clock_s
            if not in_time:
                body.clock_s = min(body.clock_s, end_s) if end_s < course.cap_s else body.clock_s
            if body.clock_s > course.cap_s:
                break
        finished = done == course.reps
        return Outcome(done, body.clock_s if finished else float("inf"), tie_break_s, failed)

    def to_failure(self, movement: str, sets: int, rest_s: float, seed: int) -> int:
        """Reps of several sets to failure, with a rest between."""
        body = _Body(self, np.random.default_rng(seed))
        done = 0
        for number in range(sets):
            if number:
                body.rest(rest_s, hands_off=True)
            while body.rep(movement, 1.0):
                done += 1
        return done

    def film(self, course: Course, plan: Plan, seed: int) -> Attempt:
        """Attempt sets of a plan with rests as this athlete takes them; failed reps end a set."""
        random = np.random.default_rng(seed)
        body = _Body(self, random)
        reps: list[SeenRep] = []
        set_number = 0
        for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
            if place:
                body.rest(self.changeover_s * _about(random, 0.15), hands_off=True)
            body.rest(max(station.not_before_s - body.clock_s, 0.0), hands_off=True)
            left = list(stint.sets)
            while left:
                size, left = left[0], left[1:]
                set_number += 1
                for done in range(size):
                    if body.clock_s >= min(station.deadline_s, course.cap_s):
                        left = []
                        break
                    begin_s = body.clock_s
                    went = body.rep(station.movement, 1.0)
                    reps.append(
                        SeenRep(
                            station.movement,
                            begin_s,
                            body.clock_s,
                            set_number,
                            False if went else None,
                            (station.block, station.round, station.number),
                            refused=float(not went),
                        )
                    )
                    if not went:
                        left = [size - done, *left]
                        break
                body.rest(self.least_break_s * _about(random, 0.2) + random.exponential(9.0), True)
            if body.clock_s >= course.cap_s:
                break
        return Attempt(tuple(reps), 0.0)


class _Body:
    """What is missing where, and the clock."""

    def __init__(self, lifter: Lifter, random: np.random.Generator) -> None:
        self.lifter, self.random = lifter, random
        self.day = _about(random, 0.05)
        self.clock_s, self.breath, self.strain = 0.0, 0.0, 0.0
        self.fast: dict[str, float] = {}
        self.slow: dict[str, float] = {}

    def rest(self, time_s: float, hands_off: bool) -> None:
        self._recover(time_s, {})
        self.breath *= exp(-time_s / (75.0 / self.lifter.lungs))
        if hands_off:
            self.strain *= exp(-time_s / 6.0)
        self.clock_s += time_s

    def rep(self, movement: str, effort: float) -> bool:
        muscles = MUSCLES[movement]
        able = max(self.lifter.capacities[movement] * self.day, 0.05)
        whole = 1.0 + 0.5 * self.lifter.tiring
        cost = 1.0 / (whole * max(able, 1.0))
        tired = max(share * self._missing(name) for name, share in muscles.items())
        missing = max(
            (self._missing(name) / 1.0 for name, share in muscles.items() if share == 1.0),
            default=tired,
        )
        late = 1.0 + self.lifter.tiring * min(self.strain / max(able, 1.0), 1.5)
        asked = cost * late * exp(0.12 * self.random.standard_normal())
        if able < 1.0:
            asked *= exp(3.0 * (1.0 - able)) * max(able, 1.0) * whole
        went = bool(1.0 - missing >= asked)
        slow = 1.0 + 0.9 * self.lifter.grit * tired**3 + 0.35 * max(self.breath - 0.5, 0.0)
        time_s = REP_S[movement] * self.lifter.quick * slow / effort * _about(self.random, 0.05)
        if not went:
            time_s *= 1.3
        self._recover(time_s, muscles)
        for name, share in muscles.items():
            drawn = share * min(cost * late, 1.0)
            room = max(1.0 - self._missing(name), 0.0)
            self.fast[name] = self.fast.get(name, 0.0) + 0.5 * min(drawn, room)
            self.slow[name] = self.slow.get(name, 0.0) + 0.5 * min(drawn, room)
        lag = exp(-time_s / (60.0 / self.lifter.lungs))
        heavy = BREATHING.get(movement, 0.7) * effort / self.lifter.lungs
        self.breath = heavy + (self.breath - heavy) * lag
        self.strain += 1.0
        self.clock_s += time_s
        return went

    def _missing(self, name: str) -> float:
        return self.fast.get(name, 0.0) + self.slow.get(name, 0.0)

    def _recover(self, time_s: float, but: Mapping[str, float]) -> None:
        worse = 1.0 + 0.35 * max(self.breath - 0.5, 0.0)
        for name in self.fast:
            if name not in but:
                self.fast[name] *= exp(-time_s / (22.0 * self.lifter.refill * worse))
                self.slow[name] *= exp(-time_s / (388.0 * self.lifter.refill * worse))


def _about(random: np.random.Generator, spread: float) -> float:
    return float(np.exp(spread * random.standard_normal()))


def people(seed: int = 0) -> list[Person]:
    """The eight athletes of the trial in this other make."""
    found: list[Person] = []
    for number, capacities in enumerate(CAPACITIES):
        random = np.random.default_rng([seed, number, 1])
        true = {name: reps * _about(random, 0.07) for name, reps in capacities.items()}
        found.append(
            _Typing(
                capacities=true,
                quick=_about(random, 0.14),
                refill=_about(random, 0.45),
                lungs=_about(random, 0.2),
                grit=_about(random, 0.4),
                changeover_s=6.0 * _about(random, 0.35),
                least_break_s=4.5 * _about(random, 0.3),
                tiring=0.9 * _about(random, 0.7),
                typed=capacities,
            )
        )
    return found


@dataclass(frozen=True)
class _Typing(Lifter):
    """A lifter who types in what was last measured, not what is true today."""

    typed: Mapping[str, float]

    @property
    def known(self) -> Known:
        """Typed unbroken sets."""
        return unbroken_sets(self.typed)
