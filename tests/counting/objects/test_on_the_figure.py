"""Objects beside reps that are found in a figure's motion, from the standards' own files."""

import pytest
from msgspec.structs import replace
from synthetic.figure import Camera
from synthetic.films import film
from synthetic.moves import MOVES

from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.objects.box import feet_above_box, soles
from counting.objects.readings import reading
from counting.objects.rope import rope_passes
from counting.timeline import find_reps
from tests.vision.sound.skipping import sound_of_skips
from vision.sound.clicks import find_clicks

VIEWS = (20.0, 45.0, 80.0)


def rope_verdicts(passes: int, asked: int, view_deg: float) -> list[str]:
    """What is said of skips with so many passes of the rope each."""
    camera = Camera(view_deg, distance=3.4, height=0.7)
    skip_s = {1: 0.5, 2: 0.65}[passes]
    done = film("rope skip", (14, 10), skip_s, exercises=MOVES, camera=camera, noise=0.006)
    movement = find_movement("rope skip")
    reps = find_reps(done.track, movement).reps
    assert len(reps) == len(done.reps)
    ticks = [
        true.turn_s + (k - (passes - 1) / 2) * 0.17 for true in done.reps for k in range(passes)
    ]
    landings = [true.turn_s + 0.3 * skip_s for true in done.reps]
    sound = sound_of_skips(ticks, landings, length_s=float(done.track.time_s[-1]) + 1.0)
    check = replace(movement.objects[0], limit=float(asked))
    found = rope_passes(find_clicks(sound), reps, check)
    return [reading(check, one, Risk()).verdict for one in found]


@pytest.mark.parametrize("view_deg", VIEWS)
def test_single_skips_stand_as_singles_and_not_as_doubles(view_deg: float) -> None:
    assert set(rope_verdicts(1, 1, view_deg)) == {"met"}
    assert set(rope_verdicts(1, 2, view_deg)) == {"not met"}


@pytest.mark.parametrize("view_deg", VIEWS)
def test_double_skips_stand_as_doubles(view_deg: float) -> None:
    verdicts = rope_verdicts(2, 2, view_deg)
    assert verdicts.count("met") >= 0.9 * len(verdicts)
    assert "not met" not in verdicts


@pytest.mark.parametrize("view_deg", VIEWS)
@pytest.mark.parametrize("name", ["box jump", "box step-up"])
def test_feet_that_stand_on_a_box_are_not_refused(name: str, view_deg: float) -> None:
    camera = Camera(view_deg, distance=3.4, height=0.7)
    done = film(name, (3, 2), 2.4, exercises=MOVES, camera=camera, noise=0.004)
    movement = find_movement(name)
    reps = find_reps(done.track, movement).reps
    found = feet_above_box(soles(done.track, reps), reps, done.track, 1.73, seen=True)
    verdicts = [reading(movement.objects[0], one, Risk()).verdict for one in found]
    assert verdicts == ["met"] * 5
