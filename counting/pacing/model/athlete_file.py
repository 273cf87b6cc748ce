"""A file about an athlete: what they know of themselves, and which films were seen of them."""

import datetime
import tomllib
from pathlib import Path
from typing import Annotated, Final

import msgspec
import numpy as np
from msgspec import Meta

from counting.movements.key_lines import key_lines, line_of
from counting.pacing.model.engine import (
    critical_power,
    share_of_usual_power,
    share_of_usual_row,
    share_of_usual_run,
)
from counting.pacing.model.known import Known, KnownMovement
from counting.pacing.model.loads import PacingError, known_loads
from counting.toml_faults import fault_of, nearest_words

HALF_WEIGHT_DAYS: Final = 120.0
"""Days after which a film tells half as much of its athlete (common practice, no source)."""

Positive = Annotated[float, Meta(gt=0.0, le=10000.0)]
ClockText = Annotated[str, Meta(pattern=r"^\d{1,3}:[0-5]\d(\.\d+)?$")]


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""


class HeavierSet(_Part, frozen=True, kw_only=True):
    """A set to the limit with another load."""

    reps: Positive
    kg: Positive


class MovementEntry(_Part, frozen=True, kw_only=True):
    """What is known of one movement; see `counting.pacing.model.known.KnownMovement`."""

    unbroken: Positive | None = None
    at_kg: Positive | None = None
    maximum_kg: Positive | None = None
    sets: list[HeavierSet] = []
    rep_s: Positive | None = None
    break_s: Positive | None = None


class Effort(_Part, frozen=True, kw_only=True):
    """An even effort to the end at a power."""

    time: ClockText
    watts: Positive


class EngineEntry(_Part, frozen=True, kw_only=True):
    """Engine tests."""

    row_2000_m: ClockText | None = None
    run_5000_m: ClockText | None = None
    efforts: list[Effort] = []


class FilmEntry(_Part, frozen=True, kw_only=True):
    """An audit of a film of this athlete; ``audit`` is a path, beside the file where relative."""

    audit: str
    date: datetime.date

    def weight(self, latest: datetime.date) -> float:
        """How much the film still tells beside one of a day: half after `HALF_WEIGHT_DAYS`."""
        return float(0.5 ** (max((latest - self.date).days, 0) / HALF_WEIGHT_DAYS))


class AthleteFile(_Part, frozen=True, kw_only=True):
    """The whole file; everything is optional."""

    name: str = ""
    age: Annotated[float, Meta(ge=5.0, le=120.0)] | None = None
    body_kg: Positive | None = None
    rest_s: Positive | None = None
    changeover_s: Positive | None = None
    engine: EngineEntry = EngineEntry()
    movements: dict[str, MovementEntry] = {}
    films: list[FilmEntry] = []

    @property
    def known(self) -> Known:
        """What the model takes from the file."""
        return Known(
            movements={
                name: KnownMovement(
                    unbroken=item.unbroken,
                    at_kg=item.at_kg,
                    maximum_kg=item.maximum_kg,
                    rep_s=item.rep_s,
                    break_s=item.break_s,
                    heavier=tuple((each.reps, each.kg) for each in item.sets),
                )
                for name, item in self.movements.items()
            },
            rest_s=self.rest_s,
            changeover_s=self.changeover_s,
            engine=self._engine(),
            age_years=self.age,
        )

    def _engine(self) -> float | None:
        """Whole-body power as a share of the usual, the geometric mean of all tests."""
        tests = self.engine
        shares = []
        if tests.row_2000_m is not None:
            shares.append(share_of_usual_row(seconds(tests.row_2000_m)))
        if tests.run_5000_m is not None:
            shares.append(share_of_usual_run(seconds(tests.run_5000_m)))
        if tests.efforts:
            power_w, _ = critical_power(
                np.array([seconds(item.time) for item in tests.efforts]),
                np.array([item.watts for item in tests.efforts]),
            )
            shares.append(share_of_usual_power(power_w, self.body_kg))
        return float(np.exp(np.mean(np.log(shares)))) if shares else None


def seconds(clock: str) -> float:
    """Read ``m:ss`` as seconds."""
    minutes, _, rest = clock.partition(":")
    return 60.0 * int(minutes) + float(rest)


def load_athlete(path: Path) -> AthleteFile:
    """Read an athlete's file.

    Raises
    ------
    PacingError
        The file is missing, no TOML, or breaks a rule; the message names file, line and remedy.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise PacingError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise PacingError(f"{path}: not UTF-8 text; save it as UTF-8") from error
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise PacingError(f"{path}: not valid TOML ({error})") from error
    lines = key_lines(text)
    for name, table in _tables(document, "movements"):
        try:
            msgspec.convert(table, MovementEntry)
        except msgspec.ValidationError as error:
            message, where = fault_of(error, MovementEntry)
            line = line_of(("movements", name, *where), lines)
            raise PacingError(f"{path}, line {line}: {name}: {message}") from error
    try:
        athlete = msgspec.convert(document, AthleteFile)
    except msgspec.ValidationError as error:
        message, where = fault_of(error, AthleteFile)
        raise PacingError(f"{path}, line {line_of(where, lines)}: {message}") from error
    for name, item in athlete.movements.items():
        line = line_of(("movements", name), lines)
        if name not in known_loads():
            near = nearest_words(name, sorted(known_loads()))
            raise PacingError(f"{path}, line {line}: no movement {name!r}{near}")
        if item.at_kg is not None and item.unbroken is None:
            raise PacingError(f"{path}, line {line}: at_kg belongs to unbroken, which is missing")
    times = {item.time for item in athlete.engine.efforts}
    if athlete.engine.efforts and len(times) < 2:
        line = line_of(("engine", "efforts"), lines)
        raise PacingError(f"{path}, line {line}: efforts: give two of different length, or none")
    films = [
        msgspec.structs.replace(film, audit=str(path.parent / film.audit)) for film in athlete.films
    ]
    return msgspec.structs.replace(athlete, films=films)


def _tables(document: dict[str, object], key: str) -> list[tuple[str, object]]:
    """Tables under a key, one by one: errors in them do not tell which it was."""
    found = document.get(key)
    return list(found.items()) if isinstance(found, dict) else []
