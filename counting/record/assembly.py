"""From the stages' types to one audit record."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from msgspec import UNSET

from counting.checks.types import Judgement, RawReading, RepVerdict
from counting.decision.conformance import Risk
from counting.decision.counting_reps import count_reps
from counting.record.files import name_as_text
from counting.record.types import (
    AthletePart,
    AuditRecord,
    BreakPart,
    CameraPart,
    CheckPart,
    ContinuityPart,
    CountProbability,
    CountsPart,
    FilmPart,
    PausePart,
    ReadingPart,
    RepPart,
    RiskPart,
    SecondViewPart,
    SeriesPart,
    SetPart,
    UnexplainedPart,
    VersionsPart,
)
from counting.reps.types import Rep
from counting.sets.grouping import Grouped
from counting.sets.unexplained import Unexplained
from counting.signals.types import Signals
from vision.film.types import Film
from vision.synchrony.types import ClockFit
from vision.track import FloatArray, PoseTrack

TIME_DECIMALS: Final = 3
SERIES_RATE_HZ: Final = 10.0
SHORTEST_LOSS_S: Final = 0.5
STEADY_SHARE: Final = 0.004
"""Shake below this share of the picture's diagonal is what a tripod on a gym floor shows."""
LEAST_PROBABILITY: Final = 0.0005
"""Counts less likely than this are left out of the record."""


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """What the counting stages found in one film.

    ``reps`` and ``verdicts`` correspond; ``judgements`` hold the fitted athlete and camera, one a
    movement; ``driver`` is the driving signal in statures on the signals' clock, None where several
    movements were done.
    """

    reps: tuple[Rep, ...]
    verdicts: tuple[RepVerdict, ...]
    grouped: Grouped
    judgements: tuple[Judgement, ...]
    signals: Signals
    driver: FloatArray | None
    driver_name: str
    unexplained: tuple[Unexplained, ...] = ()


def assemble(
    film: Film,
    track: PoseTrack,
    counted: Counted,
    *,
    movement: str | None,
    start_s: float | None,
    risk: Risk,
    versions: VersionsPart,
    landmarks_file: str,
) -> AuditRecord:
    """Put one film's results into the audit record."""
    states = [verdict.verdict for verdict in counted.verdicts]
    timed = counted.grouped if film.times_known else replace(counted.grouped, breaks=(), pauses=())
    shared = max((judgement.shared_error for judgement in counted.judgements), default=0.0)
    total = count_reps(
        states,
        [verdict.probability_good for verdict in counted.verdicts],
        shared,
        [stretch.most for stretch in counted.unexplained],
    )
    return AuditRecord(
        film=_film_part(film),
        athlete=_athlete_part(track, counted.judgements),
        camera=_camera_part(track, counted.judgements),
        movement=movement,
        start_s=start_s,
        risk=RiskPart(met_at_least=risk.met_at_least, not_met_at_most=risk.not_met_at_most),
        reps=_rep_parts(counted),
        sets=[
            SetPart(
                number=own.number,
                movement=own.movement,
                first_rep=own.first_rep,
                last_rep=own.last_rep,
                start_s=_time(own.start_s),
                end_s=_time(own.end_s),
            )
            for own in counted.grouped.sets
        ],
        breaks=[
            BreakPart(
                after_set=gap.after_set,
                start_s=_time(gap.start_s),
                end_s=_time(gap.end_s),
                kind=gap.kind,
            )
            for gap in timed.breaks
        ],
        pauses=[
            PausePart(
                after_rep=wait.after_rep,
                start_s=_time(wait.start_s),
                end_s=_time(wait.end_s),
                where=wait.where,
            )
            for wait in timed.pauses
        ],
        counts=CountsPart(
            good=total.good,
            no_rep=total.no_rep,
            too_close=total.too_close,
            only_counted=total.only_counted,
            lowest=total.lowest,
            highest=total.highest,
            shared_error=shared,
            distribution=[
                CountProbability(good=good, probability=round(probability, 4))
                for good, probability in enumerate(total.distribution)
                if probability >= LEAST_PROBABILITY
            ],
        ),
        unexplained=[
            UnexplainedPart(
                start_s=_time(stretch.start_s),
                end_s=_time(stretch.end_s),
                most=stretch.most,
                why=stretch.why,
            )
            for stretch in counted.unexplained
        ],
        series=_series(counted),
        warnings=list(film.warnings),
        versions=versions,
        landmarks_file=landmarks_file,
        film_notes=_notes(counted),
    )


def second_view_part(
    film: Film,
    track: PoseTrack,
    clock: ClockFit,
    landmarks_file: str,
    continuity: ContinuityPart | None,
    view_deg: float | None = None,
    lane: tuple[float, float] | None = None,
) -> SecondViewPart:
    """Tell of a further film of the same attempt."""
    seen = track.seen
    return SecondViewPart(
        film=_film_part(film),
        offset_s=round(clock.offset_s, 4),
        offset_uncertainty_s=round(clock.offset_u_s, 4),
        drift_ppm=round(clock.drift_ppm, 1),
        drift_uncertainty_ppm=round(clock.drift_u_ppm, 1),
        clock_from=clock.told_by,
        seen_share=round(float(np.mean(seen)), 4) if seen.size else 0.0,
        view_deg=_rounded(view_deg, 1),
        landmarks_file=landmarks_file,
        lane=lane,
        continuity=continuity,
    )


