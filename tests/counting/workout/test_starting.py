"""Whether the athlete started from where the workout asks, as far as it was seen."""

from dataclasses import replace

import numpy as np
import pytest

from counting.workout.alignment import Following
from counting.workout.postures import Posture, PostureTrack
from counting.workout.starting import start_flag
from counting.workout.viterbi import Stretch
from tests.followed import followed

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
        on_the_bar=frozenset({"pull-up"}),
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
    assert flag.words == "must start lying on the floor, but was seen standing"


def standing(
    start: tuple[float, float],
    before_the_bar: tuple[float, float],
    *others: tuple[int, Posture, tuple[float, float]],
) -> Following:
    """Stand at one place (across, level; statures) for 2 s and at another from 3 to 4.9 s.

    The bar is taken at 5 s. ``others`` are single frames of another posture and place.
    """
    posture = np.full(len(TIME_S), int(Posture.UNSEEN))
    place = np.full((len(TIME_S), 2), 7.0)
    for frames, where in ((slice(0, 20), start), (slice(30, 50), before_the_bar)):
        posture[frames], place[frames] = int(Posture.STANDING), where
    for frame, other, where in others:
        posture[frame], place[frame] = int(other), where
    return replace(
        followed([], []),
        on_the_bar=frozenset({"pull-up"}),
        stretches=(Stretch("push-up", 0, 0.5, 0.9), PULL_UPS),
        postures=PostureTrack(TIME_S, posture, place[:, 0], place[:, 1]),
    )


@pytest.mark.parametrize(
    ("start", "before_the_bar", "is_elsewhere"),
    [
        ((1.0, 2.0), (1.0, 2.0), False),
        # a quarter of the stature to either side and 8 % up or down are the same place
        ((1.25, 2.0), (1.0, 2.0), False),
        ((0.75, 2.0), (1.0, 2.0), False),
        ((1.26, 2.0), (1.0, 2.0), True),
        ((0.74, 2.0), (1.0, 2.0), True),
        ((0.0, 0.08), (0.0, 0.0), False),
        ((0.0, 0.0), (0.0, 0.08), False),
        ((0.0, 0.09), (0.0, 0.0), True),
        ((0.0, 0.0), (0.0, 0.09), True),
    ],
)
def test_under_the_bar_is_where_the_feet_are_before_the_bar_is_taken(
    start: tuple[float, float], before_the_bar: tuple[float, float], is_elsewhere: bool
) -> None:
    flag = start_flag(standing(start, before_the_bar), UNDER_THE_BAR, 1.0)
    assert (flag is not None) == is_elsewhere
    if flag is not None:
        assert (flag.kind, flag.at_s) == ("wrong start", 1.0)
        assert flag.words == "must start standing under the bar, but stood elsewhere"


def test_the_place_is_that_of_the_last_time_of_standing_before_the_bar() -> None:
    far, near = (3.0, 0.0), (0.0, 0.0)
    # standing at the very moment the bar is taken, or another posture before it, tells nothing
    at_the_moment = standing(near, near, (50, Posture.STANDING, far))
    reaching = standing(near, near, (49, Posture.HANDS_OVERHEAD_STILL, far))
    last = standing(near, near, (49, Posture.STANDING, far))
    assert start_flag(at_the_moment, UNDER_THE_BAR, 1.0) is None
    assert start_flag(reaching, UNDER_THE_BAR, 1.0) is None
    assert start_flag(last, UNDER_THE_BAR, 1.0) is not None


def test_standing_asks_for_no_place() -> None:
    assert start_flag(standing((3.0, 0.0), (0.0, 0.0)), "standing", 1.0) is None


def test_a_place_unknown_at_the_start_is_not_elsewhere() -> None:
    lost = standing((np.nan, 0.0), (0.0, 0.0))
    assert start_flag(lost, UNDER_THE_BAR, 1.0) is None


def test_the_posture_within_six_tenths_of_a_second_of_zero_decides() -> None:
    posture = np.full(len(TIME_S), int(Posture.STANDING))
    posture[44:57] = int(Posture.PRONE)
    track = PostureTrack(TIME_S, posture, np.zeros(len(TIME_S)), np.zeros(len(TIME_S)))
    down = replace(followed([], []), postures=track)
    assert start_flag(down, "lying on the floor", 5.0) is None
    assert start_flag(down, "standing", 5.0) is not None
    # the only frame in which anything is seen is just as far away
    alone = np.full(len(TIME_S), int(Posture.UNSEEN))
    alone[4] = int(Posture.STANDING)
    seen_once = replace(down, postures=replace(track, posture=alone))
    assert start_flag(seen_once, "lying on the floor", 1.0) is not None
    assert start_flag(seen_once, "lying on the floor", 1.1) is None
