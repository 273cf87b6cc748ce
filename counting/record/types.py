"""Types of the audit record, ``repwitness.audit/1``: what ``audit.json`` holds.

Every time is in seconds of the film's own presentation clock. A value that could not be read is
``None`` beside a reason, never a guess. Lists are in film order.
"""

from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import Meta

AUDIT_SCHEMA: Final = "repwitness.audit/1"

Probability = Annotated[float, Meta(ge=0.0, le=1.0)]
Count = Annotated[int, Meta(ge=0)]
Number = Annotated[int, Meta(ge=1)]
Seconds = float

RepVerdict = Literal["good", "no-rep", "too close", "only counted"]
CheckVerdict = Literal["met", "not met", "too close", "not judged"]
BreakKind = Literal["at the bar", "bar down", "walked off", "standing"]


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""


class FilmPart(_Part, frozen=True, kw_only=True):
    """Facts of the film. ``rotation_deg`` is the stored rotation, already applied to the size."""

    file: str
    sha256: str
    duration_s: Seconds
    frames: Count
    width: Number
    height: Number
    rotation_deg: int
    frame_rate_mean_hz: float
    variable_frame_rate: bool
    broken_at_s: Seconds | None = None


class AthletePart(_Part, frozen=True, kw_only=True):
    """How much of the athlete was seen.

    ``seen_share`` is the share of frames with the athlete; ``identity_breaks_s`` the times at
    which it is not certain that the same person goes on; ``stature_m`` the fitted body height with
    its standard uncertainty, where a fit was made.
    """

    seen_share: Probability
    identity_breaks_s: list[Seconds] = []
    lost: list[tuple[Seconds, Seconds]] = []
    stature_m: float | None = None
    stature_uncertainty_m: float | None = None


class CameraPart(_Part, frozen=True, kw_only=True):
    """Where the camera stood. ``view_deg``: 0 = front, 90 = side, 180 = back."""

    view_deg: float | None
    view_uncertainty_deg: float | None = None
    steady: bool
    shake_px: float
    distance_m: float | None = None
    height_m: float | None = None


class CheckPart(_Part, frozen=True, kw_only=True):
    """One criterion of the standard on one rep.

    ``value``, ``limit`` and the standard ``uncertainty`` (k = 1) are in ``unit``;
    ``relation`` says on which side of the limit the standard is met; ``reason`` says why a value
    is missing or cannot be judged.
    """

    name: str
    words: str
    quantity: str
    at_s: Seconds | None
    value: float | None
    relation: Literal["at least", "at most"]
    limit: float
    unit: Literal["deg", "cm", "s", "share"]
    uncertainty: float | None
    probability_met: Probability
    verdict: CheckVerdict
    reason: str | None = None


class RepPart(_Part, frozen=True, kw_only=True):
    """One attempted rep, in film order, counted or not.

    ``start_s`` and ``end_s`` bound the cycle, ``turn_s`` is its bottom or top, ``counted_s`` the
    moment the standard is complete (None for a no-rep). The last four place it in a workout.
    """

    number: Number
    set: Number
    movement: str
    start_s: Seconds
    turn_s: Seconds
    counted_s: Seconds | None
    end_s: Seconds
    verdict: RepVerdict
    probability_good: Probability
    checks: list[CheckPart]
    reason: str | None = None
    block: Number | None = None
    round: Number | None = None
    station: Number | None = None


class SetPart(_Part, frozen=True, kw_only=True):
    """Reps without a break between them."""

    number: Number
    movement: str
    first_rep: Number
    last_rep: Number
    start_s: Seconds
    end_s: Seconds


class BreakPart(_Part, frozen=True, kw_only=True):
    """From the end of a set's last rep to the start of the next set's first."""

    after_set: Number
    start_s: Seconds
    end_s: Seconds
    kind: BreakKind


class PausePart(_Part, frozen=True, kw_only=True):
    """A wait inside a set, bar in hand or hands on the bar."""

    after_rep: Number
    start_s: Seconds
    end_s: Seconds
    where: str


class CountProbability(_Part, frozen=True, kw_only=True):
    """Probability that exactly ``good`` reps stand."""

    good: Count
    probability: Probability


class CountsPart(_Part, frozen=True, kw_only=True, omit_defaults=True):
    """Counts of verdicts; the interval of reps that may stand; the probability of each count.

    ``only_counted`` are reps of which some part of the standard was not judged: between none and
    all of them may stand.
    """

    good: Count
    no_rep: Count
    too_close: Count
    only_counted: Count = 0
    lowest: Count
    highest: Count
    distribution: list[CountProbability] = []


class SeriesPart(_Part, frozen=True, kw_only=True):
    """The signal that drove segmentation, thinned for drawing; ``value`` None where unseen."""

    name: str
    unit: str
    time_s: list[Seconds]
    value: list[float | None]


class RiskPart(_Part, frozen=True, kw_only=True):
    """The decision rule: conformance probabilities above and below which a verdict is definite."""

    met_at_least: Probability
    not_met_at_most: Probability


class VersionsPart(_Part, frozen=True, kw_only=True):
    """What made this record: with the film's digest it can be made again."""

    tool: str
    model: str
    model_sha256: str
    libraries: dict[str, str]
    standards: dict[str, str] = {}
    extraction: dict[str, Any] = {}


class AuditRecord(_Part, frozen=True, kw_only=True):
    """One audited film.

    ``workout``, ``continuity`` and ``film_notes`` are filled where the audit followed a workout,
    tested the film for cuts, or has advice on filming; their own modules define their content.
    ``digest`` is the seal of everything else in the record; see `counting.record.seal`.
    """

    schema: Literal["repwitness.audit/1"] = AUDIT_SCHEMA
    film: FilmPart
    athlete: AthletePart
    camera: CameraPart
    movement: str | None
    start_s: Seconds | None
    risk: RiskPart
    reps: list[RepPart]
    sets: list[SetPart]
    breaks: list[BreakPart]
    pauses: list[PausePart]
    counts: CountsPart
    series: SeriesPart | None
    warnings: list[str]
    versions: VersionsPart
    landmarks_file: str | None = None
    workout: dict[str, Any] | None = None
    continuity: dict[str, Any] | None = None
    film_notes: list[str] = []
    digest: str | None = None
