"""Further films of one attempt: the sample pair, films that are cut, and what is refused."""

import json
from pathlib import Path

import numpy as np
import pytest

from cli.audit.opening import open_audit
from cli.audit.request import AuditRequest
from cli.audit.run import audit_film
from cli.audit.second_view import before, second_views_of
from cli.errors import WRONG_USAGE, UserError
from cli.report.stills import second_stills
from vision.track import PoseTrack

SAMPLES = Path(__file__).parents[3] / "sample_clips"
FIRST, SECOND = (SAMPLES / f"boathouse_front_squats_{side}.mp4" for side in "ab")


def silent(_stage: str, _done_s: float, _all_s: float) -> None:
    """Tell nobody of progress."""


def request(out: Path, *views: Path) -> AuditRequest:
    return AuditRequest(FIRST, "front squat", None, (), out, second_views=views, workers=2)


@pytest.mark.slow
def test_the_sample_pair_audits_in_one_go(tmp_path: Path) -> None:
    folder = tmp_path / "pair.audit"
    for film in (FIRST, SECOND):
        (tmp_path / film.name).symlink_to(film)
    record = audit_film(request(folder, SECOND), silent)
    (view,) = record.further_films
    told = json.loads(SECOND.with_suffix(".truth.json").read_text(encoding="utf-8"))["pair"]
    middle_s = view.film.duration_s / 2
    off = view.offset_s - told["offset_s"] + middle_s * (view.drift_ppm - told["drift_ppm"]) * 1e-6
    assert abs(off) < 0.008
    assert [rep.verdict for rep in record.reps[:2]] == ["no-rep", "no-rep"]
    assert len(record.reps) == 3
    assert view.continuity is not None
    audit = open_audit(folder)
    assert len(second_stills(audit, record.reps, hide_faces=False)) == 3


def test_of_a_film_that_is_cut_only_the_part_before_is_used() -> None:
    track = PoseTrack.unobserved(np.arange(10) / 10.0, 640, 480)
    part = before(track, 0.45)
    assert part.frames == 5
    assert part.covariance_px2.shape == (5, 33, 2, 2)
    assert before(track, 5.0) is track


def test_more_than_three_further_films_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="3 further films") as refused:
        second_views_of(
            request(tmp_path, *[SECOND] * 4),
            None,  # type: ignore[arg-type] - refused before it is looked at
            silent,
            barbell=False,
        )
    assert refused.value.exit_status == WRONG_USAGE
