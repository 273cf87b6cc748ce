"""A check is read over the short stay at the posture that decides it."""

from types import SimpleNamespace

import numpy as np
import pytest

from counting.checks.phases import Stay, find_stays, phase_rows
from counting.movements.types import QUANTITY_UNITS, Base, Check
from counting.quantities.features import Features
from counting.quantities.scene import Scene
from counting.reps.types import Rep
from vision.pose.landmarks import LANDMARK_COUNT, Landmark

TIME_S = np.arange(121) / 30.0
REP = Rep(1, "any", 0, 60, 120, 0.0, 2.0, 4.0)
LOWEST_S, HIGHEST_S, REACH_S, FEATURE_S = 1.9, 2.1, 2.0, 2.2
"""When the hips are lowest, the shoulders highest, the wrists furthest and the feature largest."""


def peak(at_s: float) -> np.ndarray:
    """Rise by 10 cm to a moment and fall again, within a quarter of a second."""
    return 10.0 * np.clip(1.0 - np.abs(TIME_S - at_s) / 0.25, 0.0, None)


def scene(base: Base) -> Scene:
    """Hips, shoulders and wrists that each turn at a moment of their own."""
    picture_cm = np.zeros((len(TIME_S), LANDMARK_COUNT, 2))
    shoulder = 140.0 + peak(HIGHEST_S)
    for side in ("LEFT", "RIGHT"):
        for joint, height in (
            ("HIP", 90.0 - peak(LOWEST_S)),
            ("SHOULDER", shoulder),
            ("WRIST", shoulder + 50.0 + peak(REACH_S)),
        ):
            picture_cm[:, Landmark[f"{side}_{joint}"], 1] = height
    return Scene(
        motion=SimpleNamespace(time_s=TIME_S),  # type: ignore[arg-type]
        picture_cm=picture_cm,
        world_cm=np.zeros((len(TIME_S), LANDMARK_COUNT, 3)),
        sureness=np.ones((len(TIME_S), LANDMARK_COUNT)),
        hands_cm=0.0,
        hands_up_cm=0.0,
        base=base,
        floor_cm=0.0,
    )


def check(quantity: str, phase: str = "turn", read: str = "highest") -> Check:
    return Check(
        name="check",
        words="a check",
        quantity=quantity,  # type: ignore[arg-type]
        phase=phase,  # type: ignore[arg-type]
        read=read,  # type: ignore[arg-type]
        relation="at least",
        limit=0.0,
        unit=QUANTITY_UNITS[quantity],  # type: ignore[index]
    )


def stay(asked: Check, seen: np.ndarray | None = None) -> Stay | None:
    features = peak(FEATURE_S)[:, None].copy()
    if seen is not None:
        features[~seen] = np.nan
    return find_stays(scene("standing"), [REP], asked, Features(features, (("hip",),), (False,)))[0]


@pytest.mark.parametrize(
    ("quantity", "at_s"),
    [
        ("hip crease above knee top", LOWEST_S),
        ("knee angle", HIGHEST_S),
        ("hip angle", HIGHEST_S),
        ("elbow angle", REACH_S),
        ("chin above bar", HIGHEST_S),
        ("chest to bar gap", HIGHEST_S),
        ("shoulders above bar", HIGHEST_S),
    ],
)
def test_each_quantity_is_read_where_its_posture_peaks(quantity: str, at_s: float) -> None:
    found = stay(check(quantity))
    assert found is not None
    assert TIME_S[found.rows].mean() == pytest.approx(at_s, abs=0.05)


def test_a_hang_is_read_where_the_body_is_lowest_not_where_the_wrists_seem_furthest() -> None:
    rep = Rep(1, "any", 60, 90, 120, 2.0, 3.0, 4.0)
    features = Features(peak(FEATURE_S)[:, None], (("hip",),), (False,))
    hang, overhead = (
        find_stays(scene(base), [rep], check("elbow angle", "start"), features)[0]
        for base in ("hanging", "standing")
    )
    assert hang is not None
    assert overhead is not None
    assert TIME_S[hang.rows].mean() == pytest.approx(LOWEST_S, abs=0.05)
    assert TIME_S[overhead.rows].mean() == pytest.approx(REACH_S, abs=0.05)


def test_a_chest_is_read_at_its_lowest_and_a_lock_at_the_finish_where_hips_are_highest() -> None:
    chest = stay(check("chest above floor"))
    assert chest is not None
    assert abs(TIME_S[chest.rows].mean() - HIGHEST_S) > 0.2
    lock = stay(check("knee angle", "finish"))
    assert lock is not None
    assert lock.reached_s == pytest.approx(LOWEST_S + 0.25, abs=0.07)


def test_a_lock_is_reached_when_it_is_first_held_whatever_landmarks_do_later() -> None:
    """Hips stand at 100 cm from 2.6 s on; a plate throws them to 120 cm at 3.6 s."""
    rise = np.clip((TIME_S - 2.0) / 0.6, 0.0, 1.0)
    hips = 60.0 + 40.0 * (10 * rise**3 - 15 * rise**4 + 6 * rise**5)
    thrown = np.where(TIME_S > 3.6, 120.0, hips)
    for height in (hips, thrown):
        seen = scene("standing")
        for side in ("LEFT", "RIGHT"):
            seen.picture_cm[:, Landmark[f"{side}_HIP"], 1] = height
        features = Features(height[:, None], (("hip",),), (False,))
        (lock,) = find_stays(seen, [REP], check("hip angle", "finish"), features)
        assert lock is not None
        assert lock.reached_s == pytest.approx(2.5, abs=0.07)


