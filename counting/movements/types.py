"""Types of a movement standard: what a standards file may say."""

import re
from typing import Final, Literal, get_args

import msgspec

Apparatus = Literal["none", "barbell", "pull-up bar"]
Base = Literal["standing", "hanging", "floor", "supported", "lying", "inverted"]
"""What holds the athlete: the feet, hands on a pull-up bar, hands and toes, hands beside the hips
(rings, dip bars), the back, or the hands of a body upside down."""

Part = Literal["start", "drive", "turn", "finish"]
"""Where in a repetition something is asked: the ``drive`` leads from its start to its turn."""
PART_WORDS: Final[dict[str, str]] = {
    "start": "at the start",
    "drive": "on the way to the turn",
    "turn": "at the turn",
    "finish": "at the end",
}
"""When that is, in words."""

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

The three heights are above the floor line; the others are differences of heights.
"""

Measure = Literal[
    "hips above feet",
    "hips above hands",
    "shoulders above hips",
    "shoulders above feet",
    "shoulders above hands",
    "head above hands",
    "hands above shoulders",
    "hands above hips",
    "hands above feet",
    "higher hand above shoulders",
    "higher hand above hips",
    "higher hand above feet",
    "hands above hang",
    "higher hand above lower hand",
    "hands apart",
    "feet above hips",
    "feet above hands",
    "higher foot above lower foot",
    "feet apart",
    "knees above hips",
    "knees above elbows",
    "lower knee above feet",
    "hips above floor",
    "shoulders above floor",
    "feet above floor",
    "body above its level",
]
"""What can be said of body and hands in a phase: a height over another, in statures; or how far
hands or feet are apart along the picture, so for films from the side.

The floor is where the feet are in the picture when they are low, the hang where the hands are when
they are high above the shoulders: hands that stay there hold on to something. The body's level is
its usual height in the two seconds around: 0.01 above it is a hop.
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
    "feet to bar gap",
    "knees above elbows",
    "knee above floor",
    "head above floor",
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
    "feet to bar gap": "pull-up bar",
    "bar over mid-foot": "barbell",
    "plates on floor": "barbell",
}
"""Quantities that mean something only with a piece of apparatus."""

ObjectName = Literal["ball", "box", "rope"]
ObjectQuantity = Literal["ball above target", "feet above box", "rope passes"]
"""What can be asked of an object: how high a thrown ball's middle comes over the target, how high
the lower foot is over the box's top when the athlete stands on it, how often the rope is heard on
the floor while the feet are off it."""

ObjectUnit = Literal["cm", "passes"]
OBJECTS: Final[dict[ObjectQuantity, tuple[ObjectName, ObjectUnit]]] = {
    "ball above target": ("ball", "cm"),
    "feet above box": ("box", "cm"),
    "rope passes": ("rope", "passes"),
}
"""The object that each quantity is read from, and its unit."""

SideSign = Literal["higher hand", "lower knee"]
"""The side of a repetition is that of the hand that is higher at its turn, or the knee that is
lower."""

PostureName = Literal[
    "standing",
    "hinged",
    "squat, hands low",
    "squat, hands high",
    "hands at shoulders",
    "hands overhead, still",
    "hands going overhead",
    "pulling",
    "pulling to the chest",
    "above the bar",
    "prone",
    "feet up",
    "inverted",
]
"""Postures that tell one movement from another; `counting.workout.postures` reads them."""


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules: frozen, named, nothing unknown."""


class Cycle(_Part, frozen=True, kw_only=True):
    """How repetitions are cut out of the motion where they are swings of one signal.

    Attributes
    ----------
    driver
        The signal that leaves its start level and comes back once a repetition.
    turn
        On which side of the start position the far end lies.
    then
        A second signal that makes its own swing after the turn and has to come back too before
        the repetition is over, e.g. the press of a thruster.
    hands
        Where the hands are at the turn.
    feet
        ``planted`` where the feet stay in place through a repetition (a step, then, is none);
        ``free`` where they move.
    smallest_swing
        Least travel of the driver, in statures, that is an attempt at all.
    smallest_share
        Least travel as a share of this athlete's usual one: below it a swing is a shuffle, or on a
        bar a kip that led nowhere.
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


class Range(_Part, frozen=True, kw_only=True):
    """A measure's range in statures; a side that is None is open."""

    above: float | None = None
    below: float | None = None


class Phase(_Part, frozen=True, kw_only=True):
    """One posture on the way through a repetition.

    Attributes
    ----------
    name, words
        What it is called, and what is true in it, in words.
    where
        What is true of body and hands: a range for each of some measures. It says what an attempt
        at the phase looks like, so it is generous.
    reach
        How far the attempt has to go, by measures of ``where``: one that surely falls short of it
        is no repetition.
    part
        As which part of a repetition the phase's checks are read. The phase that is the ``turn``
        gives the repetition its turning time.
    usual_s
        How long it usually lasts; the athlete's own rhythm overrules it.
    """

    name: str
    words: str
    where: dict[Measure, Range]
    reach: dict[Measure, Range] = {}
    part: Part | None = None
    usual_s: float = 0.5


