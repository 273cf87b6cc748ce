"""Readings of checks, verdicts on reps, and what was learnt of athlete and camera on the way."""

from dataclasses import dataclass
from typing import Literal

from counting.decision.combination import RepState
from counting.decision.conformance import Relation, State

CheckVerdict = State | Literal["not judged"]


StatureSource = Literal["assumed", "given", "plates"]
"""From what the athlete's height is known."""


@dataclass(frozen=True, slots=True)
class RawReading:
    """What a value was inferred from, before anything that people's calls say of it.

    ``value`` is the calibrated reading; ``own_error`` and ``film_error`` are the scales of the
    error of this rep alone and of the one that it shares with the film's others.
    """

    value: float
    own_error: float
    film_error: float


@dataclass(frozen=True, slots=True)
class CheckReading:
    """One criterion of the standard on one rep.

    Attributes
    ----------
    name, words, quantity, relation, limit, unit
        From the movement's standard.
    at_s
        Time of the deciding frame; None where nothing could be read.
    value, uncertainty
        Median of the true values that remain, and their standard uncertainty (k = 1), half of
        the 95 % interval over 1.96, in ``unit``; None where nothing could be read.
    low, high
        Interval that the call comes from, in ``unit``: the limit lies inside it exactly where the
        check is too close. None where nothing could be read.
    probability_met
        Conformance probability; 0.5 where nothing could be read.
    verdict
        "met", "not met" or "too close"; "not judged" where no labelled film tells how far off such
        a reading may be.
    reason
        Why the reading is missing or cannot judge, or in plain words by how much it falls short.
    reading
        What ``value`` was inferred from.
    """

    name: str
    words: str
    quantity: str
    at_s: float | None
    value: float | None
    relation: Relation
    limit: float
    unit: Literal["deg", "cm", "share", "passes"]
    uncertainty: float | None
    probability_met: float
    verdict: CheckVerdict
    reason: str | None = None
    low: float | None = None
    high: float | None = None
    reading: RawReading | None = None


@dataclass(frozen=True, slots=True)
class RepVerdict:
    """The verdict on one rep.

    Attributes
    ----------
    number
        The rep's number in film order.
    verdict
        "good" where each check is met, "no-rep" where one is surely not; the rule is in
        `counting.decision.combination`. "only counted" where a check is not judged, or there is
        none.
    probability_good
        Calibrated probability that all checks are met.
    counted_s
        When the standard was complete and a judge would count; None for a no-rep.
    checks
        In the order of the standard.
    reason
        One sentence; None for a good rep.
    """

    number: int
    verdict: RepState
    probability_good: float
    counted_s: float | None
    checks: tuple[CheckReading, ...]
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Judgement:
    """All reps of one movement in one film, with the fitted athlete and camera.

    ``view_deg`` is 0 from the front, 90 from the side, 180 from behind; the fitted values are None
    where too little was seen to fit a body. Distances are as sure as the stature, which is known
    from ``stature_source``. ``shared_error`` is
    how much the reps' errors have in common, see `counting.decision.counting_reps`. ``views_deg``
    are the views of all films it was judged from, the first one's first.
    """

    verdicts: tuple[RepVerdict, ...]
    view_deg: float | None
    view_uncertainty_deg: float | None
    stature_m: float | None
    stature_uncertainty_m: float | None
    camera_distance_m: float | None
    camera_height_m: float | None
    notes: tuple[str, ...] = ()
    shared_error: float = 0.0
    views_deg: tuple[float, ...] = ()
    stature_source: StatureSource = "assumed"
