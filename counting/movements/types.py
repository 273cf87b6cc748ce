"""Types of a movement standard: what a standards file may say."""

from typing import Final, Literal, get_args

import msgspec

Apparatus = Literal["none", "barbell", "pull-up bar"]
Base = Literal["standing", "hanging", "floor"]
Phase = Literal["start", "turn", "finish"]
Unit = Literal["cm", "deg"]

Driver = Literal[
    "hip height",
    "shoulder height",
    "wrist height",
    "wrists above standing shoulders",
    "wrists above shoulders",
    "shoulders above hands",
]
"""Signals that can drive a cycle, all in statures of the athlete.

The three heights are above the floor line; the last two are differences of heights.
"""

Hands = Literal["free", "at the shoulders", "overhead", "low"]
"""Where the hands have to be through the turn for a cycle to be this movement at all.

``at the shoulders`` tells a squat with the bar in the rack from lifting that bar off the floor.
"""

Quantity = Literal[
    "hip crease above knee top",
    "knee angle",
    "hip angle",
    "elbow angle",
    "chin above bar",
    "chest to bar gap",
    "shoulders above bar",
    "chest above floor",
    "feet clear of floor",
    "wrists above shoulders",
    "wrists above crown",
    "bar over mid-foot",
    "body straightness",
    "plates on floor",
]

QUANTITY_UNITS: Final[dict[Quantity, Unit]] = {
    name: "deg" if name.endswith("angle") or name == "body straightness" else "cm"
    for name in get_args(Quantity)
}
"""The one unit in which each quantity is read."""

QUANTITY_APPARATUS: Final[dict[Quantity, Apparatus]] = {
    "chin above bar": "pull-up bar",
    "chest to bar gap": "pull-up bar",
    "shoulders above bar": "pull-up bar",
    "bar over mid-foot": "barbell",
    "plates on floor": "barbell",
}
"""Quantities that mean something only with a piece of apparatus."""


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules: frozen, named, nothing unknown."""


class Cycle(_Part, frozen=True, kw_only=True):
    """How repetitions are cut out of the motion.

    Attributes
    ----------
    driver
        The signal that leaves its home level and comes back once a repetition.
    turn
        On which side of home the far end lies.
    then
        A second signal that makes its own swing after the turn and has to come home too before
        the repetition is over, e.g. the press of a thruster.
    hands
        Where the hands are at the turn.
    feet
        ``planted`` where the feet stay in place through a repetition (a step, then, is none);
        ``free`` where they move.
    smallest_swing
        Least travel of the driver, in statures, that is an attempt at all.
    smallest_share
        Least travel as a share of this athlete's usual one: below it a swing is a shuffle, or with
        a bar in the rack the dip of a push press, or on a bar a kip that led nowhere.
    still_share
        Of the still time between two repetitions, the share that belongs to the first: where one
        ends and the next begins is a convention, not a fact of the motion.
    """

    driver: Driver
    turn: Literal["low", "high"]
    then: Driver | None = None
    hands: Hands = "free"
    feet: Literal["planted", "free"] = "planted"
    smallest_swing: float = 0.055
    smallest_share: float = 0.25
    still_share: float = 1.0


class Check(_Part, frozen=True, kw_only=True):
    """One criterion: a quantity read in one phase, compared with a limit.

    ``read`` says which extreme of the quantity within the phase is judged.
    """

    name: str
    words: str
    quantity: Quantity
    phase: Phase
    read: Literal["lowest", "highest"]
    relation: Literal["at least", "at most"]
    limit: float
    unit: Unit


class Movement(_Part, frozen=True, kw_only=True):
    """A movement and its standard, as one standards file holds it."""

    name: str
    words: str
    apparatus: Apparatus
    base: Base
    cycle: Cycle
    checks: tuple[Check, ...]
