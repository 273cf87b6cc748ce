"""Every shipped movement as the figure does it, by how it is taught (common practice, no source).

`synthetic.films` holds the ten that labelled films show; here are the others.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from synthetic.figure import ANKLE, ARM, LEG, TRUNK, Posture
from synthetic.films import (
    BAR,
    EXERCISES,
    STANDING_HIP,
    Exercise,
    Rep,
    crouched,
    hanging,
    lifted,
    overhead,
    planked,
    racked,
    standing,
    swung,
)
from synthetic.script import Script

BOX = 0.33
STEP = 0.42
RINGS = 1.0


def moved(posture: Posture, y: float = 0.0, z: float = 0.0) -> Posture:
    """The same posture elsewhere."""

    def there(place: tuple[float, float]) -> tuple[float, float]:
        return place[0] + y, place[1] + z

    return replace(
        posture, hip=there(posture.hip), wrist=there(posture.wrist), ankle=there(posture.ankle)
    )


def hands(posture: Posture, left: tuple[float, float], right: tuple[float, float]) -> Posture:
    """The same posture with each hand in a place of its own."""
    middle, apart = _of_two(left, right)
    return replace(posture, wrist=middle, wrists_apart=apart)


def feet(posture: Posture, left: tuple[float, float], right: tuple[float, float]) -> Posture:
    """The same posture with each foot in a place of its own."""
    middle, apart = _of_two(left, right)
    return replace(posture, ankle=middle, ankles_apart=apart)


def _of_two(
    left: tuple[float, float], right: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    middle = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    return middle, (left[0] - middle[0], left[1] - middle[1])


def lunged(y: float, leading: str) -> Posture:
    """The bottom of a lunge that began at ``y``, one foot a step ahead, the other knee down."""
    ahead, behind = (y + STEP, ANKLE), (y, ANKLE + 0.08)
    low = Posture((y + 0.2, 0.3), 4.0, (y + 0.2, 0.3 + TRUNK - 0.9 * ARM))
    return feet(low, ahead, behind) if leading == "left" else feet(low, behind, ahead)


def snatched(side: str, height: float) -> Posture:
    """A weight in one hand, 0 on the floor to 1 overhead; the other hand hangs or steadies."""
    if height < 0.5:
        low = lifted(0.0)
        works, rests = (0.1, 0.1), (low.hip[0] + 0.3, low.shoulder[1] - 0.2)
    else:
        low = standing()
        works, rests = (0.02, low.shoulder[1] + 0.97 * ARM), low.wrist
    return hands(low, works, rests) if side == "left" else hands(low, rests, works)


def inverted(straight: float, kicked: float = 0.0) -> Posture:
    """On the hands with the feet up: ``straight`` 1 on long arms, 0 the head on the floor.

    ``kicked`` 1 has the knees down at the hips.
    """
    shoulder_z = 0.16 + straight * (0.98 * ARM - 0.14)
    hip = (0.02, shoulder_z + TRUNK)
    ankle = (0.05 + 0.2 * kicked, hip[1] + LEG * (0.98 - 0.7 * kicked))
    return Posture(hip, 179.0, (0.0, 0.02), ankle, elbow_side=-1.0)


def on_the_back(up: float) -> Posture:
    """A sit-up: 0 lying with the hands behind the head, 1 sitting with the hands at the feet."""
    lean = -88.0 + 98.0 * up
    body = Posture((0.0, 0.06), lean, (0.0, 0.0), (0.4, ANKLE), knee_side=1.0)
    reach = np.radians(180.0 - 150.0 * up)
    shoulder = body.shoulder
    wrist = (shoulder[0] + 0.97 * ARM * np.cos(reach), max(0.03, shoulder[1] - 0.6 * ARM * up))
    return replace(body, wrist=wrist, elbow_side=1.0)


def knees_raised() -> Posture:
    """In the hang with the knees at the elbows."""
    return Posture((0.2, 0.87), -48.0, (0.0, BAR), (0.36, 0.93), -1.0)


def feet_raised(gap: float = 0.0) -> Posture:
    """In the hang with the feet at the bar, or ``gap`` below it."""
    return Posture((0.18, 0.9), -50.0, (0.0, BAR), (0.1, BAR - 0.04 - gap), elbow_side=-1.0)


def supported(bend: float = 0.0) -> Posture:
    """On rings at the hips: ``bend`` 0 on long arms, 1 the shoulders at the elbows."""
    shoulder_z = RINGS + 0.99 * ARM - 0.19 * bend
    hip = (-0.03 - 0.1 * bend, shoulder_z - TRUNK * np.cos(np.radians(20.0 * bend)))
    return Posture(hip, 20.0 * bend, (0.03, RINGS), (hip[0] - 0.05, hip[1] - 0.97 * LEG))


def under_the_bar(pull: float = 0.0) -> Posture:
    """Feet on the floor under a bar that long arms reach: 0 below it, 1 the chin above it."""
    height = STANDING_HIP + TRUNK + 0.95 * ARM
    rise = 0.86 * ARM * pull
    hip = (0.0, STANDING_HIP + rise)
    return Posture(hip, 0.0, (0.03, height), (0.0, ANKLE + rise), elbow_side=-1.0)


def jumped(rise: float) -> Posture:
    """Off the floor with the hands beside the hips, as over a rope."""
    low = standing()
    return moved(replace(low, wrist=(0.12, low.hip[1] + 0.05)), z=rise)


def through(*steps: tuple[Posture, float], turn: int) -> Rep:
    """A repetition through postures, each with its share of the time, and which is the turn."""

    def rep(script: Script, seconds: float, _size: float) -> float:
        turn_s = script.now_s
        for place, (posture, share) in enumerate(steps):
            script.move(posture, share * seconds)
            if place == turn:
                turn_s = script.now_s
        return turn_s

    return rep


def _lunge(script: Script, seconds: float, _size: float) -> float:
    y = script.posture.ankle[0]
    leading = ("left", "right")[round(y / STEP) % 2]
    script.move(lunged(y, leading), 0.5 * seconds)
    turn_s = script.now_s
    script.move(standing(y + STEP), 0.5 * seconds)
    return turn_s


def _one_armed(script: Script, seconds: float, _size: float) -> float:
    here = script.posture.wrists_apart[1]
    side = "right" if here > 0 else "left"
    script.move(snatched(side, 1.0), 0.45 * seconds).hold(0.1 * seconds)
    turn_s = script.now_s
    other = "left" if side == "right" else "right"
    script.move(snatched(other, 0.0), 0.45 * seconds)
    return turn_s


def _over_the_box(script: Script, seconds: float, _size: float) -> float:
    here = script.posture.ankle[0]
    there = 0.8 - here
    script.move(moved(racked(0.4), here), 0.25 * seconds)
    script.move(moved(racked(0.5), 0.4, BOX), 0.25 * seconds)
    turn_s = script.now_s
    script.move(moved(racked(0.4), there), 0.25 * seconds).move(standing(there), 0.25 * seconds)
    return turn_s


def _over_the_bar(script: Script, seconds: float, _size: float) -> float:
    script.move(crouched(), 0.2 * seconds).move(planked(), 0.08 * seconds)
    script.move(planked(0.0), 0.12 * seconds)
    turn_s = script.now_s
    script.move(planked(), 0.12 * seconds).move(crouched(), 0.1 * seconds)
    script.move(standing(), 0.18 * seconds).move(jumped(0.07), 0.1 * seconds)
    script.move(standing(), 0.1 * seconds)
    return turn_s


_PICK_UP = EXERCISES["front squat"].into
_SNATCH = EXERCISES["overhead squat"].into
_MOUNT = EXERCISES["pull-up"].into
_GET_DOWN = EXERCISES["push-up"].into
_TO_THE_BAR = ((lifted(0.0), 0.9),)
_IN_THE_HANDS = (*_TO_THE_BAR, (lifted(0.97), 0.7), (lifted(0.6), 0.4))
_ON_THE_HANDS = ((crouched(), 0.7), (inverted(1.0), 1.0))
_ON_THE_BACK = ((crouched(), 0.7), (on_the_back(1.0), 0.6), (on_the_back(0.0), 0.7))
_ON_THE_RINGS = ((supported(0.4), 0.6), (supported(), 0.4))

_BACK = (-0.04, -0.03)
_CHEST = (0.14, -0.09)


def _holding(depth: float, at: tuple[float, float]) -> Posture:
    body = racked(depth)
    return replace(body, wrist=(body.shoulder[0] + at[0], body.shoulder[1] + at[1]))


def _squat(at: tuple[float, float]) -> Rep:
    return through((_holding(1.0, at), 0.5), (_holding(0.0, at), 0.5), turn=0)


def _step_on(legs: Callable[[], Posture]) -> Rep:
    onto = moved(racked(0.5), 0.35, BOX)
    return through(
        (legs(), 0.2), (onto, 0.2), (standing_on(), 0.2), (onto, 0.2), (standing(), 0.2), turn=2
    )


def standing_on() -> Posture:
    """Upright on the box."""
    return moved(standing(), 0.35, BOX)


def _stepping() -> Posture:
    low = standing()
    return feet(low, (0.35, ANKLE + BOX), (0.0, ANKLE))


_KICK = (inverted(0.0, 1.0), 0.15)
_PULLED = (lifted(0.97), 0.2)
_DOWN = ((lifted(0.97), 0.15), (lifted(0.0), 0.2))
_HIGH = replace(standing(), wrist=(0.1, STANDING_HIP + TRUNK + 0.05), elbow_side=-1.0)

MOVES = {
    **{name: one for name, one in EXERCISES.items() if name != "kettlebell swing"},
    "back squat": Exercise(_holding(0.0, _BACK), _squat(_BACK)),
    "goblet squat": Exercise(_holding(0.0, _CHEST), _squat(_CHEST), _PICK_UP),
    "wall ball": Exercise(
        racked(),
        through((racked(1.0), 0.4), (racked(), 0.25), (overhead(), 0.15), (racked(), 0.2), turn=0),
        _PICK_UP,
    ),
    "walking lunge": Exercise(standing(), _lunge),
    "box jump": Exercise(standing(), _step_on(lambda: racked(0.4))),
    "box step-up": Exercise(standing(), _step_on(_stepping)),
    "box jump over": Exercise(standing(), _over_the_box),
    "burpee over the bar": Exercise(standing(), _over_the_bar),
    "rope skip": Exercise(
        jumped(0.0), through((jumped(0.045), 0.4), (jumped(0.0), 0.6), turn=0)
    ),
    "push press": Exercise(
        racked(),
        through((racked(0.3), 0.2), (racked(), 0.15), (overhead(), 0.25), (racked(), 0.4), turn=2),
        _PICK_UP,
    ),
    "push jerk": Exercise(
        racked(),
        through(
            (racked(0.3), 0.2), (overhead(0.3), 0.3), (overhead(), 0.2), (racked(), 0.3), turn=2
        ),
        _PICK_UP,
    ),
    "power clean": Exercise(
        lifted(0.0),
        through(_PULLED, (racked(0.35), 0.15), (racked(), 0.25), *_DOWN, turn=2),
        _TO_THE_BAR,
    ),
    "squat clean": Exercise(
        lifted(0.0),
        through(_PULLED, (racked(1.0), 0.15), (racked(), 0.25), *_DOWN, turn=1),
        _TO_THE_BAR,
    ),
    "hang clean": Exercise(
        lifted(0.6),
        through(
            (lifted(1.0), 0.2), (racked(0.35), 0.2), (racked(), 0.25), (lifted(0.6), 0.35), turn=2
        ),
        _IN_THE_HANDS,
    ),
    "power snatch": Exercise(
        lifted(0.0),
        through(_PULLED, (overhead(0.35), 0.2), (overhead(), 0.25), *_DOWN, turn=2),
        _TO_THE_BAR,
    ),
    "squat snatch": Exercise(
        lifted(0.0),
        through(_PULLED, (overhead(1.0), 0.2), (overhead(), 0.25), *_DOWN, turn=1),
        _TO_THE_BAR,
    ),
    "clean and jerk": Exercise(
        lifted(0.0),
        through(
            (lifted(0.97), 0.16), (racked(0.35), 0.1), (racked(), 0.16), (racked(), 0.1),
            (overhead(0.2), 0.1), (overhead(), 0.14), *_DOWN, turn=5,
        ),
        _TO_THE_BAR,
    ),
    "ground-to-overhead": Exercise(
        lifted(0.0),
        through(_PULLED, (racked(), 0.15), (overhead(), 0.2), (racked(), 0.1), *_DOWN, turn=2),
        _TO_THE_BAR,
    ),
    "sumo deadlift high pull": Exercise(
        lifted(0.0),
        through((lifted(0.97), 0.25), (_HIGH, 0.2), *_DOWN, turn=1),
        _TO_THE_BAR,
    ),
    "single-arm dumbbell snatch": Exercise(
        snatched("right", 0.0), _one_armed, ((snatched("right", 0.0), 0.9),)
    ),
    "swing overhead": Exercise(
        swung(0.0), through((swung(1.85), 0.5), (swung(0.0), 0.5), turn=0), ((swung(0.0), 0.9),)
    ),
    "swing to the eyes": Exercise(
        swung(0.0), through((swung(1.2), 0.5), (swung(0.0), 0.5), turn=0), ((swung(0.0), 0.9),)
    ),
    "hand-release push-up": Exercise(
        planked(),
        through(
            (planked(0.0), 0.4),
            (replace(planked(0.0), wrist=(0.26, 0.06)), 0.1),
            (planked(0.0), 0.1),
            (planked(), 0.4),
            turn=1,
        ),
        _GET_DOWN,
    ),
    "sit-up": Exercise(
        on_the_back(0.0),
        through((on_the_back(1.0), 0.5), (on_the_back(0.0), 0.5), turn=0),
        _ON_THE_BACK,
    ),
    "strict handstand push-up": Exercise(
        inverted(1.0), through((inverted(0.0), 0.5), (inverted(1.0), 0.5), turn=0), _ON_THE_HANDS
    ),
    "kipping handstand push-up": Exercise(
        inverted(1.0),
        through((inverted(0.0), 0.35), _KICK, (inverted(0.3), 0.15), (inverted(1.0), 0.35), turn=1),
        _ON_THE_HANDS,
    ),
    "toes-to-bar": Exercise(
        hanging(), through((feet_raised(), 0.5), (hanging(), 0.5), turn=0), _MOUNT
    ),
    "knees-to-elbows": Exercise(
        hanging(), through((knees_raised(), 0.5), (hanging(), 0.5), turn=0), _MOUNT
    ),
    "jumping pull-up": Exercise(
        under_the_bar(),
        through((under_the_bar(1.0), 0.5), (under_the_bar(), 0.5), turn=0),
        ((under_the_bar(), 0.7),),
    ),
    "ring dip": Exercise(
        supported(), through((supported(1.0), 0.5), (supported(), 0.5), turn=0), _ON_THE_RINGS
    ),
    "ring muscle-up": Exercise(
        hanging(), through((hanging(2.0), 0.5), (hanging(), 0.5), turn=0), _MOUNT
    ),
}  # fmt: skip
"""By the names of the shipped standards."""
