"""Reading the same reps in one film or several.

Each film is read alone, as if it were the only one. Where two show the body at once, it is fitted
to both, too. What they say of a check is put together in `counting.checks.together`; a film that
stops, is cut or loses the athlete has no say in the reps it does not show.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from counting.body.kept import KeptFits
from counting.body.motion import BodyFitError, BodyMotion
from counting.body.sides import settled_sides
from counting.body.views import view_at
from counting.checks.errors import Readings, readings_of
from counting.checks.phases import Stay
from counting.checks.reading import FilmReading, read_film
from counting.checks.table import Calibration
from counting.checks.together import FilmsTable, fitted_readings, packaged_films_table, together
from counting.movements.types import Movement
from counting.reps.types import Rep
from vision.synchrony.types import ClockFit
from vision.track import PoseTrack


@dataclass(frozen=True, slots=True, eq=False)
class OtherFilm:
    """A further film of the same reps: its landmarks, and its clock on that of the first."""

    track: PoseTrack
    clock: ClockFit


@dataclass(frozen=True, slots=True, eq=False)
class FilmsReading:
    """What was read of the reps of one movement in all films.

    Attributes
    ----------
    alone
        The first film's reading and the further ones', None where hardly anything was seen.
    fitted
        What one body fitted to the first film and each further one shows; None likewise.
    clocks
        Of the further films.
    base
        What holds the athlete.
    """

    alone: tuple[FilmReading | None, ...]
    fitted: tuple[FilmReading | None, ...] = ()
    clocks: tuple[ClockFit, ...] = ()
    base: str = ""

    @property
    def motion(self) -> BodyMotion:
        """Body and camera of the first film that shows the athlete."""
        return next(reading.motion for reading in self.alone if reading is not None)

    @property
    def views_deg(self) -> tuple[float, ...]:
        """From where each film that shows the athlete does so."""
        return tuple(one.motion.view_deg for one in self.alone if one is not None)

    def values(
        self, column: int, entry: Calibration | None, table: FilmsTable | None = None
    ) -> Readings | None:
        """Values of one check from all films; None where none of them can tell."""
        alone = [
            None
            if reading is None
            else readings_of(reading.checks[column], entry, reading.motion.view_deg)
            for reading in self.alone
        ]
        known = [values for values in alone if values is not None]
        if len(self.alone) == 1 or not known:
            return known[0] if known else None
        table = packaged_films_table() if table is None else table
        fitted = [
            fitted_readings(reading.checks[column], self.base, table)
            for reading in self.fitted
            if reading is not None
        ]
        return together(known, [one for one in fitted if one is not None], table)

    def stays(self, column: int) -> list[Stay | None]:
        """Deciding moments of each rep on the first film's clock, from the first that has them."""
        found: list[Stay | None] = []
        for index, reading in enumerate(self.alone):
            if reading is None:
                continue
            stays = list(reading.checks[column].stays)
            if index:
                stays = [_on_first_clock(stay, self.clocks[index - 1]) for stay in stays]
            found = stays if not found else [a or b for a, b in zip(found, stays, strict=True)]
        return found


def read_films(
    track: PoseTrack,
    others: Sequence[OtherFilm],
    reps: Sequence[Rep],
    movement: Movement,
    kept: KeptFits | None = None,
) -> FilmsReading:
    """Read all checks of the reps in each film, and where two films show the body at once.

    Raises
    ------
    counting.body.motion.BodyFitError
        The athlete is hardly seen in any film.
    """
    if not others:
        return FilmsReading((read_film(track, reps, movement, movement.checks, kept),))
    alone: list[FilmReading | None] = []
    errors: list[BodyFitError] = []
    films = [(track, reps), *((one.track, reps_in(one, reps)) for one in others)]
    for shown, own in films:
        try:
            alone.append(read_film(shown, own, movement, movement.checks, kept))
        except BodyFitError as error:
            alone.append(None)
            errors.append(error)
    if len(errors) == len(films):
        raise errors[0]
    return FilmsReading(
        tuple(alone),
        tuple(_fitted_to_both(track, one, reps, movement, kept) for one in others),
        tuple(one.clock for one in others),
        movement.base,
    )


def _fitted_to_both(
    track: PoseTrack,
    other: OtherFilm,
    reps: Sequence[Rep],
    movement: Movement,
    kept: KeptFits | None,
) -> FilmReading | None:
    view = view_at(settled_sides(other.track), other.clock.second_s(track.time_s))
    try:
        return read_film(track, reps, movement, movement.checks, kept, others=[view])
    except BodyFitError:
        return None


def reps_in(other: OtherFilm, reps: Sequence[Rep]) -> list[Rep]:
    """Put reps on a further film's own clock and rows."""
    time_s = other.track.time_s

    def row(moment_s: float) -> int:
        return int(np.argmin(np.abs(time_s - moment_s))) if len(time_s) else 0

    moved = []
    for rep in reps:
        start_s, turn_s, end_s = (
            float(moment)
            for moment in other.clock.second_s(np.array([rep.start_s, rep.turn_s, rep.end_s]))
        )
        moved.append(
            replace(
                rep,
                start_s=start_s,
                turn_s=turn_s,
                end_s=end_s,
                start_index=row(start_s),
                turn_index=row(turn_s),
                end_index=row(end_s),
            )
        )
    return moved


def _on_first_clock(stay: Stay | None, clock: ClockFit) -> Stay | None:
    if stay is None:
        return None
    reached_s = float(clock.first_s(np.array([stay.reached_s]))[0])
    way_s = stay.way_s
    return replace(stay, reached_s=reached_s, way_s=None if way_s is None else clock.first_s(way_s))
