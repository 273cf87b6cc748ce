"""The sample workouts against the truth that lies beside their films.

The films are rendered and their truth was measured while they were drawn (see
``sample_clips/README.md``); the sheets below are worked out by hand from it.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from counting.movements.loader import built_in_movements
from counting.workout.countdown import find_start_signal
from counting.workout.file import load_workout
from counting.workout.sheet import CalledRep, Sheet, fill_sheet
from counting.workout.types import runs, script
from vision.sound.reading import read_sound

SAMPLES = Path(__file__).parents[3] / "sample_clips"
KNOWN = [movement.name for movement in built_in_movements()]


def truth_of(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((SAMPLES / f"{name}.truth.json").read_text())
    return found


def sheet_of(name: str) -> Sheet:
    workout, truth = load_workout(SAMPLES / f"{name}.toml", KNOWN), truth_of(name)
    slots = script(workout, max(rep["round"] for rep in truth["reps"]) + 1)
    stations = len(workout.blocks[0].stations)
    reps = [
        CalledRep(
            number,
            rep["block"] * 2 * stations + rep["round"] * stations + rep["station"],
            rep.get("top", rep["end"]) - truth["clock_zero_s"],
            not rep["no_rep"],
        )
        for number, rep in enumerate(truth["reps"], start=1)
    ]
    return fill_sheet(workout, slots, runs(workout, slots), reps)


def test_two_blocks_are_finished_with_both_no_reps_made_up() -> None:
    sheet = sheet_of("boathouse_two_blocks")
    # 2 x 3 deadlifts, 4 + 3 push-ups, 3 pull-ups. The clock starts at 4.5 s; block 1 ends with the
    # push-up at 42.844 s, the last pull-up's chin is over the bar at 71.7 s.
    assert (sheet.reps, sheet.finished, sheet.missing) == (16, True, {})
    assert sheet.tie_break_s == pytest.approx(38.344)
    assert sheet.time_s == pytest.approx(67.2)


def test_the_bell_falls_in_the_middle_of_the_third_round() -> None:
    sheet = sheet_of("boathouse_until_the_bell")
    # Round 1: 3 + 2, round 2: 2 + 2 with a squat missing, round 3: one squat before 55 s.
    assert (sheet.reps, sheet.finished, sum(sheet.missing.values())) == (10, False, 1)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["boathouse_two_blocks", "boathouse_until_the_bell"])
def test_the_countdown_is_heard_through_the_films_own_coding(name: str) -> None:
    sound = read_sound(SAMPLES / f"{name}.mp4")
    assert sound is not None
    found = find_start_signal(sound)
    assert found is not None
    assert found.time_s == pytest.approx(truth_of(name)["start_signal_s"], abs=0.03)
    assert found.short_tones == 3


def test_a_film_without_sound_has_none() -> None:
    assert read_sound(SAMPLES / "boathouse_thrusters.mp4") is None
