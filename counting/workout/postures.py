"""What the athlete is doing at each moment, in a small vocabulary of postures.

Movements share postures (a thruster and a front squat have the same bottom) but each has its own
mixture of them; `counting.workout.following` weighs these mixtures against the workout's script.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
from scipy import ndimage

from counting.movements.types import Movement
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


# Heights in statures. Segments: trunk 0.288, leg 0.491, arm to the wrist 0.332 (Drillis and
# Contini 1966, in Winter 2009, fig. 4.1); the borders lie half-way between the postures.
_PRONE_TRUNK: Final = 0.15
_PRONE_HIP: Final = 0.22
_SQUAT_HIP: Final = 0.36
_HINGED_TRUNK: Final = 0.20
_HANDS_HIGH: Final = 0.16
_HANDS_OVER_A_SQUAT: Final = 0.26
"""Arms held out towards a camera stand higher in the picture than the shoulders."""
_HANDS_LOW: Final = -0.17
_TO_THE_CHEST: Final = -0.01
_ABOVE_BAR: Final = -0.12
_UPSIDE_DOWN: Final = -0.25
"""No posture of these movements: the track sits on something else."""
_OFF_FLOOR: Final = 0.13
_FEET_OFF_FLOOR: Final = 0.35
"""Feet over their usual place: nobody stands there. Walking three metres away from a camera at
breast height moves them up by less, support above a bar out of reach by 0.8."""
_IN_SUPPORT: Final = 0.72
"""Over standing: the shoulders are 0.2 higher in the hang, 0.6 with the chest at the bar and 0.9
in support above it, for a bar that is just out of standing reach."""
_MOVING: Final = 0.07
_STILL_HANDS_SHARE: Final = 0.35
_WINDOW_S: Final = 1.5
_STANDING_S: Final = 4.0


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


def postures_of(track: PoseTrack, signals: Signals) -> PostureTrack:
    """Name the posture ten times a second.

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
    travel_hands = _travel(signals.wrist, window) / size
    travel_shoulders = _travel(signals.shoulder, window) / size
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
    standing = (posture == int(Posture.STANDING)) & ~(signals.ankle / size > _FEET_OFF_FLOOR)
    raised = _raised(signals.shoulder, standing, signals.rate_hz) / size
    off_floor = (raised > _OFF_FLOOR) & (posture != int(Posture.PRONE))
    moving = travel_shoulders > _MOVING
    chest = lowest_hands < _TO_THE_CHEST
    posture[off_floor] = int(Posture.HANDS_OVERHEAD_STILL)
    posture[off_floor & moving] = int(Posture.PULLING)
    posture[off_floor & moving & chest] = int(Posture.PULLING_TO_THE_CHEST)
    posture[off_floor & (raised > _IN_SUPPORT)] = int(Posture.ABOVE_THE_BAR)
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


def _travel(values: FloatArray, window: int) -> FloatArray:
    """Highest less lowest value within a centred window; 0 where nothing was seen."""
    return np.nan_to_num(_largest(values, window) + _largest(-values, window))


def _largest(values: FloatArray, window: int) -> FloatArray:
    known = np.where(np.isfinite(values), values, -np.inf)
    largest: FloatArray = ndimage.maximum_filter1d(known, window, mode="nearest")
    return np.where(np.isfinite(largest), largest, np.nan)