def _notes(counted: Counted) -> list[str]:
    """Filming notes of all movements, each with its movement's name unless all have it."""
    movement_of = {rep.number: rep.movement for rep in counted.reps}
    notes: dict[str, None] = {}
    for judgement in counted.judgements:
        for note in judgement.notes:
            of_all = all(note in other.notes for other in counted.judgements)
            done = [movement_of.get(verdict.number) for verdict in judgement.verdicts[:1]]
            notes[note if of_all or not done else f"{done[0]}: {note}"] = None
    return list(notes)


def _film_part(film: Film) -> FilmPart:
    return FilmPart(
        file=name_as_text(film.path.name),
        sha256=film.sha256,
        duration_s=_time(film.duration_s),
        frames=film.frames,
        width=film.width_px,
        height=film.height_px,
        rotation_deg=film.rotation_deg,
        frame_rate_mean_hz=round(film.frame_rate_mean_hz, 4),
        variable_frame_rate=film.variable_frame_rate,
        broken_at_s=None if film.broken_at_s is None else _time(film.broken_at_s),
        times_known=film.times_known,
    )


def _athlete_part(track: PoseTrack, judgements: Sequence[Judgement]) -> AthletePart:
    seen = track.seen
    fitted = next((j for j in judgements if j.stature_m is not None), None)
    changes = np.flatnonzero(np.diff(track.identity[seen]) != 0)
    return AthletePart(
        seen_share=round(float(np.mean(seen)), 4) if seen.size else 0.0,
        identity_breaks_s=[_time(float(t)) for t in track.time_s[seen][changes + 1]],
        lost=_losses(track),
        stature_m=None if fitted is None else _rounded(fitted.stature_m, 3),
        stature_uncertainty_m=None if fitted is None else _rounded(fitted.stature_uncertainty_m, 3),
        stature_source=(
            UNSET if fitted is None or fitted.stature_source == "assumed" else fitted.stature_source
        ),
    )


def _losses(track: PoseTrack) -> list[tuple[float, float]]:
    """Stretches longer than half a second in which the athlete was not seen."""
    seen_s = [float(t) for t in track.time_s[track.seen]]
    if not track.frames:
        return []
    edges = [float(track.time_s[0]), *seen_s, float(track.time_s[-1])]
    return [
        (_time(before), _time(after))
        for before, after in pairwise(edges)
        if after - before > SHORTEST_LOSS_S
    ]


def _camera_part(track: PoseTrack, judgements: Sequence[Judgement]) -> CameraPart:
    shake_px = _shake_px(track)
    fitted = next((j for j in judgements if j.view_deg is not None), None)
    diagonal_px = math.hypot(track.width_px, track.height_px)
    steady = shake_px < STEADY_SHARE * diagonal_px
    if fitted is None:
        return CameraPart(view_deg=None, steady=steady, shake_px=round(shake_px, 2))
    return CameraPart(
        view_deg=_rounded(fitted.view_deg, 1),
        view_uncertainty_deg=_rounded(fitted.view_uncertainty_deg, 1),
        steady=steady,
        shake_px=round(shake_px, 2),
        distance_m=_rounded(fitted.camera_distance_m, 2),
        height_m=_rounded(fitted.camera_height_m, 2),
    )


def _shake_px(track: PoseTrack) -> float:
    """Root mean square distance of the camera's aim from its median, in pixels."""
    if not track.frames:
        return 0.0
    away = track.camera_shift_px - np.median(track.camera_shift_px, axis=0)
    return float(np.sqrt(np.mean(np.sum(away**2, axis=1))))


def _rep_parts(counted: Counted) -> list[RepPart]:
    set_of = {
        number: own.number
        for own in counted.grouped.sets
        for number in range(own.first_rep, own.last_rep + 1)
    }
    return [
        RepPart(
            number=rep.number,
            set=set_of[rep.number],
            movement=rep.movement,
            start_s=_time(rep.start_s),
            turn_s=_time(rep.turn_s),
            counted_s=None if verdict.counted_s is None else _time(verdict.counted_s),
            end_s=_time(rep.end_s),
            verdict=verdict.verdict,
            probability_good=_probability(verdict.probability_good),
            checks=[
                CheckPart(
                    name=check.name,
                    words=check.words,
                    quantity=check.quantity,
                    at_s=None if check.at_s is None else _time(check.at_s),
                    value=_rounded(check.value, 2),
                    relation=check.relation,
                    limit=check.limit,
                    unit=check.unit,
                    uncertainty=_rounded(check.uncertainty, 2),
                    probability_met=_probability(check.probability_met),
                    verdict=check.verdict,
                    reason=check.reason,
                    low=_rounded(check.low, 2),
                    high=_rounded(check.high, 2),
                    reading=_reading(check.reading),
                )
                for check in verdict.checks
            ],
            reason=verdict.reason,
        )
        for rep, verdict in zip(counted.reps, counted.verdicts, strict=True)
    ]


def _reading(raw: RawReading | None) -> ReadingPart | None:
    if raw is None:
        return None
    values = {name: round(value, 3) for name, value in asdict(raw).items()}
    return ReadingPart(**values)


def _series(counted: Counted) -> SeriesPart | None:
    """Thin the driving signal to what a drawing needs."""
    if counted.driver is None or not counted.driver.size:
        return None
    step = max(1, round(counted.signals.rate_hz / SERIES_RATE_HZ))
    return SeriesPart(
        name=counted.driver_name,
        unit="statures",
        time_s=[_time(float(t)) for t in counted.signals.time_s[::step]],
        value=[round(float(v), 4) if math.isfinite(v) else None for v in counted.driver[::step]],
    )


def _time(time_s: float) -> float:
    return round(time_s, TIME_DECIMALS)


def _probability(probability: float) -> float:
    return round(min(max(probability, 0.0), 1.0), 4)


def _rounded(value: float | None, decimals: int) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), decimals)
