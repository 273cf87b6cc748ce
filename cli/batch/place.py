"""What a batch needs of the place where its films are audited: this machine, or a cluster."""

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from cli.audit.request import AuditRequest
from cli.batch.films import BatchFilm

FilmProgress = Callable[[BatchFilm, float], None]
"""Called with a film and the share of it that is done, from any thread."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one film ended: ``error`` is None where its results are in its folder."""

    film: BatchFilm
    error: str | None


class Place(Protocol):
    """Somewhere that audits films."""

    def __call__(
        self,
        films: Sequence[BatchFilm],
        template: AuditRequest,
        folder_of: Callable[[BatchFilm], Path],
        progress: FilmProgress,
    ) -> Generator[Outcome, None, None]:
        """Audit films, begun in the order given; outcomes come as films end.

        Parameters
        ----------
        films
            The films.
        template
            What is asked of each; ``film``, ``out`` and what a film says itself are replaced.
        folder_of
            Makes and gives the folder a film's results are written into.
        progress
            Told of headway.
        """
        ...