def test_a_lock_that_is_there_from_one_picture_to_the_next_is_reached_between_them() -> None:
    """At the turn of a lift the shoulders, seen best, tell it."""
    shoulders = np.where(TIME_S < 1.99, 100.0, 140.0)
    seen = scene("standing")
    for side in ("LEFT", "RIGHT"):
        seen.picture_cm[:, Landmark[f"{side}_SHOULDER"], 1] = shoulders
    features = Features(shoulders[:, None], (("hip",),), (False,))
    (lock,) = find_stays(seen, [REP], check("knee angle"), features)
    assert lock is not None
    assert lock.reached_s == pytest.approx(2.0, abs=0.034)


def test_a_halt_far_below_the_lock_is_not_its_reach() -> None:
    """The way up rests 10 cm short for half a second, then goes on to 2.9 s."""
    hips = np.interp(TIME_S, [2.0, 2.3, 2.8, 2.95], [60.0, 90.0, 90.0, 100.0])
    assert finish_of(hips) == pytest.approx(2.93, abs=0.04)


def finish_of(hips_cm: np.ndarray) -> float:
    """When the knees are locked whose hips go up like that, seconds."""
    seen = scene("standing")
    for side in ("LEFT", "RIGHT"):
        seen.picture_cm[:, Landmark[f"{side}_HIP"], 1] = hips_cm
    features = Features(hips_cm[:, None], (("hip",),), (False,))
    (lock,) = find_stays(seen, [REP], check("knee angle", "finish"), features)
    assert lock is not None
    return lock.reached_s


@pytest.mark.parametrize(("creep_cm_s", "reached_s"), [(2.4, 2.5), (4.0, 2.95)])
def test_legs_are_locked_once_they_straighten_by_less_than_from_165_degrees(
    creep_cm_s: float, reached_s: float
) -> None:
    """In a quarter of a second; by the law of cosines that is 0.7 cm of a leg of 0.85 m.

    From 2.5 s on the hips creep up the last 3 cm, by 0.6 cm in that time or by 1.0.
    """
    hips = np.interp(TIME_S, [2.0, 2.5, 2.5 + 3.0 / creep_cm_s], [60.0, 97.0, 100.0])
    assert finish_of(hips) == pytest.approx(reached_s, abs=0.07)


@pytest.mark.parametrize(("below_cm", "reached_s"), [(2.4, 2.3), (3.6, 2.93)])
def test_a_halt_within_three_centimetres_of_the_lock_is_its_reach(
    below_cm: float, reached_s: float
) -> None:
    """The way up rests for half a second from 2.3 s on."""
    rest = 100.0 - below_cm
    hips = np.interp(TIME_S, [2.0, 2.3, 2.8, 2.95], [60.0, rest, rest, 100.0])
    assert finish_of(hips) == pytest.approx(reached_s, abs=0.05)


def test_a_pull_passes_the_bar_before_its_top() -> None:
    """Shoulders rise 10 cm in a quarter second: 4 cm below their top they are 0.1 s sooner."""
    top = stay(check("chin above bar"))
    assert top is not None
    assert top.passed_s(4.0) == pytest.approx(HIGHEST_S - 0.1, abs=0.035)
    assert top.passed_s(0.0) == top.reached_s
    lock = stay(check("knee angle", "finish"))
    assert lock is not None
    assert lock.passed_s(4.0) == lock.reached_s


def test_any_other_quantity_is_read_at_its_own_extreme() -> None:
    others = set(QUANTITY_UNITS) - {
        "hip crease above knee top",
        "knee angle",
        "hip angle",
        "elbow angle",
        "chin above bar",
        "chest to bar gap",
        "shoulders above bar",
        "feet clear of floor",
        "chest above floor",
    }
    assert others
    for quantity in others:
        highest = stay(check(quantity))
        lowest = stay(check(quantity, read="lowest"))
        assert highest is not None
        assert lowest is not None
        assert TIME_S[highest.rows].mean() == pytest.approx(FEATURE_S, abs=0.05)
        assert abs(TIME_S[lowest.rows].mean() - FEATURE_S) > 0.2


@pytest.mark.parametrize(
    ("phase", "first_s", "last_s"),
    [("start", 0.0, 0.2), ("turn", 1.4, 2.6), ("finish", 2.0, 4.0)],
)
def test_a_phase_is_a_part_of_the_rep(phase: str, first_s: float, last_s: float) -> None:
    rows = phase_rows(TIME_S, REP, check("knee angle", phase))
    assert TIME_S[rows[[0, -1]]] == pytest.approx([first_s, last_s])


def test_a_posture_beside_a_long_gap_is_not_read() -> None:
    for gap in ((TIME_S > 2.12) & (TIME_S < 2.5), (TIME_S > 1.7) & (TIME_S < 2.08)):
        assert stay(check("chin above bar"), ~gap) is None


def test_a_short_gap_or_one_elsewhere_does_no_harm() -> None:
    for gap in ((TIME_S > 2.12) & (TIME_S < 2.2), (TIME_S > 1.4) & (TIME_S < 1.7)):
        assert stay(check("chin above bar"), ~gap) is not None


def test_a_phase_that_was_hardly_seen_is_not_read() -> None:
    assert stay(check("chin above bar"), np.abs(TIME_S - HIGHEST_S) < 0.1) is None
    assert stay(check("chin above bar"), np.zeros(len(TIME_S), dtype=bool)) is None
