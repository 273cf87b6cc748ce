"""An athlete made of eleven joints goes through workouts whose way the test knows exactly."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import msgspec
import numpy as np
import pytest

from counting.movements.loader import built_in_movements
from counting.movements.types import Movement
from counting.reps.types import Rep
from counting.signals.extraction import signals_of
from counting.timeline import find_reps
from counting.workout.alignment import Following, follow
from counting.workout.postures import Posture, log_likelihoods, mixture_of, postures_of
from counting.workout.starting import start_flag
from counting.workout.types import Block, Station, Workout
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import FloatArray, PoseTrack

MOVEMENTS = {movement.name: movement for movement in built_in_movements()}
MIXTURES = {
    name: mixture_of(movement)
    for name, movement in MOVEMENTS.items()
    if movement.recognised is not None and movement.recognised.off_script
}
RATE_HZ = 30.0
STATURE_PX = 500.0
FLOOR_PX = 1000.0
BAR = 1.36


@dataclass(frozen=True)
class Pose:
    """Heights over the floor and places along the picture, in statures.

    Defaults: standing, hands hanging.
    """

    hip: float = 0.53
    shoulder: float = 0.82
    wrist: float = 0.49
    ankle: float = 0.04
    shoulder_x: float = 0.0
    hip_x: float = 0.0
    wrist_x: float = 0.05
    ankle_x: float = 0.0


STANDING = Pose()
RACK = Pose(wrist=0.84)
SQUAT_RACK = Pose(hip=0.27, shoulder=0.55, wrist=0.57, shoulder_x=0.08, hip_x=-0.1)
SQUAT_FREE = Pose(hip=0.27, shoulder=0.53, wrist=0.53, shoulder_x=0.1, hip_x=-0.1, wrist_x=0.4)
OVERHEAD = Pose(wrist=1.15)
BENT_OVER = Pose(hip=0.45, shoulder=0.52, wrist=0.2, shoulder_x=0.28, wrist_x=0.26)
CROUCH = Pose(hip=0.27, shoulder=0.48, wrist=0.15, shoulder_x=0.25, wrist_x=0.3)
HANG = Pose(hip=0.74, shoulder=1.04, wrist=BAR, ankle=0.27)
CHIN_UP = Pose(hip=1.01, shoulder=1.31, wrist=BAR, ankle=0.54)
SUPPORT = Pose(hip=1.40, shoulder=1.69, wrist=BAR, ankle=0.93)
PLANK = Pose(hip=0.2, shoulder=0.3, wrist=0.02, shoulder_x=0.8, hip_x=0.5, wrist_x=0.8)
CHEST_DOWN = Pose(hip=0.1, shoulder=0.08, wrist=0.02, shoulder_x=0.8, hip_x=0.5, wrist_x=0.8)

CYCLES: dict[str, tuple[Pose, Pose, Sequence[Pose]]] = {
    "air squat": (STANDING, STANDING, [SQUAT_FREE, STANDING]),
    "front squat": (STANDING, RACK, [SQUAT_RACK, RACK]),
    "thruster": (STANDING, RACK, [SQUAT_RACK, RACK, OVERHEAD, RACK]),
    "strict press": (STANDING, RACK, [OVERHEAD, RACK]),
    "deadlift": (STANDING, BENT_OVER, [STANDING, BENT_OVER]),
    "pull-up": (OVERHEAD, HANG, [CHIN_UP, HANG]),
    "bar muscle-up": (OVERHEAD, HANG, [SUPPORT, HANG]),
    "push-up": (CROUCH, PLANK, [CHEST_DOWN, PLANK]),
}
"""ScriptPath into the start position, the start position, and where a rep goes from there."""


@dataclass
class Film:
    """Poses with their times, and what the test knows about them."""

    times_s: list[float]
    poses: list[Pose]
    reps: list[tuple[str, float]]

    @classmethod
    def standing(cls, for_s: float) -> "Film":
        film = cls([0.0], [STANDING], [])
        film.to(STANDING, for_s)
        return film

    @property
    def now_s(self) -> float:
        return self.times_s[-1]

    def to(self, pose: Pose, in_s: float) -> None:
        self.times_s.append(self.now_s + in_s)
        self.poses.append(pose)

    def do(self, movement: str, reps: int, cycle_s: float = 2.0) -> None:
        entry, start_position, way = CYCLES[movement]
        self.to(entry, 0.8)
        self.to(start_position, 0.7)
        self.to(start_position, 0.3)
        for _ in range(reps):
            self.reps.append((movement, self.now_s + cycle_s / 2.0))
            for pose in way:
                self.to(pose, cycle_s / len(way))
        self.to(start_position, 0.3)
        self.to(entry, 0.7)
        self.to(STANDING, 0.8)
        self.to(STANDING, 1.2)

    def track(self, noise: float = 0.004) -> PoseTrack:
        time_s = np.arange(0.0, self.now_s, 1.0 / RATE_HZ)

        def course(name: str) -> FloatArray:
            values = [getattr(pose, name) for pose in self.poses]
            share = np.interp(time_s, self.times_s, np.arange(len(values)))
            step = np.floor(share).astype(int).clip(0, len(values) - 2)
            part = 0.5 - 0.5 * np.cos(np.pi * (share - step))
            start, end = np.asarray(values)[step], np.asarray(values)[step + 1]
            return np.asarray(start + part * (end - start))

        image = np.zeros((len(time_s), LANDMARK_COUNT, 2))
        hip, shoulder, wrist, ankle = (
            np.stack([course(f"{name}_x"), course(name)], axis=1)
            for name in ("hip", "shoulder", "wrist", "ankle")
        )
        knee = (hip + ankle) / 2.0 + np.array([0.06, 0.0])
        elbow = (shoulder + wrist) / 2.0
        places = {"SHOULDER": shoulder, "ELBOW": elbow, "WRIST": wrist}
        places |= {"HIP": hip, "KNEE": knee, "ANKLE": ankle, "HEEL": ankle, "FOOT_INDEX": ankle}
        places |= {"PINKY": wrist, "INDEX": wrist, "THUMB": wrist}
        for landmark in Landmark:
            side, _, part = landmark.name.partition("_")
            across = {"LEFT": 0.03, "RIGHT": -0.03}.get(side, 0.0)
            head = shoulder + np.array([0.0, 0.12])
            image[:, landmark] = places.get(part, head) + np.array([across, 0.0])
        image += np.random.default_rng(5).normal(0.0, noise, image.shape)
        image = np.stack(
            [400 + STATURE_PX * image[..., 0], FLOOR_PX - STATURE_PX * image[..., 1]], 2
        )
        n = len(time_s)
        return PoseTrack(
            time_s=time_s,
            image_px=image,
            depth_px=np.zeros((n, LANDMARK_COUNT)),
            world_m=np.zeros((n, LANDMARK_COUNT, 3)),
            visibility=np.full((n, LANDMARK_COUNT), 0.95),
            filled=np.zeros(n, bool),
            identity=np.zeros(n, np.int64),
            camera_shift_px=np.zeros((n, 2)),
            camera_roll_rad=np.zeros(n),
            width_px=1000,
            height_px=1200,
        )


def workout(*blocks: tuple[int, Sequence[tuple[str, int]]], **rules: object) -> Workout:
    return Workout(
        name="known",
        scoring="for time",
        missing_reps="deducted",
        blocks=[
            Block(
                rounds=rounds,
                stations=[Station(movement=movement, reps=reps) for movement, reps in stations],
            )
            for rounds, stations in blocks
        ],
        **rules,  # type: ignore[arg-type]
    )


def followed(film: Film, asked: Workout) -> Following:
    return follow(
        film.track(), asked, MOVEMENTS, lambda track, movement: find_reps(track, movement).reps
    )


def counts(following: Following) -> list[tuple[int | None, str, int]]:
    """Reps by run, in film order."""
    return [
        (run, name, len(list(group)))
        for (run, name), group in itertools.groupby(
            following.reps, key=lambda item: (item.run, item.rep.movement)
        )
    ]


@pytest.mark.parametrize("movement", sorted(CYCLES))
def test_each_movement_is_told_from_the_others_by_its_postures(movement: str) -> None:
    film = Film.standing(1.0)
    start_s = film.now_s + 1.5
    film.do(movement, 4)
    track = film.track()
    postures = postures_of(track, signals_of(track))
    during = (postures.time_s > start_s) & (postures.time_s < start_s + 8.0)
    scores = {
        name: float(log_likelihoods(mixture)[postures.posture[during]].sum())
        for name, mixture in MIXTURES.items()
    }
    best = max(scores, key=lambda name: scores[name])
    same_motion = {"pull-up", "chest-to-bar pull-up"}
    assert best == movement or {best, movement} <= same_motion


ON_HANDS = np.isin(np.arange(LANDMARK_COUNT), [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST])


def test_support_above_a_bar_is_not_standing_though_the_hands_were_misread() -> None:
    """Hands that seem to rise with the body hold on to nothing; but the feet are off the floor."""
    film = Film.standing(1.0)
    start_s = film.now_s + 1.5
    film.do("bar muscle-up", 4)
    track = film.track()
    image = track.image_px.copy()
    shoulder = image[:, Landmark.LEFT_SHOULDER, 1]
    hanging = shoulder > image[:, Landmark.LEFT_WRIST, 1]
    in_support = ~hanging & (shoulder < np.median(shoulder))
    image[hanging[:, None] & ON_HANDS, 1] += 0.14 * STATURE_PX
    image[in_support[:, None] & ON_HANDS, 1] -= 0.12 * STATURE_PX
    track = replace(track, image_px=image)
    postures = postures_of(track, signals_of(track))
    during = (postures.time_s > start_s) & (postures.time_s < start_s + 8.0)
    off_the_floor = {Posture.PULLING, Posture.PULLING_TO_THE_CHEST, Posture.ABOVE_THE_BAR}
    share = np.mean([int(p) in off_the_floor for p in postures.posture[during]])
    assert share > 0.7


COUPLET = (2, [("thruster", 3), ("pull-up", 2)])


def test_every_rep_is_in_its_round_and_station() -> None:
    film = Film.standing(2.0)
    for _ in range(2):
        film.do("thruster", 3)
        film.do("pull-up", 2)
    following = followed(film, workout(COUPLET))
    assert counts(following) == [
        (0, "thruster", 3),
        (1, "pull-up", 2),
        (2, "thruster", 3),
        (3, "pull-up", 2),
    ]
    for item, (movement, turn_s) in zip(following.reps, film.reps, strict=True):
        assert item.rep.movement == movement
        assert item.rep.start_s < turn_s + 0.6
        assert item.rep.end_s > turn_s - 0.6


def test_breaks_within_a_station_do_not_end_it() -> None:
    film = Film.standing(2.0)
    film.do("thruster", 2)
    film.to(STANDING, 8.0)
    film.do("thruster", 2)
    film.do("pull-up", 2)
    following = followed(film, workout((1, [("thruster", 4), ("pull-up", 2)])))
    assert counts(following) == [(0, "thruster", 4), (1, "pull-up", 2)]


def test_a_third_movement_and_a_second_block_are_followed() -> None:
    film = Film.standing(2.0)
    film.do("deadlift", 3)
    film.do("push-up", 3)
    film.to(STANDING, 10.0)
    film.do("bar muscle-up", 2)
    asked = workout((1, [("deadlift", 3), ("push-up", 3)]), (1, [("bar muscle-up", 2)]))
    assert counts(followed(film, asked)) == [
        (0, "deadlift", 3),
        (1, "push-up", 3),
        (2, "bar muscle-up", 2),
    ]


def test_the_wrong_station_first_is_recognised_for_what_it_is() -> None:
    film = Film.standing(2.0)
    film.do("pull-up", 3)
    film.do("thruster", 3)
    following = followed(film, workout((1, [("thruster", 3), ("pull-up", 3)])))
    assert counts(following) == [(1, "pull-up", 3), (0, "thruster", 3)]


def test_a_movement_that_the_workout_does_not_hold_is_off_the_script() -> None:
    film = Film.standing(2.0)
    film.do("thruster", 3)
    film.do("push-up", 4)
    following = followed(film, workout((1, [("thruster", 3), ("pull-up", 4)])))
    assert counts(following) == [(0, "thruster", 3), (None, "push-up", 4)]


def test_a_skipped_station_leaves_its_run_empty() -> None:
    film = Film.standing(2.0)
    film.do("thruster", 3)
    film.do("push-up", 4)
    asked = workout((1, [("thruster", 3), ("pull-up", 3), ("push-up", 4)]))
    assert counts(followed(film, asked)) == [(0, "thruster", 3), (2, "push-up", 4)]


def test_a_film_without_work_has_no_reps() -> None:
    film = Film.standing(6.0)
    following = followed(film, workout(COUPLET))
    assert following.reps == ()
    assert following.stretches == ()


def test_a_station_that_looks_the_same_is_given_by_the_script() -> None:
    """Chin over the bar or chest to it: the order says which was meant."""
    film = Film.standing(2.0)
    film.do("pull-up", 3)
    film.do("push-up", 3)
    film.do("pull-up", 3)
    asked = workout((1, [("pull-up", 3), ("push-up", 3), ("chest-to-bar pull-up", 3)]))
    following = followed(film, asked)
    assert [item.run for item in following.reps] == [0] * 3 + [1] * 3 + [2] * 3


def test_nothing_before_the_start_is_followed() -> None:
    film = Film.standing(1.0)
    film.do("thruster", 2)
    film.to(STANDING, 6.0)
    start_s = film.now_s
    film.do("thruster", 3)
    film.do("pull-up", 2)
    following = follow(
        film.track(),
        workout((1, [("thruster", 3), ("pull-up", 2)])),
        MOVEMENTS,
        lambda track, movement: find_reps(track, movement).reps,
        not_before_s=start_s,
    )
    assert counts(following) == [(0, "thruster", 3), (1, "pull-up", 2)]


@pytest.mark.parametrize(
    ("asked", "flagged"),
    [
        ("standing", False),
        ("standing under the bar", False),
        ("hanging from the bar", True),
        ("lying on the floor", True),
        ("anywhere", False),
    ],
)
def test_a_start_from_elsewhere_is_flagged(asked: str, flagged: bool) -> None:
    film = Film.standing(2.0)
    film.do("pull-up", 2)
    following = followed(film, workout((1, [("pull-up", 2)]), start=asked))
    flag = start_flag(following, asked, 1.0)  # type: ignore[arg-type]
    assert (flag is not None) == flagged


def test_an_unseen_moment_speaks_for_no_movement() -> None:
    assert {log_likelihoods(mixture)[Posture.UNSEEN] for mixture in MIXTURES.values()} == {0.0}
    for mixture in MIXTURES.values():
        assert np.exp(log_likelihoods(mixture)[1:]).sum() == pytest.approx(1.0)


def test_a_round_that_was_asked_but_not_done_is_not_invented() -> None:
    film = Film.standing(2.0)
    for _ in range(2):
        film.do("thruster", 3)
        film.do("pull-up", 2)
        film.to(STANDING, 4.0)
        film.do("pull-up", 2)
    film.to(STANDING, 4.0)
    film.do("bar muscle-up", 2)
    asked = workout((3, [("thruster", 3), ("pull-up", 4)]), (1, [("bar muscle-up", 2)]))
    assert counts(followed(film, asked)) == [
        (0, "thruster", 3),
        (1, "pull-up", 4),
        (2, "thruster", 3),
        (3, "pull-up", 4),
        (6, "bar muscle-up", 2),
    ]


def until_time_is_up(*stations: tuple[str, int]) -> Workout:
    return Workout(
        name="by turns",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=1200.0,
        blocks=[
            Block(
                rounds="until time is up",
                stations=[Station(movement=movement, reps=reps) for movement, reps in stations],
            )
        ],
    )


def test_rounds_until_time_is_up_go_on_for_as_long_as_they_are_done(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("counting.workout.alignment.FIRST_ROUNDS", 2)
    film = Film.standing(2.0)
    for _ in range(5):
        film.do("thruster", 2)
        film.do("pull-up", 1)
    following = followed(film, until_time_is_up(("thruster", 2), ("pull-up", 1)))
    asked = [("thruster", 2), ("pull-up", 1)] * 5
    assert counts(following) == [(run, *done) for run, done in enumerate(asked)]
    assert following.rounds_without_end > 5


@pytest.mark.parametrize("goes_on", [False, True])
def test_a_station_left_out_leads_to_the_next_and_not_to_a_far_off_round(goes_on: bool) -> None:
    """Every round looks alike: nothing but the order tells which one the athlete is in."""
    film = Film.standing(2.0)
    film.do("thruster", 3)
    film.do("pull-up", 2)
    film.do("push-up", 2)
    film.do("thruster", 3)
    film.do("push-up", 2)
    if goes_on:
        film.do("thruster", 3)
        film.do("pull-up", 2)
    stations = [("thruster", 3), ("pull-up", 2), ("push-up", 2)]
    runs_done = [run for run, _, _ in counts(followed(film, until_time_is_up(*stations)))]
    assert runs_done == [0, 1, 2, 3, 5, 6, 7][: len(runs_done)]
    assert len(runs_done) == (7 if goes_on else 5)


def test_slow_singles_until_time_is_up_lack_nothing() -> None:
    """Nobody knows how many are asked for, so none is missing when another movement is tried."""
    film = Film.standing(2.0)
    film.do("thruster", 2)
    film.do("pull-up", 3)
    film.do("thruster", 2)
    found = counts(followed(film, until_time_is_up(("thruster", 1))))
    assert found == [(0, "thruster", 2), (None, "pull-up", 3), (0, "thruster", 2)]


def test_the_reps_belong_to_the_last_cut_of_each_movement() -> None:
    """Whoever keeps what the last call found keeps what the result is made of."""
    film = Film.standing(2.0)
    film.do("thruster", 3)
    film.do("pull-up", 1)
    film.do("bar muscle-up", 2)
    asked = workout((1, [("thruster", 3), ("pull-up", 6), ("bar muscle-up", 2)]))
    kept = {}

    def cut(track: PoseTrack, movement: Movement) -> Sequence[Rep]:
        kept[movement.name] = find_reps(track, movement).reps
        return kept[movement.name]

    following = follow(film.track(), asked, MOVEMENTS, cut)
    for item in following.reps:
        same = [rep.turn_index for rep in kept[item.rep.movement]]
        assert item.rep.turn_index in same


def test_a_start_far_from_the_bar_is_no_start_under_it() -> None:
    away = Pose(hip_x=0.9, shoulder_x=0.9, wrist_x=0.95, ankle_x=0.9)
    film = Film([0.0], [away], [])
    film.to(away, 3.0)
    film.to(STANDING, 1.5)
    film.do("pull-up", 2)
    following = followed(film, workout((1, [("pull-up", 2)])))
    flag = start_flag(following, "standing under the bar", 1.5)
    assert flag is not None
    assert "elsewhere" in flag.words
    assert start_flag(following, "standing under the bar", 100.0) is None


def test_a_movement_of_the_users_own_is_followed_like_its_nearest_relative() -> None:
    own = msgspec.structs.replace(
        MOVEMENTS["strict press"], name="push jerk", recognised=None, load=None
    )

    def most(base: str) -> Posture:
        mixture = mixture_of(msgspec.structs.replace(own, base=base))
        return max(mixture, key=lambda posture: mixture[posture])

    assert most("standing") == Posture.HANDS_AT_SHOULDERS
    assert most("hanging") == Posture.PULLING
    assert most("floor") == Posture.PRONE
    film = Film.standing(2.0)
    film.do("strict press", 3)
    film.do("push-up", 2)
    following = follow(
        film.track(),
        workout((1, [("push jerk", 3), ("push-up", 2)])),
        {"push jerk": own, "push-up": MOVEMENTS["push-up"]},
        lambda track, movement: find_reps(track, movement).reps,
    )
    assert counts(following) == [(0, "push jerk", 3), (1, "push-up", 2)]


def test_a_film_in_which_nobody_is_seen_is_followed_to_nothing() -> None:
    track = Film.standing(3.0).track()
    unseen = replace(track, image_px=np.full_like(track.image_px, np.nan))
    following = follow(unseen, workout(COUPLET), MOVEMENTS, lambda *_: [])
    assert following.reps == ()