class Sides(_Part, frozen=True, kw_only=True):
    """A movement that one side does at a time.

    Attributes
    ----------
    done
        ``alternating``: the other side each time; ``each``: as many on either side, in any order;
        ``either``: whichever the athlete likes.
    told_by
        What tells the side at the turn.
    """

    done: Literal["alternating", "each", "either"]
    told_by: SideSign


class Check(_Part, frozen=True, kw_only=True):
    """One criterion: a quantity read in one phase, compared with a limit.

    ``phase`` is the start, turn or finish of the repetition or the name of one of the movement's
    phases; ``read`` says which extreme of the quantity within it is judged.
    """

    name: str
    words: str
    quantity: Quantity
    phase: str
    read: Literal["lowest", "highest"]
    relation: Literal["at least", "at most"]
    limit: float
    unit: Unit


class ObjectCheck(_Part, frozen=True, kw_only=True):
    """One criterion that an object beside the body decides: the ball, the box, the rope.

    A repetition without a reading of it is never a no-rep for that, and never good.
    """

    name: str
    words: str
    quantity: ObjectQuantity
    relation: Literal["at least", "at most"]
    limit: float
    unit: ObjectUnit

    @property
    def object(self) -> ObjectName:
        """What has to be seen or heard."""
        return OBJECTS[self.quantity][0]


class Recognised(_Part, frozen=True, kw_only=True):
    """How a movement is told from others in a workout.

    Attributes
    ----------
    postures
        How an attempt's time is spread over the postures, in hundredths; what is not listed shares
        the rest.
    falls_short_as
        Movements that an attempt looks like that falls short of this one: a no-rep, not another
        movement.
    off_script
        Whether it is looked for where a workout does not ask for it: only what labelled films show
        to be told apart.
    """

    postures: dict[PostureName, int]
    falls_short_as: tuple[str, ...] = ()
    off_script: bool = False


class Load(_Part, frozen=True, kw_only=True):
    """What a repetition draws on; ``counting/pacing/model/loads.toml`` tells units and meaning."""

    main: str
    loads: dict[str, float]
    demand: float
    spread: float
    cycle_s: float
    break_s: float
    intensity: float
    usual_kg: float | None = None


def slug(name: str) -> str:
    """Turn a movement's name into its file name: lower case, everything else an underscore.

    Case, spaces, hyphens and underscores therefore do not matter when a movement is looked up.
    """
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


class Movement(_Part, frozen=True, kw_only=True):
    """A movement and its standard, as one standards file holds it.

    Attributes
    ----------
    source
        Where the wording comes from.
    cycle, phases
        How repetitions are found: as swings of one signal, or as a sequence of phases that begins
        with the start position. One of the two.
    sides
        Which side does it where one does at a time; None where both do the same.
    checks
        Criteria; a movement without any is only counted.
    objects
        Criteria that an object decides, judged where it is found.
    by_eye
        What the standard asks beyond what a film of the body shows: for somebody beside the
        athlete to see.
    recognised
        How it is told from others in a workout.
    load
        What it draws on, for a plan.
    labels
        Short names of the movement in label files.
    filming
        What to mind when filming it.
    """

    name: str
    words: str
    apparatus: Apparatus
    base: Base
    source: str = "common practice, no source"
    cycle: Cycle | None = None
    phases: tuple[Phase, ...] = ()
    sides: Sides | None = None
    checks: tuple[Check, ...]
    objects: tuple[ObjectCheck, ...] = ()
    by_eye: tuple[str, ...] = ()
    recognised: Recognised | None = None
    load: Load | None = None
    labels: tuple[str, ...] = ()
    filming: str = ""

    @property
    def slug(self) -> str:
        """What it is looked up by, and the name of its file."""
        return slug(self.name)

    @property
    def swing(self) -> Cycle:
        """The cycle of a movement that has one; one of phases is found without.

        Raises
        ------
        ValueError
            The movement has phases.
        """
        if self.cycle is None:
            raise ValueError(f"{self.name} is found by its phases, not by a cycle")
        return self.cycle

    @property
    def turn(self) -> int:
        """Which phase a repetition turns in: the one that says so, else the second."""
        return next((k for k, p in enumerate(self.phases) if p.part == "turn"), 1)

    @property
    def upside_down(self) -> bool:
        """Whether its phases may turn the body upside down, or its feet up to its hands."""
        return bool(self.phases) and self.base in ("hanging", "inverted")

    @property
    def driver_name(self) -> str:
        """The signal that repetitions are drawn with."""
        if self.cycle is not None:
            return self.cycle.driver
        return next(iter(self.phases[self.turn].where))

    @property
    def still_share(self) -> float:
        """Share of the still time between two repetitions that belongs to the first."""
        return self.cycle.still_share if self.cycle is not None else 0.5

    @property
    def hands(self) -> Hands:
        """Where the hands are at the turn of a cycle."""
        return self.cycle.hands if self.cycle is not None else "free"

    def part_of(self, check: Check) -> Part | None:
        """As which part of a repetition a check is read; None for a phase that is like none."""
        for phase in self.phases:
            if phase.name == check.phase:
                return phase.part
        return check.phase if check.phase in get_args(Part) else None  # type: ignore[return-value]

    def as_read(self, check: Check) -> Check | None:
        """Give a check with the part of a repetition it is read in as its phase; None likewise."""
        part = self.part_of(check)
        return None if part is None else msgspec.structs.replace(check, phase=part)
