"""From where the athlete started, against what the workout asks."""

from collections import Counter
from typing import Final

import numpy as np

from counting.workout.alignment import Following
from counting.workout.postures import Posture
from counting.workout.record import FlagPart
from counting.workout.types import StartPlace

MOMENT_S: Final = 0.6
"""To either side of the clock's zero, within which the start is looked at (chosen, not
measured)."""
SAME_PLACE_STATURES: Final = 0.25
"""Across the picture: about 45 cm, half a step to either side."""

SAME_LEVEL_STATURES: Final = 0.08
"""Feet nearer to the camera stand lower in the picture."""

HANGING: Final = frozenset(
    {
        Posture.HANDS_OVERHEAD_STILL,
        Posture.PULLING,
        Posture.PULLING_TO_THE_CHEST,
        Posture.ABOVE_THE_BAR,
    }
)
FITTING: Final[dict[StartPlace, frozenset[Posture]]] = {
    "standing": frozenset({Posture.STANDING}),
    "standing under the bar": frozenset({Posture.STANDING}),
    "hanging from the bar": HANGING,
    "lying on the floor": frozenset({Posture.PRONE}),
}


def start_flag(following: Following, asked: StartPlace, zero_s: float) -> FlagPart | None:
    """Flag a start from elsewhere than asked; None where it fits or cannot be seen."""
    if asked == "anywhere":
        return None
    postures = following.postures
    near = np.abs(postures.time_s - zero_s) <= MOMENT_S
    seen = Counter(Posture(int(p)) for p in postures.posture[near] if int(p) != int(Posture.UNSEEN))
    if not seen:
        return None
    usual = seen.most_common(1)[0][0]
    if usual not in FITTING[asked]:
        was = usual.name.lower().replace("_", " ")
        words = f"must start {asked}, but was seen {was}"
        return FlagPart(kind="wrong start", at_s=zero_s, words=words)
    if asked == "standing under the bar" and not _under_the_bar(following, near):
        words = "must start standing under the bar, but stood elsewhere"
        return FlagPart(kind="wrong start", at_s=zero_s, words=words)
    return None


def _under_the_bar(following: Following, near: "np.typing.NDArray[np.bool_]") -> bool:
    """Whether the feet are where they are before the athlete takes the bar; True if unknown."""
    postures = following.postures
    on_bar = [
        stretch for stretch in following.stretches if stretch.movement in following.on_the_bar
    ]
    known = np.isfinite(postures.across) & np.isfinite(postures.level)
    standing = (postures.posture == int(Posture.STANDING)) & known
    here = near & known
    for stretch in on_bar:
        before = np.flatnonzero(standing & (postures.time_s < stretch.start_s))
        if not before.size or not here.any():
            continue
        place = before[-1]
        across = np.median(postures.across[here]) - postures.across[place]
        level = np.median(postures.level[here]) - postures.level[place]
        return bool(abs(across) <= SAME_PLACE_STATURES and abs(level) <= SAME_LEVEL_STATURES)
    return True
