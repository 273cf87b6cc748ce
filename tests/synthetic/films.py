"""Whole films of each movement, with sets, breaks and every distraction on the way."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from synthetic.figure import ANKLE, ARM, LEG, TRUNK, Camera, Posture
from synthetic.script import Script
from vision.track import PoseTrack

STANDING_HIP = ANKLE + 0.998 * LEG
BAR = 1.36


@dataclass(frozen=True)
class TrueRep:
    start_s: float
    turn_s: float
    end_s: float


@dataclass(frozen=True)
class Film:
    """A track and what is truly in it."""

    track: PoseTrack
    reps: tuple[TrueRep, ...]
    breaks: tuple[tuple[float, float], ...]


def standing(y: float = 0.0) -> Posture:
    return Posture(
        (y, STANDING_HIP), 0.0, (y + 0.03, STANDING_HIP + TRUNK - 0.99 * ARM), (y, ANKLE)
    )


def squat(depth: float = 1.0, wrist: tuple[float, float] | None = None) -> Posture:
    """``depth`` 0 standing, 1 the hips well below the knees; ``wrist`` relative to the shoulder."""
    hip = (-0.13 * depth, STANDING_HIP - 0.27 * depth)
    posture = Posture(hip, 30.0 * depth, (0.0, 0.0))
    at = wrist or (0.06 + 0.2 * depth, -0.99 * ARM + 0.25 * depth)
    return replace(posture, wrist=(posture.shoulder[0] + at[0], posture.shoulder[1] + at[1]))


def racked(depth: float = 0.0) -> Posture:
    return replace(squat(depth, (0.09, -0.02)), elbow_side=1.0)


def overhead(depth: float = 0.0, reach: float = 0.99) -> Posture:
    return replace(squat(depth, (0.02, reach * ARM)), elbow_side=1.0)


def lifted(height: float) -> Posture:
    """Barbell in straight arms: ``height`` 0 on the floor, 1 standing tall."""
    low = Posture((-0.22, 0.36), 62.0, (0.0, 0.0))
    high = Posture((0.0, STANDING_HIP), 0.0, (0.0, 0.0))
    numbers = low.numbers() + height * (high.numbers() - low.numbers())
    posture = Posture((numbers[0], numbers[1]), numbers[2], (0.0, 0.0))
    shoulder = posture.shoulder
    return replace(posture, wrist=(shoulder[0] + 0.02, shoulder[1] - 0.99 * ARM))


def hanging(pull: float = 0.0, swing_deg: float = 0.0, bend: float = 0.0) -> Posture:
    """``pull`` 0 on straight arms, 1 the shoulders just below the bar, 2 in support above it."""
    swing = np.radians(swing_deg)
    drop = ARM * (0.99 - 0.8 * pull)
    shoulder = (drop * np.sin(swing), BAR - drop * np.cos(swing))
    lean = swing_deg / 2
    hip = (
        shoulder[0] - TRUNK * np.sin(np.radians(lean)),
        shoulder[1] - TRUNK * np.cos(np.radians(lean)),
    )
    ankle = (hip[0] - np.sin(swing + bend) * LEG * 0.98, hip[1] - np.cos(swing + bend) * LEG * 0.98)
    return Posture(hip, lean, (0.0, BAR), ankle, elbow_side=-1.0)


def planked(height: float = 1.0) -> Posture:
    """Hands and toes on the floor: ``height`` 1 on straight arms, 0 the chest down."""
    shoulder_z = 0.08 + height * (0.99 * ARM - 0.06)
    rise = np.arcsin((shoulder_z - 0.06) / (LEG + TRUNK))
    hip = (LEG * np.cos(rise) - 0.5, 0.06 + LEG * np.sin(rise))
    return Posture(hip, 90 - np.degrees(rise), (0.22, 0.02), (-0.5, 0.06), elbow_side=-1.0)


def crouched() -> Posture:
    return Posture((-0.1, 0.25), 65.0, (0.22, 0.02), (0.0, ANKLE))


Rep = Callable[[Script, float, float], float]
"""Adds one repetition of a number of seconds and a size to a script; returns its turn's time."""


def _there_and_back(far: Callable[[float], Posture]) -> Rep:
    def rep(script: Script, seconds: float, size: float) -> float:
        start_position = script.posture
        script.move(far(size), 0.45 * seconds)
        turn_s = script.now_s + 0.025 * seconds
        script.hold(0.05 * seconds).move(start_position, 0.5 * seconds)
        return turn_s

    return rep


def _thruster(script: Script, seconds: float, size: float) -> float:
    script.move(racked(size), 0.35 * seconds)
    turn_s = script.now_s
    script.move(racked(), 0.25 * seconds).move(overhead(), 0.2 * seconds)
    script.hold(0.05 * seconds).move(racked(), 0.15 * seconds)
    return turn_s


def _kip(top: float) -> Rep:
    def rep(script: Script, seconds: float, size: float) -> float:
        script.move(hanging(0.0, 18.0, 0.5), 0.18 * seconds)
        script.move(hanging(0.0, -22.0, -0.4), 0.24 * seconds)
        script.move(hanging(top * size, -10.0), 0.23 * seconds)
        turn_s = script.now_s
        script.move(hanging(), 0.35 * seconds)
        return turn_s

    return rep


