"""What is known of a body without looking: constant limbs, contacts, the network's guess of depth.

Each residual comes with its derivatives; arrays hold frames along their last axis.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np

from counting.body.evidence import Base
from counting.body.skeleton import (
    FREE_WIDTH_OF,
    JOINT_COUNT,
    LIMBS,
    SHARED_WIDTH_OF,
    SHIFT,
    FloatArray,
    G,
    J,
    Proportions,
    limb_lengths,
)

DEPTH_JOINTS: Final = ("shoulder", "elbow", "wrist", "knee", "ankle")
_LENGTH_ERROR_M: Final = 0.01
_SOFT_LENGTH_ERROR_M: Final = 0.03
_SOFT_LIMBS: Final = frozenset({("hip", "shoulder"), ("shoulder", "ear"), ("ear", "nose")})
"""By how much a limb's length may differ from frame to frame, standard deviations; the soft ones
bend (chosen, not measured)."""
_DEPTH_ERROR_M: Final = 0.12
"""Standard error of how far ahead of the hips the network guesses a joint: wide, so that pictures
overrule it (chosen, not measured)."""
_TAIL: Final = 4.0
"""Square of the distance, in standard errors, at which a contact counts half: feet do leave the
floor (chosen, not measured)."""


class Row(NamedTuple):
    """One residual of each frame, (N,), and its slopes with frame and shared unknowns.

    With long ``tails`` it costs no more than the logarithm of its square far out.
    """

    miss: FloatArray
    by_frame: Sequence[tuple[int, FloatArray]]
    by_shared: Sequence[tuple[int, FloatArray]] = ()
    tails: bool = False

    def cost(self) -> FloatArray:
        """(N,) what the residual costs."""
        square: FloatArray = self.miss**2
        return _TAIL * np.log1p(square / _TAIL) if self.tails else square

    def weight(self) -> FloatArray:
        """(N,) cost over square, as its slope has it: 1 but in the tails."""
        return 1 / (1 + self.miss**2 / _TAIL) if self.tails else np.ones_like(self.miss)


def length_rows(
    frames: FloatArray, shared: FloatArray, widths: FloatArray, proportions: Proportions
) -> Iterator[Row]:
    """Limbs keep their length; trunk, neck and face are soft and seen from the side only."""
    lengths = limb_lengths(shared, proportions)
    place = frames[: 2 * JOINT_COUNT].reshape(JOINT_COUNT, 2, -1)
    for index, (one, other) in enumerate(LIMBS):
        a, b = J[one], J[other]
        flat = (one, other) in _SOFT_LIMBS
        error = _SOFT_LENGTH_ERROR_M if flat else _LENGTH_ERROR_M
        step = place[b] - place[a]
        across = np.zeros(frames.shape[1]) if flat else widths[b] - widths[a]
        length = np.sqrt(step[0] ** 2 + step[1] ** 2 + across**2 + 1e-9)
        ahead, up, aside = (part / (length * error) for part in (step[0], step[1], across))
        by_frame = [(2 * a, -ahead), (2 * b, ahead), (2 * a + 1, -up), (2 * b + 1, up)]
        by_shared = [(G[f"limb {one}-{other}"], -lengths[index] / error)]
        if not flat:
            by_frame += _free_widths(a, b, aside)
            by_shared += _shared_widths(a, b, aside, widths)
        yield Row((length - lengths[index]) / error, by_frame, by_shared)


def _free_widths(a: int, b: int, aside: FloatArray) -> list[tuple[int, FloatArray]]:
    one, other = FREE_WIDTH_OF.get(a), FREE_WIDTH_OF.get(b)
    if one == other:
        return []
    ends = ((one, -aside), (other, aside))
    return [(width, slope) for width, slope in ends if width is not None]


def _shared_widths(
    a: int, b: int, aside: FloatArray, widths: FloatArray
) -> list[tuple[int, FloatArray]]:
    ends = ((a, -aside), (b, aside))
    return [
        (SHARED_WIDTH_OF[joint], slope if joint == J["toe"] else slope * widths[joint])
        for joint, slope in ends
        if joint in SHARED_WIDTH_OF
    ]


def contact_rows(
    frames: FloatArray, shared: FloatArray, base: Base, proportions: Proportions
) -> Iterator[Row]:
    """Feet, hands or toes stay where the base holds them; nobody wanders far to the side."""

    def near(unknown: int, where: FloatArray | float, error: float, bar: str | None = None) -> Row:
        slope = np.full(frames.shape[1], 1 / error)
        tied = [] if bar is None else [(G[bar], -slope)]
        return Row((frames[unknown] - where) / error, [(unknown, slope)], tied)

    def loosely(joint: str, up_m: FloatArray | float, error: float) -> Row:
        unknown = 2 * J[joint] + 1
        slope = np.full(frames.shape[1], 1 / error)
        return Row((frames[unknown] - up_m) / error, [(unknown, slope)], tails=True)

    if base == "hanging":
        yield near(2 * J["wrist"], shared[G["bar forward"]], 0.06, "bar forward")
        yield near(2 * J["wrist"] + 1, shared[G["bar up"]], 0.06, "bar up")
    elif base == "floor":
        yield loosely("toe", 0.02, 0.03)
        yield loosely("wrist", 0.04, 0.03)
    else:
        yield loosely("toe", 0.02, 0.015)
        stature_m = np.exp(shared[G["log_stature"]])
        yield loosely("ankle", proportions.ankle_height * stature_m, 0.015)
        yield loosely("heel", 0.025, 0.015)
        yield near(2 * J["ankle"], 0.0, 0.3)
    yield near(SHIFT, 0.0, 0.3)


def depth_rows(frames: FloatArray, shared: FloatArray, offset_m: FloatArray) -> Iterator[Row]:
    """How far joints are ahead of the hips by the network's metric guess, (2, joints, N).

    ``offset_m`` holds the guess in the camera's axes, right and away, NaN where there is none.
    """
    sin, cos = np.sin(shared[G["yaw"]]), np.cos(shared[G["yaw"]])
    for joint, (right, away) in zip(DEPTH_JOINTS, offset_m.transpose(1, 0, 2), strict=True):
        known = np.isfinite(right)
        right, away = np.where(known, right, 0.0), np.where(known, away, 0.0)
        slope = known / _DEPTH_ERROR_M
        ahead = frames[2 * J[joint]] - frames[2 * J["hip"]] - right * sin + away * cos
        yield Row(
            ahead * slope,
            [(2 * J[joint], slope), (2 * J["hip"], -slope)],
            [(G["yaw"], -(right * cos + away * sin) * slope)],
        )
