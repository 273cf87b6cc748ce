"""What the user asks of one film."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from counting.objects.line import Target
from vision.film.limits import DEFAULT_LIMITS, FilmLimits
from vision.reader import TWO_NETWORKS

if TYPE_CHECKING:
    from counting.checks.tuning import TuningFile
    from counting.movements.types import Movement
    from counting.workout.types import Workout

Progress = Callable[[str, float, float], None]
"""Called with the stage's name, the seconds of film done and the seconds of film in all."""


def silent(stage: str, done_s: float, total_s: float) -> None:
    """Show no progress."""


@dataclass(frozen=True, slots=True)
class AuditRequest:
    """What the user asked of one film.

    Attributes
    ----------
    film
        The film.
    movement
        Name of the one movement in it, or None where ``workout`` says what is done.
    workout
        The workout file, or None.
    variant
        Name of the file's variant that is done, or None for the workout as it is written.
    standards
        The user's own movement standards, files or folders of them; each answers for the movement
        that it names.
    out
        Folder for the record, the tables and the landmark file.
    start_s
        Clock zero on the film's clock by hand, or None.
    end_s
        Where to stop looking, or None for the film's end.
    met_at_least, not_met_at_most
        Conformance probabilities of the decision rule.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width, or None.
    thorough
        Look at every frame.
    anyway
        Audit as ``movement`` even where the film looks like another.
    tuned
        File of what people's calls say of film errors, or None.
    model
        "full" or the path of a model bundle.
    reader
        Name of what reads the landmarks, one of `vision.reader.READERS`.
    workers
        Processes that look for the athlete; the result does not depend on it.
    limits
        The most the film may ask of the machine.
    second_views
        Further films of the same attempt.
    second_lane
        As ``lane``, in these.
    height_m
        How tall the athlete is, or None.
    target
        Where a thrown ball's target is in the film's first picture, or None.
    """

    film: Path
    movement: str | None
    workout: Path | None
    standards: tuple[Path, ...]
    out: Path
    start_s: float | None = None
    end_s: float | None = None
    met_at_least: float = 0.95
    not_met_at_most: float = 0.05
    lane: tuple[float, float] | None = None
    thorough: bool = False
    anyway: bool = False
    tuned: Path | None = None
    model: str = "full"
    reader: str = TWO_NETWORKS
    workers: int = 1
    limits: FilmLimits = DEFAULT_LIMITS
    second_views: tuple[Path, ...] = ()
    second_lane: tuple[float, float] | None = None
    height_m: float | None = None
    variant: str | None = None
    target: Target | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """What a request asks for, read from the files that it names.

    Attributes
    ----------
    movements
        By name, those that are or may be in the film.
    workout
        None where a single movement is asked for.
    tuned
        What people's calls taught, or None.
    barbell
        Whether one is in the film.
    """

    movements: "dict[str, Movement]"
    workout: "Workout | None"
    tuned: "TuningFile | None"
    barbell: bool
