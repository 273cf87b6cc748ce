"""Readers: the pictures of a film with their times in, the athlete's track out.

Two are known by name. A third needs a function that fits `Reader` and a line in `READERS`.
"""

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

if TYPE_CHECKING:  # the names are asked for by the command line, which loads no library of pictures
    from vision.film.frames import Glance
    from vision.film.types import Film
    from vision.track import PoseTrack

Progress = Callable[[float, float], None]

TWO_NETWORKS: Final = "two-networks"
READERS: Final = {
    TWO_NETWORKS: "vision.athlete.extraction",
    "mediapipe": "vision.mediapipe_reader",
}
"""By name, the module whose ``extract`` is the reader; it is imported once it is asked for."""
READER_HELP: Final = f"What reads the landmarks: {' or '.join(READERS)}."


class ReaderError(ValueError):
    """A reader that is unknown, not installed, or asked for what it cannot do."""


class Reader(Protocol):
    """Reads the athlete's landmarks in the pictures of a film."""

    def __call__(
        self,
        film: "Film",
        *,
        model: str | Path = "full",
        lane: tuple[float, float] | None = None,
        start_s: float | None = None,
        end_s: float | None = None,
        thorough: bool = False,
        workers: int = 1,
        progress: Progress | None = None,
        glance: "Glance | None" = None,
    ) -> "PoseTrack":
        """Read a film.

        Parameters
        ----------
        film
            The film. `vision.film.frames.frames` gives its pictures with their times, as often as
            it is asked.
        model
            "full", or the path of a pose bundle.
        lane
            Left and right edge of the athlete's lane as shares of the picture's width.
        start_s, end_s
            Part of the film to look at; rows outside stay unobserved.
        thorough
            Read every frame.
        workers
            Threads; the result is the same for any number.
        progress
            Called with seconds of film done and to do.
        glance
            What is done with every picture, in order: the film need not be decoded once more.

        Returns
        -------
        PoseTrack
            One row a frame of the film; NaN where the athlete was not found.

        Raises
        ------
        FilmError, ModelError, ReaderError
            The film or a model cannot be used, or the reader cannot do what is asked.
        """


def reader_named(name: str) -> Reader:
    """Load a reader of `READERS`.

    Raises
    ------
    ReaderError
        There is none of that name.
    """
    if name not in READERS:
        raise ReaderError(f"no reader '{name}'; there are {' and '.join(READERS)}")
    reader: Reader = import_module(READERS[name]).extract
    return reader
