"""Further films of one attempt: the sample pair, films that are cut, and what is refused."""

import json
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest
from typer.testing import CliRunner

from cli.audit.opening import open_audit
from cli.audit.request import AuditRequest
from cli.audit.run import audit_film
from cli.audit.second_view import before
from cli.errors import WRONG_USAGE, UserError
from cli.main import app
from cli.report.stills import second_stills
from counting.checks.table import packaged_digest
from counting.checks.tuning import Tuning, write_tuning
from vision.track import PoseTrack

SAMPLES = Path(__file__).parents[3] / "sample_clips"
FIRST, SECOND = (SAMPLES / f"boathouse_two_phones_{side}.mp4" for side in "ab")


SET_S = 11.0
"""When the first of the pair's two sets is over in both films."""


def silent(_stage: str, _done_s: float, _all_s: float) -> None:
    """Tell nobody of progress."""


def _truth(film: Path) -> str:
    return film.with_suffix(".truth.json").read_text(encoding="utf-8")


def _first_set(film: Path, folder: Path) -> Path:
    """Copy the first set, picture and sound as they are: half as long to look at."""
    target = folder / film.name
    with av.open(str(film)) as whole, av.open(str(target), "w") as part:
        streams = {s.index: part.add_stream_from_template(s) for s in whole.streams}
        for packet in whole.demux():
            if packet.dts is not None and packet.dts * packet.time_base < SET_S:
                packet.stream = streams[packet.stream.index]
                part.mux(packet)
    return target


def request(out: Path, *views: Path) -> AuditRequest:
    return AuditRequest(FIRST, "chest-to-bar pull-up", None, (), out, second_views=views, workers=2)


@pytest.mark.slow
def test_the_sample_pair_audits_in_one_go(tmp_path: Path) -> None:
    folder = tmp_path / "pair.audit"
    first, second = (_first_set(film, tmp_path) for film in (FIRST, SECOND))
    record = audit_film(replace(request(folder, second), film=first), silent)
    (view,) = record.further_films
    told = json.loads(_truth(SECOND))["pair"]
    middle_s = view.film.duration_s / 2
    off = view.offset_s - told["offset_s"] + middle_s * (view.drift_ppm - told["drift_ppm"]) * 1e-6
    assert abs(off) < 0.008
    reps = json.loads(_truth(FIRST))["reps"]
    short = [rep["no_rep"] for rep in reps if rep["end"] < SET_S]
    assert len(record.reps) == len(short)
    for rep, is_short in zip(record.reps, short, strict=True):
        assert rep.verdict != ("good" if is_short else "no-rep")
    assert view.continuity is not None
    audit = open_audit(folder)
    assert len(second_stills(audit, record.reps, hide_faces=False)) == len(short)


def test_of_a_film_that_is_cut_only_the_part_before_is_used() -> None:
    track = PoseTrack.unobserved(np.arange(10) / 10.0, 640, 480)
    part = before(track, 0.45)
    assert part.frames == 5
    assert part.covariance_px2.shape == (5, 33, 2, 2)
    assert before(track, 5.0) is track


@pytest.mark.parametrize(
    ("views", "tuned", "words"),
    [
        ([SECOND] * 4, None, "3 further films at most"),
        ([FIRST], None, "is the same film as the first"),
        ([SECOND], "calls.json", "--tuned or --second-view, not both"),
    ],
)
def test_what_cannot_be_is_refused_before_any_film_is_looked_at(
    tmp_path: Path, views: list[Path], tuned: str | None, words: str
) -> None:
    asked = replace(request(tmp_path, *views), tuned=None if tuned is None else tmp_path / tuned)
    if asked.tuned is not None:
        write_tuning(Tuning(calibration=packaged_digest()), asked.tuned)
    with pytest.raises(UserError, match=words) as refused:
        audit_film(asked, _never)
    assert refused.value.exit_status == WRONG_USAGE


def test_a_further_film_that_cannot_be_read_is_told_before_any_is_looked_at(tmp_path: Path) -> None:
    broken = tmp_path / "broken.mp4"
    broken.write_bytes(b"no film")
    with pytest.raises(UserError, match=r"broken\.mp4"):
        audit_film(request(tmp_path, broken), _never)


def _never(stage: str, _done_s: float, _all_s: float) -> None:
    raise AssertionError(f"{stage} has begun")


def test_a_height_in_centimetres_is_a_slip() -> None:
    found = CliRunner().invoke(app, ["audit", str(FIRST), "-m", "air squat", "--height", "182"])
    assert isinstance(found.exception, UserError)
    assert found.exception.exit_status == WRONG_USAGE
    assert "metres" in str(found.exception)