# How an attempt's time is spread over the postures, in hundredths: common practice, no source.
# What is not listed shares the rest. STANDING within a movement is the moment between reps.
_P = Posture
MIXTURES: Final[dict[str, dict[Posture, int]]] = {
    "air squat": {
        _P.STANDING: 26, _P.SQUAT_HANDS_HIGH: 28, _P.SQUAT_HANDS_LOW: 16,
        _P.HANDS_AT_SHOULDERS: 16, _P.HINGED: 6,
    },
    "front squat": {_P.HANDS_AT_SHOULDERS: 48, _P.SQUAT_HANDS_HIGH: 42, _P.STANDING: 2},
    "thruster": {
        _P.HANDS_AT_SHOULDERS: 30, _P.SQUAT_HANDS_HIGH: 28, _P.HANDS_GOING_OVERHEAD: 30,
        _P.HANDS_OVERHEAD_STILL: 4,
    },
    "strict press": {
        _P.HANDS_AT_SHOULDERS: 46, _P.HANDS_GOING_OVERHEAD: 38, _P.HANDS_OVERHEAD_STILL: 8,
    },
    "deadlift": {_P.STANDING: 34, _P.HINGED: 30, _P.SQUAT_HANDS_LOW: 26, _P.PRONE: 2},
    "pull-up": {
        _P.PULLING: 48, _P.PULLING_TO_THE_CHEST: 20, _P.HANDS_OVERHEAD_STILL: 20,
        _P.HANDS_GOING_OVERHEAD: 4, _P.HANDS_AT_SHOULDERS: 3,
    },
    "chest-to-bar pull-up": {
        _P.PULLING: 42, _P.PULLING_TO_THE_CHEST: 28, _P.HANDS_OVERHEAD_STILL: 16,
        _P.HANDS_GOING_OVERHEAD: 5, _P.HANDS_AT_SHOULDERS: 4,
    },
    "bar muscle-up": {
        _P.PULLING: 18, _P.PULLING_TO_THE_CHEST: 30, _P.ABOVE_THE_BAR: 28,
        _P.HANDS_OVERHEAD_STILL: 8, _P.HANDS_GOING_OVERHEAD: 3, _P.HANDS_AT_SHOULDERS: 5,
    },
    "push-up": {_P.PRONE: 92},
    "burpee": {
        _P.PRONE: 42, _P.STANDING: 20, _P.SQUAT_HANDS_LOW: 12, _P.HINGED: 10,
        _P.HANDS_AT_SHOULDERS: 4, _P.HANDS_GOING_OVERHEAD: 5, _P.SQUAT_HANDS_HIGH: 3,
    },
}  # fmt: skip
"""Share of each posture in an attempt, movement by movement."""

BETWEEN: Final[dict[Posture, int]] = {
    _P.STANDING: 68, _P.HINGED: 5, _P.SQUAT_HANDS_LOW: 3, _P.SQUAT_HANDS_HIGH: 2,
    _P.HANDS_AT_SHOULDERS: 8, _P.HANDS_OVERHEAD_STILL: 4, _P.HANDS_GOING_OVERHEAD: 4,
    _P.ABOVE_THE_BAR: 1,
}  # fmt: skip
"""Between attempts: standing, walking, picking a bar up, jumping to a bar."""


def mixture_of(movement: Movement) -> Mapping[Posture, int]:
    """Give the mixture of a movement; of one that is not listed, that of its nearest relative."""
    if movement.name in MIXTURES:
        return MIXTURES[movement.name]
    if movement.base == "hanging":
        return MIXTURES["pull-up"]
    if movement.base == "floor":
        return MIXTURES["push-up"]
    by_hands = {
        "free": "air squat",
        "at the shoulders": "front squat",
        "overhead": "strict press",
        "low": "deadlift",
    }
    return MIXTURES[by_hands[movement.cycle.hands]]


def log_likelihoods(mixture: Mapping[Posture, int]) -> FloatArray:
    """(12,) natural logarithm of each posture's share; an unseen moment speaks for nothing."""
    seen = [posture for posture in Posture if posture is not Posture.UNSEEN]
    listed = {posture: mixture.get(posture, 0) for posture in seen}
    left = max(100 - sum(listed.values()), len(seen)) / 100.0
    unlisted = left / len(seen)
    shares = np.array([listed[posture] / 100.0 + unlisted for posture in seen])
    logarithms: FloatArray = np.concatenate(([0.0], np.log(shares / shares.sum())))
    return logarithms
