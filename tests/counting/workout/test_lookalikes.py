"""A station at which another movement is done than asked is flagged, on a figure of sticks."""

from dataclasses import replace

import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.movements.loader import find_movement
from counting.timeline import find_reps
from counting.workout.alignment import FollowedRep, Following
from counting.workout.lookalikes import lookalike_flags
from tests.counting.workout.attempts import rep_parts
from tests.followed import followed

REPS = 4
EACH_S = 2.1


def following_as(movement: str, *, run: int | None = 0, reps: int = REPS) -> Following:
    """Squats, taken for the reps of a station."""
    script = Script(standing())
    script.hold(0.6)
    for _ in range(REPS):
        script.move(squat(1.0), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    track = play_in_metres(script, Camera(view_deg=20.0), rate_hz=12.0, noise=0.001)
    found = find_reps(track, find_movement("air squat")).reps[:reps]
    made = followed(rep_parts("g" * len(found), movement), [run] * len(found))
    return replace(
        made,
        reps=tuple(FollowedRep(rep, run) for rep in found),
        tracks={movement: track},
    )


@pytest.mark.parametrize(
    ("movement", "kinds"), [("pull-up", ["another movement"]), ("air squat", [])]
)
def test_squats_are_no_pull_ups(movement: str, kinds: list[str]) -> None:
    following = following_as(movement)
    reps = rep_parts("gggg", movement, begin_s=0.6, cycle_s=EACH_S)
    flags = lookalike_flags(following, reps)
    assert [flag.kind for flag in flags] == kinds
    for flag in flags:
        assert flag.words.startswith("this does not look like the pull-up (like the air squat: ")
        assert (flag.at_s, flag.block, flag.round, flag.station) == (0.6, 1, 1, 1)


def test_what_is_off_the_script_is_asked_nothing() -> None:
    reps = rep_parts("gggg", "pull-up", begin_s=0.6, cycle_s=EACH_S, place=None)
    assert lookalike_flags(following_as("pull-up", run=None), reps) == []


def test_two_reps_are_too_few_to_ask() -> None:
    reps = rep_parts("gg", "pull-up", begin_s=0.6, cycle_s=EACH_S)
    assert lookalike_flags(following_as("pull-up", reps=2), reps) == []
