"""What a campaign has tried and found, which part of it is run, and how long it will take."""

import time
from dataclasses import dataclass, field
from typing import Self

TELL_EVERY_S = 20.0


@dataclass
class Tally:
    """What was tried and what went wrong."""

    inputs: int = 0
    faults: int = 0
    kills: int = 0
    crashes: list[str] = field(default_factory=list)
    hangs: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "none")

    def note_time(self, took_s: float, name: str) -> None:
        """Keep the input that took the most processor time."""
        self.slowest = max(self.slowest, (took_s, name))

    @property
    def problems(self) -> list[str]:
        """Everything that went wrong."""
        return [*self.crashes, *self.hangs, *self.wrong, *self.lost]


@dataclass(frozen=True)
class Part:
    """One of several parts that together are the whole, evenly spread; the first is 1.

    ``after`` is how many of the whole are left out, from the first one on.
    """

    number: int
    of: int
    after: int = 0

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read ``2/20``."""
        number, _, of = text.partition("/")
        part = cls(int(number), int(of))
        if not 1 <= part.number <= part.of:
            raise ValueError(text)
        return part

    def takes(self, index: int) -> bool:
        """Whether the thing of that number, from 0 on, belongs to this part."""
        return index >= self.after and index % self.of == self.number - 1

    def of_all(self, count: int) -> list[int]:
        """Numbers, from 0 on, of the things that belong to this part."""
        return [index for index in range(count) if self.takes(index)]


class Headway:
    """Prints each problem at once, now and then how far a class is and how long it will take."""

    def __init__(self, what: str, count: int, part: Part) -> None:
        self._what, self._count = what, len(part.of_all(count))
        self._done = self._problems = 0
        self._started_s = self._told_s = time.monotonic()

    def step(self, tally: Tally) -> None:
        """One more is done."""
        self._done += 1
        problems = tally.problems
        if len(problems) > self._problems:
            print(*problems[self._problems :], sep="\n", flush=True)
        self._problems = len(problems)
        now_s = time.monotonic()
        if now_s - self._told_s < TELL_EVERY_S and self._done < self._count:
            return
        self._told_s = now_s
        left_s = (now_s - self._started_s) * (self._count - self._done) / self._done
        print(
            f"{self._done} of {self._count} {self._what}, {len(problems)} problems, "
            f"{left_s / 60:.0f} min to go",
            flush=True,
        )
