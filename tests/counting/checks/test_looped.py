"""Films run in a loop: what is read alike is called alike, however often it comes."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from counting.checks.coverage import judge_or_count
from counting.checks.types import RepVerdict
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.timeline import find_reps
from tests.golden.compact import unpack
from tests.golden.reference import LANDMARKS
from vision.track import PoseTrack

pytestmark = pytest.mark.slow

KEPT = {path.stem: path for path in LANDMARKS}


def length_of(track: PoseTrack) -> float:
    step_s = float(np.median(np.diff(track.time_s)))
    return float(track.time_s[-1] - track.time_s[0]) + step_s


def looped(track: PoseTrack, times: int) -> PoseTrack:
    """Play a film so many times, one frame's time between the end and the next beginning."""
    length_s = length_of(track)
    every = {field.name: getattr(track, field.name) for field in fields(track)}
    again = {
        name: np.concatenate([values] * times)
        for name, values in every.items()
        if isinstance(values, np.ndarray)
    }
    again["time_s"] = np.concatenate([track.time_s + n * length_s for n in range(times)])
    return replace(track, **again)


def judged(path: Path, times: int) -> dict[float, RepVerdict]:
    """Judge a kept film so many times in a row, by the time of each rep's turn."""
    track, facts = unpack(path)
    movement = find_movement(facts["movement"])
    track = looped(track, times)
    reps = find_reps(track, movement).reps
    verdicts = judge_or_count(track, reps, movement, Risk()).verdicts
    return {rep.turn_s: verdict for rep, verdict in zip(reps, verdicts, strict=True)}


@pytest.mark.parametrize("name", ["front_squat_1", "push_up_1", "more_air_squat_051"])
def test_a_film_in_a_loop_is_called_as_it_is_called_once(name: str) -> None:
    """Two reps decided, shown five times: each copy is called alike, none becomes an open call.

    What is found over the cut between an end and a beginning is no rep of the film.
    """
    once, often = judged(KEPT[name], 1), judged(KEPT[name], 5)
    length_s = length_of(unpack(KEPT[name])[0])
    assert len(once) == 2
    for turn_s, verdict in once.items():
        copies = [
            other
            for other_s, other in often.items()
            if abs((other_s - turn_s + 1.0) % length_s - 1.0) < 0.1
        ]
        assert len(copies) == 5
        assert {copy.verdict for copy in copies} == {verdict.verdict}
        # The first and the last copy are seen beside other things than those between.
        values = np.array([[check.value for check in copy.checks] for copy in copies[1:-1]], float)
        assert np.ptp(values, axis=0).max() < 0.5
