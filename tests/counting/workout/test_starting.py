"""Whether the athlete started from where the workout asks, as far as it was seen."""

from dataclasses import replace

import numpy as np

from counting.workout.following import Following
from counting.workout.postures import Posture, PostureTrack
from counting.workout.starting import start_flag
from counting.workout.way import Stretch
from tests.records import followed

TIME_S = np.arange(100) / 10.0


def seen(
    standing: slice, *stretches: Stretch, across: float = 0.0, known: bool = True
) -> Following:
    """Give an athlete who stands for a while ``across`` statures aside; unseen else."""
    posture = np.full(len(TIME_S), int(Posture.UNSEEN))
    posture[standing] = int(Posture.STANDING)
    place = np.full(len(TIME_S), across if known else np.nan)
    return replace(
        followed([], []),
        stretches=stretches,
        postures=PostureTrack(TIME_S, posture, place, np.zeros(len(TIME_S))),
    )


PULL_UPS = Stretch("pull-up", 0, 5.0, 8.0)
UNDER_THE_BAR = "standing under the bar"


def test_standing_where_the_bar_is_taken_is_under_the_bar() -> None:
    assert start_flag(seen(slice(0, 50), PULL_UPS), UNDER_THE_BAR, 1.0) is None


def test_where_no_bar_is_taken_nobody_stands_elsewhere() -> None:
    push_ups = Stretch("push-up", 0, 5.0, 8.0)
    assert start_flag(seen(slice(0, 50), push_ups), UNDER_THE_BAR, 1.0) is None
    assert start_flag(seen(slice(0, 50)), UNDER_THE_BAR, 1.0) is None


def test_whoever_is_on_the_bar_from_the_first_moment_is_not_known_to_stand_elsewhere() -> None:
    from_the_start = Stretch("pull-up", 0, 0.0, 3.0)
    assert start_flag(seen(slice(50, 100), from_the_start), UNDER_THE_BAR, 7.0) is None


def test_a_place_that_is_not_known_is_not_elsewhere() -> None:
    assert start_flag(seen(slice(0, 50), PULL_UPS, known=False), UNDER_THE_BAR, 1.0) is None


def test_anywhere_is_never_wrong_and_an_unseen_start_is_not_judged() -> None:
    assert start_flag(seen(slice(0, 50)), "anywhere", 1.0) is None
    assert start_flag(seen(slice(50, 100)), "lying on the floor", 1.0) is None


def test_another_posture_than_asked_is_flagged_in_words() -> None:
    flag = start_flag(seen(slice(0, 50)), "lying on the floor", 1.0)
    assert flag is not None
    assert flag.words == "asked to start lying on the floor, but was seen: standing"
