"""How far a batch is and when it will end, on a terminal's standard error."""

import threading
from collections.abc import Iterable, Sequence
from types import TracebackType
from typing import Self

from rich.progress import (
    BarColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
    track,
)

from cli.batch.films import BatchFilm
from cli.tables import audit_console
from cli.wording import shown

_RATE_OVER_S = 600.0
"""Seconds of work over which the speed is averaged that tells the time left."""


def each_looked_up(films: Sequence[BatchFilm]) -> Iterable[BatchFilm]:
    """Give one film after another while what earlier runs have done is looked up."""
    console = audit_console(stderr=True)
    return track(
        films,
        "looking for what is done",
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )


class Headway:
    """Progress of a batch, weighed by the size of its films; silent where there is no terminal.

    Parameters
    ----------
    films
        All films of the batch.
    done
        Those that an earlier run has finished.
    """

    def __init__(self, films: Sequence[BatchFilm], done: Sequence[BatchFilm]) -> None:
        console = audit_console(stderr=True)
        self._lock = threading.Lock()
        self._count = len(films)
        self._ended = len(done)
        self._failed = 0
        self._shares: dict[str, tuple[BatchFilm, float]] = {}
        self._ended_weight = sum(map(_weight, done))
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.percentage:>3.0f} %"),
            TimeElapsedColumn(),
            TextColumn("left"),
            TimeRemainingColumn(),
            console=console,
            transient=True,
            disable=not console.is_terminal,
            speed_estimate_period=_RATE_OVER_S,
        )
        self._task = self._bar.add_task(
            self._words(), total=sum(map(_weight, films)), completed=self._ended_weight
        )

    def __enter__(self) -> Self:
        self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._bar.stop()

    def told(self, film: BatchFilm, share: float) -> None:
        """Take note how much of a film is done, 0 to 1; safe from any thread."""
        with self._lock:
            self._shares[film.name] = (film, share)
            self._show()

    def ended(self, film: BatchFilm, error: str | None) -> None:
        """Take note that a film has ended, with an error or None."""
        with self._lock:
            self._shares.pop(film.name, None)
            self._ended_weight += _weight(film)
            self._ended += 1
            self._failed += error is not None
            self._show()
            if error is not None and not self._bar.disable:
                self._bar.console.print(f"failed: {shown(film.name)}: {error}")

    @property
    def share(self) -> float:
        """How much of the batch is done, 0 to 1, by size."""
        task = self._bar.tasks[0]
        return task.completed / task.total if task.total else 1.0

    def _show(self) -> None:
        running = sum(_weight(film) * share for film, share in self._shares.values())
        self._bar.update(
            self._task, completed=self._ended_weight + running, description=self._words()
        )

    def _words(self) -> str:
        failed = f", {self._failed} failed" if self._failed else ""
        return f"{self._ended} of {self._count} films{failed}"


def _weight(film: BatchFilm) -> int:
    return max(1, film.size_bytes)
