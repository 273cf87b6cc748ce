"""Looking sparingly must not change what is counted, nor turn one definite verdict into another."""

from pathlib import Path

import pytest

from counting.checks.judge import judge
from counting.checks.types import RepVerdict
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.reps.types import Rep
from counting.timeline import find_reps
from vision.athlete.extraction import extract
from vision.film.reading import read_film
from vision.film.types import Film
from vision.track import PoseTrack

SAMPLES = Path(__file__).parents[3] / "sample_clips"
FRAME_S = 1 / 30


def counted(track: PoseTrack, movement: str) -> tuple[tuple[Rep, ...], tuple[RepVerdict, ...]]:
    standard = find_movement(movement)
    reps = find_reps(track, standard).reps
    return reps, judge(track, reps, standard, Risk(0.95, 0.05)).verdicts


@pytest.fixture(scope="module")
def squats() -> Film:
    return read_film(SAMPLES / "boathouse_air_squats.mp4")


@pytest.fixture(scope="module")
def sparing(squats: Film) -> PoseTrack:
    return extract(squats, end_s=14.0)


@pytest.fixture(scope="module")
def thorough(squats: Film) -> PoseTrack:
    return extract(squats, end_s=14.0, thorough=True)


@pytest.mark.slow
def test_sparing_looks_place_turns_within_two_frames(
    sparing: PoseTrack, thorough: PoseTrack
) -> None:
    reps, _ = counted(sparing, "air squat")
    reps_thorough, _ = counted(thorough, "air squat")
    for one, other in zip(reps, reps_thorough, strict=True):
        assert one.turn_s == pytest.approx(other.turn_s, abs=2 * FRAME_S)


@pytest.mark.slow
def test_sparing_looks_count_and_judge_as_a_look_at_every_frame_does(
    squats: Film, sparing: PoseTrack, thorough: PoseTrack
) -> None:
    until = squats.time_s < 14.0
    assert thorough.looked[until].all()
    assert sparing.looked[until].mean() < 0.9
    reps, verdicts = counted(sparing, "air squat")
    reps_thorough, verdicts_thorough = counted(thorough, "air squat")
    assert len(reps) == len(reps_thorough) > 0
    for one, other in zip(reps, reps_thorough, strict=True):
        assert one.end_s == pytest.approx(other.end_s, abs=5 * FRAME_S)
    pairs = {
        (one.verdict, other.verdict) for one, other in zip(verdicts, verdicts_thorough, strict=True)
    }
    assert not pairs & {("good", "no-rep"), ("no-rep", "good")}
