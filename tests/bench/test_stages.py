"""What the bench times of an audit is what an audit runs."""

from pathlib import Path

import pytest

from cli.audit.request import AuditRequest
from tests.bench.stages import stage_shares

CLIP = Path(__file__).parents[2] / "sample_clips" / "boathouse_air_squats.mp4"


@pytest.mark.slow
def test_every_stage_of_an_audit_is_timed() -> None:
    shares = stage_shares(AuditRequest(CLIP, "air squat", None, (), Path(), end_s=3.0))
    for stage in ("following the athlete", "pose: reading the body", "signals, reps and sets"):
        assert shares[stage] > 0.0
    assert shares["rest"] < 0.3 * sum(shares.values())
