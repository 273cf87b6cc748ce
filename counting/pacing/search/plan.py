"""A way of breaking a workout up: sets, rests and effort for each station."""

from dataclasses import dataclass
from typing import Final

from counting.pacing.search.course import Course

FULL_EFFORT: Final = 1.0
"""As fast as the athlete can; slower efforts are shares of it."""


@dataclass(frozen=True)
class Stint:
    """How one station is done.

    ``sets`` are its set sizes in order; ``rests_s``, one fewer, the rests between them, from
    letting go to the next rep; ``rest_before_s`` is waited before the first rep beside the
    usual transition; ``effort`` is the share of full pace.
    """

    sets: tuple[int, ...]
    rests_s: tuple[float, ...]
    rest_before_s: float = 0.0
    effort: float = FULL_EFFORT

    def __post_init__(self) -> None:
        """Refuse sets and rests that do not go together."""
        if len(self.rests_s) != len(self.sets) - 1 or min(self.sets, default=0) < 1:
            raise ValueError(f"{len(self.sets)} sets need {len(self.sets) - 1} rests between them")

    @property
    def reps(self) -> int:
        """Reps of all sets."""
        return sum(self.sets)


Plan = tuple[Stint, ...]
"""One stint for each station of a course."""


def even_sets(reps: int, sets: int) -> tuple[int, ...]:
    """Split reps into sets as equal as whole reps allow, larger ones first."""
    size, more = divmod(reps, sets)
    return (size + 1,) * more + (size,) * (sets - more)


def uniform_plan(
    course: Course, sizes: dict[str, tuple[int, ...]], rest_s: float, effort: float = FULL_EFFORT
) -> Plan:
    """Do every station of a movement alike.

    ``sizes`` gives the sets of a movement, repeated or cut to the station's reps; a movement
    without an entry goes unbroken.
    """
    stints = []
    for station in course.stations:
        if station.timed_s is not None:
            stints.append(Stint((1,), ()))
            continue
        sets = fitted_sets(sizes.get(station.movement, (station.reps,)), station.reps)
        stints.append(Stint(sets, (rest_s,) * (len(sets) - 1), 0.0, effort))
    return tuple(stints)


def fitted_sets(sizes: tuple[int, ...], reps: int) -> tuple[int, ...]:
    """Repeat or cut set sizes so that they make up the reps."""
    sets: list[int] = []
    while sum(sets) < reps:
        size = sizes[len(sets) % len(sizes)]
        sets.append(min(size, reps - sum(sets)))
    return tuple(sets)


def set_words(sets: tuple[int, ...]) -> str:
    """Write sets for a reader: ``6+4``, ``unbroken 10``, ``10 singles``, ``8 x 3``."""
    if len(sets) == 1:
        return f"{sets[0]} unbroken" if sets[0] > 1 else "1"
    if set(sets) == {1}:
        return f"{len(sets)} singles"
    if len(sets) <= 4:
        return "+".join(str(size) for size in sets)
    runs: list[list[int]] = []
    for size in sets:
        if runs and runs[-1][1] == size:
            runs[-1][0] += 1
        else:
            runs.append([1, size])
    return " + ".join(f"{count} × {size}" if count > 1 else f"{size}" for count, size in runs)


def plural(movement: str, reps: int = 2) -> str:
    """Name a movement for a number of reps: ``1 thruster``, ``9 strict presses``.

    What says where or how a movement goes stays as it is, ``9 burpees over the bar``; so do names
    such as ``toes-to-bar``, and work without reps, ``500 m row``.
    """
    words = movement.split(" ")
    if reps == 1 or movement[0].isdigit() or "-to-" in words[-1]:
        return movement
    head = next((i for i, word in enumerate(words) if i and word in _WHERE), len(words)) - 1
    words[head] += "es" if words[head].endswith(("s", "ch", "sh", "x")) else "s"
    return " ".join(words)


_WHERE: Final = ("over", "overhead", "to")
