"""Types of the audit record, ``repwitness.audit/1``: what ``audit.json`` holds.

Every time is in seconds of the film's own presentation clock (see `FilmPart`). A value that
could not be read is ``None`` beside a reason, never a guess. Lists are in film order.
"""

from typing import Any, Final, Literal

from msgspec import UNSET, UnsetType, field

from counting.record.parts import Count, FilmSeconds, Number, Part, Probability, Real, Seconds
from counting.workout.record import WorkoutPart
from vision.continuity.types import FindingKind, Source

AUDIT_SCHEMA: Final = "repwitness.audit/1"

RepVerdict = Literal["good", "no-rep", "too close", "only counted"]
CheckVerdict = Literal["met", "not met", "too close", "not judged"]
StatureSource = Literal["given", "plates"]
BreakKind = Literal["at the bar", "bar down", "walked off", "standing"]


class FilmPart(Part, frozen=True, kw_only=True):
    """Facts of the film.

    ``rotation_deg`` is the stored rotation, already applied to the size. Where ``times_known`` is
    false, the film's own frame times are missing or in disorder: its pictures are counted at a
    nominal rate, every time in the record says only where in the film something is, and breaks,
    pauses and the workout are left out.
    """

    file: str
    sha256: str
    duration_s: FilmSeconds
    frames: Count
    width: Number
    height: Number
    rotation_deg: int
    frame_rate_mean_hz: Real
    variable_frame_rate: bool
    broken_at_s: Seconds | None = None
    times_known: bool = True


class AthletePart(Part, frozen=True, kw_only=True):
    """How much of the athlete was seen.

    ``seen_share`` is the share of frames with the athlete; ``identity_breaks_s`` the times at
    which it is not certain that the same person goes on; ``stature_m`` the fitted body height with
    its standard uncertainty, where a fit was made; ``stature_source`` from what it is known where
    it is not just assumed.
    """

    seen_share: Probability
    identity_breaks_s: list[Seconds] = field(default_factory=list)
    lost: list[tuple[Seconds, Seconds]] = field(default_factory=list)
    stature_m: Real | None = None
    stature_uncertainty_m: Real | None = None
    stature_source: StatureSource | UnsetType = UNSET


class CameraPart(Part, frozen=True, kw_only=True):
    """Where the camera stood. ``view_deg``: 0 = front, 90 = side, 180 = back."""

    view_deg: Real | None
    view_uncertainty_deg: Real | None = None
    steady: bool
    shake_px: Real
    distance_m: Real | None = None
    height_m: Real | None = None


class ReadingPart(Part, frozen=True, kw_only=True):
    """What a value was inferred from, in its unit.

    ``value`` is the reading by the table, ``own_error`` the scale of its error in this rep alone,
    ``film_error`` of the one that all reps of the film share: Student's t of 8 and 15 degrees of
    freedom. What people's calls say of these errors is not in them yet.
    """

    value: Real
    own_error: Real
    film_error: Real


class CheckPart(Part, frozen=True, kw_only=True):
    """One criterion of the standard on one rep.

    ``value``, ``limit`` and the standard ``uncertainty`` (k = 1) are in ``unit``;
    ``relation`` says on which side of the limit the standard is met; ``low`` and ``high`` are the
    interval that the call comes from: the limit lies inside it exactly where the check is too
    close. ``reason`` says why a value is missing or cannot be judged.
    """

    name: str
    words: str
    quantity: str
    at_s: Seconds | None
    value: Real | None
    relation: Literal["at least", "at most"]
    limit: Real
    unit: Literal["deg", "cm", "s", "share", "passes"]
    uncertainty: Real | None
    probability_met: Probability
    verdict: CheckVerdict
    reason: str | None = None
    low: Real | None = None
    high: Real | None = None
    reading: ReadingPart | None = None


class RepPart(Part, frozen=True, kw_only=True):
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


class SetPart(Part, frozen=True, kw_only=True):
    """Reps without a break between them."""

    number: Number
    movement: str
    first_rep: Number
    last_rep: Number
    start_s: Seconds
    end_s: Seconds


class BreakPart(Part, frozen=True, kw_only=True):
    """From the end of a set's last rep to the start of the next set's first."""

    after_set: Number
    start_s: Seconds
    end_s: Seconds
    kind: BreakKind


class PausePart(Part, frozen=True, kw_only=True):
    """A wait inside a set, bar in hand or hands on the bar."""

    after_rep: Number
    start_s: Seconds
    end_s: Seconds
    where: str


class UnexplainedPart(Part, frozen=True, kw_only=True):
    """A stretch in which up to ``most`` reps may be hidden: not read, or moved without a rep."""

    start_s: Seconds
    end_s: Seconds
    most: Number
    why: Literal["not read", "moved"]


