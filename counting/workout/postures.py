"""What the athlete is doing at each moment, in a small vocabulary of postures.

Movements share postures (a thruster and a front squat have the same bottom) but each has its own
mixture of them; `counting.workout.alignment` weighs these mixtures against the workout's script.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Final, get_args

import numpy as np
from scipy import ndimage

from counting.movements.loader import built_in_movements
from counting.movements.types import Movement, PostureName
from counting.reps.measures import floor_of
from counting.signals.apparent import apparent_size
from counting.signals.types import Signals
from vision.track import BoolArray, FloatArray, IntArray, PoseTrack

RATE_HZ: Final = 10.0
"""Postures a second: a posture lasts several tenths of a second."""


class Posture(IntEnum):
    """Postures that can be told apart from any side of the camera."""

    UNSEEN = 0
    STANDING = 1
    HINGED = 2
    SQUAT_HANDS_LOW = 3
    SQUAT_HANDS_HIGH = 4
    HANDS_AT_SHOULDERS = 5
    HANDS_OVERHEAD_STILL = 6
    HANDS_GOING_OVERHEAD = 7
    PULLING = 8
    PULLING_TO_THE_CHEST = 9
    ABOVE_THE_BAR = 10
    PRONE = 11
    FEET_UP = 12
    INVERTED = 13

    @property
    def words(self) -> PostureName:
        """Its name in standards files."""
        return _NAMES[self]


_NAMES: Final[dict[Posture, PostureName]] = dict(
    zip(list(Posture)[1:], get_args(PostureName), strict=True)
)
_SEEN: Final = tuple(_NAMES)
_LEAST_LEFT: Final = 11.0
"""Hundredths that postures share of which nothing is said: now and then any is misread."""


# Heights in statures. Segments: trunk 0.288, leg 0.491, arm to the wrist 0.332 (Drillis and
# Contini 1966, in Winter 2009, fig. 4.1); the borders lie half-way between the postures.
_PRONE_TRUNK: Final = 0.15
_PRONE_HIP: Final = 0.22
"""Shoulders over hips, and hips over feet, below which somebody lies or is in a plank."""
_SQUAT_HIP: Final = 0.36
"""Hips over feet in a squat: a leg's length is 0.49."""
_HINGED_TRUNK: Final = 0.20
"""Shoulders over hips of a trunk that leans forward."""
_HANDS_HIGH: Final = 0.16
"""Hands over shoulders: half of an arm."""
_HANDS_OVER_A_SQUAT: Final = 0.26
"""Arms held out towards a camera stand higher in the picture than the shoulders."""
_HANDS_LOW: Final = -0.17
"""Hands over shoulders: they hang by half of an arm."""
_TO_THE_CHEST: Final = -0.01
"""Hands over shoulders at the top of a pull to the chest."""
_ABOVE_BAR: Final = -0.12
"""Hands over shoulders in support above a bar."""
_UPSIDE_DOWN: Final = -0.25
"""No posture of these movements: the track sits on something else."""
_HEAD_DOWN: Final = -0.12
"""Shoulders over hips of a body upside down."""
_FEET_NEAR_HANDS: Final = -0.5
"""Feet below the hands: in the hang they are a whole stature lower."""
_FEET_OVER_HIPS: Final = -0.03
"""Hips below the feet: whoever lies down with the arms stretched out has them level."""
_OFF_FLOOR: Final = 0.13
"""Shoulders over standing: a jump to the bar, or the hang."""
_FEET_OFF_FLOOR: Final = 0.35
"""Feet over their usual place: nobody stands there. Walking three metres away from a camera at
breast height moves them up by less, support above a bar out of reach by 0.8."""
_IN_SUPPORT: Final = 0.72
"""Over standing: the shoulders are 0.2 higher in the hang, 0.6 with the chest at the bar and 0.9
in support above it, for a bar that is just out of standing reach."""
_MOVING: Final = 0.07
"""Statures that hands or shoulders travel within `_WINDOW_S` when they move (no source)."""
_STILL_HANDS_SHARE: Final = 0.35
"""Of what the shoulders travel: hands that go less hold on to something (no source)."""
_WINDOW_S: Final = 1.5
"""Seconds in which hands and shoulders travel: half a slow pull-up (no source)."""
_STANDING_S: Final = 4.0
"""Seconds of standing that tell its level: longer than stooping up from a bar (no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class PostureTrack:
    """Postures on an even grid, all arrays (K,).

    ``posture`` holds numbers of `Posture`; ``across`` and ``level`` are where the feet are in the
    steadied picture, to the right and upwards, in statures, NaN where unseen.
    """

    time_s: FloatArray
    posture: IntArray
    across: FloatArray
    level: FloatArray


def postures_of(track: PoseTrack, signals: Signals, *, upside_down: bool = False) -> PostureTrack:
    """Name the posture ten times a second; feet up and inverted ones only where ``upside_down``.

    Uses only differences of heights within the body, measured in the athlete's apparent size at
    that time, and how far hands and shoulders travel within 1.5 s, because the athlete changes
    place, and with it size and level in the picture. Hands that stay while the shoulders travel,
    and were overhead, hold on to something fixed; in a squat with the arms rising forward they
    stay, too, but below the shoulders.
    """
    step = max(1, round(signals.rate_hz / RATE_HZ))
    window = max(3, round(_WINDOW_S * signals.rate_hz) | 1)
    size = apparent_size(track, signals)
    hip = (signals.hip - signals.ankle) / size
    trunk = (signals.shoulder - signals.hip) / size
    hands = (signals.wrist - signals.shoulder) / size
    travel_hands = travel(signals.wrist, window) / size
    travel_shoulders = travel(signals.shoulder, window) / size
    lowest_hands = -_largest(-hands, window)
    squat = hip < _SQUAT_HIP
    reached = _largest(hands, window) > np.where(squat, _HANDS_OVER_A_SQUAT, _HANDS_HIGH)
    came_from_hang = _largest(hands, 2 * window + 1) > _HANDS_HIGH
    held = (travel_hands < _STILL_HANDS_SHARE * travel_shoulders) & (travel_shoulders > _MOVING)

    posture = np.full(hip.shape, int(Posture.STANDING))
    rules: list[tuple[FloatArray | np.typing.NDArray[np.bool_], Posture]] = [
        ((trunk < _HINGED_TRUNK) & (hands < _HANDS_LOW), Posture.HINGED),
        ((np.abs(hands) < _HANDS_HIGH) & ~squat, Posture.HANDS_AT_SHOULDERS),
        (squat & (hands < _HANDS_LOW), Posture.SQUAT_HANDS_LOW),
        (squat & (hands >= _HANDS_LOW), Posture.SQUAT_HANDS_HIGH),
        ((hands > _HANDS_HIGH) & (travel_hands <= _MOVING), Posture.HANDS_OVERHEAD_STILL),
        ((hands > _HANDS_HIGH) & (travel_hands > _MOVING), Posture.HANDS_GOING_OVERHEAD),
        (held & reached & (hands > _ABOVE_BAR), Posture.PULLING),
        (
            held & reached & (hands > _ABOVE_BAR) & (lowest_hands < _TO_THE_CHEST),
            Posture.PULLING_TO_THE_CHEST,
        ),
        (held & came_from_hang & (hands <= _ABOVE_BAR), Posture.ABOVE_THE_BAR),
        ((trunk < _PRONE_TRUNK) & (hip < _PRONE_HIP), Posture.PRONE),
        (~(np.minimum(hip, trunk) > _UPSIDE_DOWN), Posture.UNSEEN),
        (~np.isfinite(hip + trunk + hands), Posture.UNSEEN),
    ]
    for mask, name in rules:
        posture[np.asarray(mask, dtype=bool)] = int(name)
    feet = (signals.ankle - floor_of(signals)) / size
    standing = (posture == int(Posture.STANDING)) & ~(feet > _FEET_OFF_FLOOR)
    raised = _raised(signals.shoulder, standing, signals.rate_hz) / size
    off_floor = (raised > _OFF_FLOOR) & (posture != int(Posture.PRONE))
    moving = travel_shoulders > _MOVING
    chest = lowest_hands < _TO_THE_CHEST
    posture[off_floor] = int(Posture.HANDS_OVERHEAD_STILL)
    posture[off_floor & moving] = int(Posture.PULLING)
    posture[off_floor & moving & chest] = int(Posture.PULLING_TO_THE_CHEST)
    posture[off_floor & (raised > _IN_SUPPORT)] = int(Posture.ABOVE_THE_BAR)
    if upside_down:
        near = (signals.ankle - signals.wrist) / size > _FEET_NEAR_HANDS
        posture[near & (hands > 0) & (hip < _FEET_OVER_HIPS)] = int(Posture.FEET_UP)
        posture[(trunk < _HEAD_DOWN) & (hip < 0)] = int(Posture.INVERTED)
    return PostureTrack(
        time_s=signals.time_s[::step],
        posture=posture[::step].astype(np.int64),
        across=signals.ankle_x[::step],
        level=signals.ankle[::step],
    )


def _raised(shoulder: FloatArray, standing: BoolArray, rate_hz: float) -> FloatArray:
    """(M,) how far the shoulders are above where they were when last or next standing.

    Standing tall, a high percentile of 4 s of standing, not the stooping on the way up from a bar;
    the higher of the two, so that a walk between them raises nobody; 0 where the athlete was never
    seen standing. It does not depend on the hands, which are lost most easily on a bar.
    """
    known = np.flatnonzero(standing & np.isfinite(shoulder))
    if not known.size:
        return np.zeros(shoulder.shape)
    size = max(3, round(_STANDING_S * rate_hz))
    level = ndimage.percentile_filter(shoulder[known], 90, size=size, mode="nearest")
    after = np.searchsorted(known, np.arange(shoulder.size))
    next_level = level[np.minimum(after, known.size - 1)]
    last_level = level[np.maximum(after - 1, 0)]
    raised: FloatArray = np.nan_to_num(shoulder - np.maximum(next_level, last_level))
    return raised


def travel(values: FloatArray, window: int) -> FloatArray:
    """Highest less lowest value within a centred window; 0 where nothing was seen."""
    return np.nan_to_num(_largest(values, window) + _largest(-values, window))


def _largest(values: FloatArray, window: int) -> FloatArray:
    known = np.where(np.isfinite(values), values, -np.inf)
    largest: FloatArray = ndimage.maximum_filter1d(known, window, mode="nearest")
    return np.where(np.isfinite(largest), largest, np.nan)


_P = Posture
BETWEEN: Final[dict[Posture, int]] = {
    _P.STANDING: 68, _P.HINGED: 5, _P.SQUAT_HANDS_LOW: 3, _P.SQUAT_HANDS_HIGH: 2,
    _P.HANDS_AT_SHOULDERS: 8, _P.HANDS_OVERHEAD_STILL: 4, _P.HANDS_GOING_OVERHEAD: 4,
    _P.ABOVE_THE_BAR: 1,
}  # fmt: skip
"""Between attempts: standing, walking, picking a bar up, jumping to a bar."""


def mixture_of(movement: Movement) -> dict[Posture, float]:
    """Hundredths of each posture in an attempt, by the movement's file; common practice, no source.

    What is not listed shares the rest; standing within a movement is the moment between reps. One
    whose file does not say is taken for the mean of its nearest relatives.
    """
    if movement.recognised is not None:
        listed = movement.recognised.postures
        return {
            posture: float(listed[posture.words]) for posture in _SEEN if posture.words in listed
        }
    told = [other for other in built_in_movements() if other.recognised is not None]
    base = "floor" if movement.base == "lying" else movement.base
    alike = [other for other in told if other.base == base] or told
    same_hands = [
        other for other in alike if other.cycle is not None and other.hands == movement.hands
    ]
    relatives = [mixture_of(other) for other in same_hands or alike]
    return {
        posture: sum(mixture.get(posture, 0.0) for mixture in relatives) / len(relatives)
        for posture in _SEEN
    }


def log_likelihoods(mixture: Mapping[Posture, float]) -> FloatArray:
    """(14,) natural logarithm of each posture's share; an unseen moment speaks for nothing."""
    listed = {posture: mixture.get(posture, 0) for posture in _SEEN}
    left = max(100 - sum(listed.values()), _LEAST_LEFT) / 100.0
    unlisted = left / len(_SEEN)
    shares = np.array([listed[posture] / 100.0 + unlisted for posture in _SEEN])
    logarithms: FloatArray = np.concatenate(([0.0], np.log(shares / shares.sum())))
    return logarithms
