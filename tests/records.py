"""Audit records with nothing in them but reps: what tests add is what they are about."""

from collections.abc import Sequence

from msgspec.structs import replace

from counting.record.types import (
    AthletePart,
    AuditRecord,
    CameraPart,
    ContinuityPart,
    CountsPart,
    FilmPart,
    PausePart,
    RepPart,
    RiskPart,
    SecondViewPart,
    VersionsPart,
)

NO_COUNTS = CountsPart(good=0, no_rep=0, too_close=0, lowest=0, highest=0)


def further_film(
    record: AuditRecord, file: str = "from_the_side.mp4", offset_s: float = 0.4
) -> SecondViewPart:
    """Make a further film of a record's attempt, known by its sound."""
    return SecondViewPart(
        film=replace(record.film, file=file, sha256="9" * 64),
        offset_s=offset_s,
        offset_uncertainty_s=0.003,
        drift_ppm=-12.0,
        drift_uncertainty_ppm=5.0,
        clock_from="sound",
        seen_share=1.0,
        view_deg=80.0,
        landmarks_file="landmarks-1.npz",
    )


def bare_record(
    reps: Sequence[RepPart],
    *,
    file: str = "attempt.mp4",
    duration_s: float = 200.0,
    view_deg: float | None = 40.0,
    movement: str | None = None,
    start_s: float | None = None,
    pauses: Sequence[PausePart] = (),
    counts: CountsPart = NO_COUNTS,
) -> AuditRecord:
    """Make a record of a steady 30 Hz film; ``view_deg`` is None where nobody was fitted."""
    return AuditRecord(
        film=FilmPart(
            file=file,
            sha256="0" * 64,
            duration_s=duration_s,
            frames=round(30 * duration_s),
            width=720,
            height=1280,
            rotation_deg=0,
            frame_rate_mean_hz=30.0,
            variable_frame_rate=False,
        ),
        athlete=AthletePart(seen_share=1.0),
        camera=CameraPart(view_deg=view_deg, steady=True, shake_px=0.3),
        movement=movement,
        start_s=start_s,
        risk=RiskPart(met_at_least=0.95, not_met_at_most=0.05),
        reps=list(reps),
        sets=[],
        breaks=[],
        pauses=list(pauses),
        counts=counts,
        series=None,
        warnings=[],
        versions=VersionsPart(tool="0", model="none", model_sha256="0" * 64, libraries={}),
    )


def continuity(words: str, *, continuous: bool, frames: int = 1) -> ContinuityPart:
    """Say how a film's continuity looks, without findings."""
    return ContinuityPart(
        words=words, continuous=continuous, frames=frames, sound=False, findings=[]
    )