def _burpee(script: Script, seconds: float, size: float) -> float:
    script.move(crouched(), 0.17 * seconds).move(planked(), 0.1 * seconds)
    script.move(planked(1 - size), 0.12 * seconds)
    turn_s = script.now_s + 0.025 * seconds
    script.hold(0.05 * seconds).move(planked(), 0.12 * seconds).move(crouched(), 0.1 * seconds)
    jump = overhead()
    jump = replace(
        jump,
        hip=(jump.hip[0], jump.hip[1] + 0.05),
        wrist=(jump.wrist[0], jump.wrist[1] + 0.05),
        ankle=(0.0, ANKLE + 0.05),
    )
    script.move(jump, 0.22 * seconds).move(standing(), 0.12 * seconds)
    return turn_s


@dataclass(frozen=True)
class Exercise:
    """How a movement is done: its start position, one repetition, and the way in and out."""

    start_position: Posture
    rep: Rep
    into: tuple[tuple[Posture, float], ...] = ()

    def out_of(self) -> tuple[tuple[Posture, float], ...]:
        back = [posture for posture, _ in self.into][::-1][1:]
        return (*((posture, 0.6) for posture in back), (standing(), 0.7))


def swung(height: float) -> Posture:
    """Weight in straight arms: 0 between the legs, 1 at the height of the shoulders."""
    low = lifted(0.3)
    high = standing()
    numbers = low.numbers() + height * (high.numbers() - low.numbers())
    posture = Posture((numbers[0], numbers[1]), numbers[2], (0.0, 0.0))
    arm = np.radians(-100 + 100 * height)
    shoulder = posture.shoulder
    reach = 0.98 * ARM
    return replace(
        posture, wrist=(shoulder[0] + reach * np.cos(arm), shoulder[1] + reach * np.sin(arm))
    )


def _pressed(size: float) -> Posture:
    return overhead(reach=size * 0.99)


_PICK_UP = ((lifted(0.0), 0.9), (lifted(0.97), 0.7), (racked(), 0.5))
_SNATCH = (*_PICK_UP, (overhead(), 0.6))
_MOUNT = ((squat(0.5), 0.4), (hanging(), 0.5))
_GET_DOWN = ((crouched(), 0.7), (planked(), 0.4))

EXERCISES = {
    "air squat": Exercise(standing(), _there_and_back(squat)),
    "front squat": Exercise(racked(), _there_and_back(racked), _PICK_UP),
    "overhead squat": Exercise(overhead(), _there_and_back(overhead), _SNATCH),
    "thruster": Exercise(racked(), _thruster, _PICK_UP),
    "strict press": Exercise(racked(), _there_and_back(_pressed), _PICK_UP),
    "deadlift": Exercise(lifted(0.0), _there_and_back(lifted), ((lifted(0.0), 0.9),)),
    "pull-up": Exercise(hanging(), _there_and_back(hanging), _MOUNT),
    "chest-to-bar pull-up": Exercise(hanging(), _kip(1.1), _MOUNT),
    "bar muscle-up": Exercise(hanging(), _kip(2.0), _MOUNT),
    "push-up": Exercise(planked(), _there_and_back(lambda size: planked(1 - size)), _GET_DOWN),
    "burpee": Exercise(standing(), _burpee),
    "kettlebell swing": Exercise(swung(0.0), _there_and_back(swung), ((swung(0.0), 0.9),)),
}


def film(
    movement: str,
    sets: Sequence[int] = (3, 2),
    cycle_s: float = 2.0,
    fatigue: float = 0.0,
    rest_s: float = 5.0,
    pause_s: float = 0.0,
    sizes: Sequence[float] = (),
    course: str = "minimum jerk",
    exercises: Mapping[str, Exercise] = EXERCISES,
    **play: object,
) -> Film:
    """Film some sets of a movement.

    Each set is entered and left as one does (bar up and down, onto the bar and off, down to the
    floor and up); between sets the athlete walks half a stature back, rests, and walks up again.
    ``fatigue`` lengthens every repetition by that share of the first, ``pause_s`` is a wait at
    the start position before the last repetition of each set, ``sizes`` scales single repetitions.
    """
    exercise = exercises[movement]
    script = Script(standing(), course=course)
    script.hold(1.0)
    reps: list[TrueRep] = []
    bounds: list[tuple[float, float]] = []
    for number, count in enumerate(sets):
        if number:
            way_back_s = max(1.2, 2.4 * (script.posture.ankle[0] + 0.5))
            script.move(standing(-0.5), way_back_s).hold(rest_s).move(standing(), 1.2).hold(0.3)
        for posture, seconds in exercise.into:
            script.move(posture, seconds)
        script.hold(0.5 if exercise.into else 0.0)
        first_s = script.now_s
        for k in range(count):
            if pause_s and k == count - 1:
                script.hold(pause_s)
            size = sizes[len(reps)] if len(reps) < len(sizes) else 1.0
            start_s = script.now_s
            turn_s = exercise.rep(script, cycle_s * (1 + fatigue * len(reps)), size)
            reps.append(TrueRep(start_s, turn_s, script.now_s))
        bounds.append((first_s, script.now_s))
        script.hold(0.4)
        for posture, seconds in exercise.out_of() if exercise.into else ():
            script.move(posture, seconds)
    script.hold(1.0)
    breaks = tuple((a[1], b[0]) for a, b in pairwise(bounds))
    return Film(script.play(**play), tuple(reps), breaks)  # type: ignore[arg-type]


__all__ = ["EXERCISES", "Camera", "Film", "TrueRep", "film"]