class CountProbability(Part, frozen=True, kw_only=True):
    """Probability that exactly ``good`` reps stand."""

    good: Count
    probability: Probability


class CountsPart(Part, frozen=True, kw_only=True, omit_defaults=True):
    """Counts of verdicts; the interval of reps that may stand; the probability of each count.

    ``shared_error`` is how much the reps' errors have in common, 0 to 1: one film may show all of
    them too well, or none. Reps that may be hidden where the film is unexplained are in the
    interval and in the probabilities. ``only_counted`` are reps of which some part of the standard
    was not judged: between none and all of them may stand.
    """

    good: Count
    no_rep: Count
    too_close: Count
    only_counted: Count = 0
    lowest: Count
    highest: Count
    distribution: list[CountProbability] = field(default_factory=list)
    shared_error: Probability = 0.0


class SeriesPart(Part, frozen=True, kw_only=True):
    """The signal that drove segmentation, thinned for drawing; ``value`` None where unseen."""

    name: str
    unit: str
    time_s: list[Seconds]
    value: list[Real | None]


class RiskPart(Part, frozen=True, kw_only=True):
    """The decision rule: conformance probabilities above and below which a verdict is definite."""

    met_at_least: Probability
    not_met_at_most: Probability


class TunedPart(Part, frozen=True, kw_only=True):
    """The file of people's calls by which film errors were tuned.

    ``sha256`` is the file's digest, ``reps`` how many reps of this film's movements, seen from its
    view, people had decided.
    """

    sha256: str
    reps: Count


class VersionsPart(Part, frozen=True, kw_only=True):
    """What made this record: with the film's digest it can be made again.

    ``calibration`` is the digest of the table of labelled films, ``tuned`` names what people's
    calls added to it.
    """

    tool: str
    model: str
    model_sha256: str
    libraries: dict[str, str]
    standards: dict[str, str] = field(default_factory=dict)
    extraction: dict[str, Any] = field(default_factory=dict)
    calibration: str | None = None
    tuned: TunedPart | None = None


class EvidencePart(Part, frozen=True, kw_only=True):
    """One observation that speaks for a finding; ``value`` lies beyond ``limit``, in ``unit``."""

    source: Source
    words: str
    value: Real
    limit: Real
    unit: str


class FindingPart(Part, frozen=True, kw_only=True):
    """Something that happens to the film; ``breaks`` says whether it breaks its continuity."""

    kind: FindingKind
    start_s: Seconds
    end_s: Seconds
    breaks: bool
    evidence: list[EvidencePart]
    words: str


class ContinuityPart(Part, frozen=True, kw_only=True):
    """Whether the film looks like one take: the sum in words, and every finding.

    ``frames`` are the pictures looked at; ``sound`` says whether sound could be looked at.
    ``not_shown`` names, for people, what may have been done to a film without showing in it.
    """

    words: str
    continuous: bool
    frames: Count
    sound: bool
    findings: list[FindingPart]
    not_shown: list[str] = field(default_factory=list)


class SecondViewPart(Part, frozen=True, kw_only=True):
    """A further film of the same attempt.

    A moment ``t`` of it is at ``offset_s + t (1 + drift_ppm / 1e6)`` of the first film, within the
    standard uncertainty; ``clock_from`` says what that was found from. ``view_deg`` is as in
    `CameraPart`; ``lane`` is where the athlete was looked for, as shares of the width.
    """

    film: FilmPart
    offset_s: Seconds
    offset_uncertainty_s: Real
    drift_ppm: Real
    drift_uncertainty_ppm: Real
    clock_from: Literal["sound and motion", "sound", "motion"]
    seen_share: Probability
    view_deg: Real | None
    landmarks_file: str
    lane: tuple[Real, Real] | None = None
    continuity: ContinuityPart | None = None


class AuditRecord(Part, frozen=True, kw_only=True):
    """One audited film.

    ``workout``, ``continuity`` and ``film_notes`` are filled where the audit followed a workout,
    tested the film for cuts, or has advice on filming; ``second_views`` where further films of the
    same attempt were audited with it.
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
    unexplained: list[UnexplainedPart] = field(default_factory=list)
    counts: CountsPart
    series: SeriesPart | None
    warnings: list[str]
    versions: VersionsPart
    landmarks_file: str | None = None
    workout: WorkoutPart | None = None
    continuity: ContinuityPart | None = None
    film_notes: list[str] = field(default_factory=list)
    second_views: list[SecondViewPart] | UnsetType = UNSET
    digest: str | None = None

    @property
    def further_films(self) -> list[SecondViewPart]:
        """The further films it was audited with; a record of one film does not speak of them."""
        return [] if isinstance(self.second_views, UnsetType) else self.second_views
