"""The film's facts: its packets are not listed again while the file is untouched.

Kept facts hold for as long as the system says that the file has not been touched: the same file,
size, and times of its content's and its entry's last change to the nanosecond, which a copy put in
its place does not have. Whoever wants the digest proven anew asks ``verify``, which reads the film.
"""

import json
import time
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np

from cli.audit.kept import FILM, Arrays, Kept
from cli.audit.request import AuditRequest
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from vision.film.errors import FilmError
from vision.film.types import Film

_ARRAYS: Final = ("time_s", "key")
_SETTLED_NS: Final = 2_000_000_000
"""A file changed within this of being read may change again without a newer time to show it."""


def films_of(request: AuditRequest) -> tuple[Film, ...]:
    """Read the facts of the film and of further films of the same attempt, the first one's first.

    Raises
    ------
    UserError
        A further film is the first one itself, or one of several tells no times.
    vision.film.errors.FilmError, vision.files.WriteError
        As `film_of`.
    """
    paths = (request.film, *request.second_views)
    first, *further = (film_of(replace(request, film=path)) for path in paths)
    if further and not first.times_known:
        raise UserError(
            f"{request.film}: its frame times are missing or in disorder, so that no second film "
            "can be put on its clock; audit it alone",
            BAD_INPUT,
        )
    for film in further:
        if film.sha256 == first.sha256:
            raise UserError(f"{film.path}: is the same film as the first", WRONG_USAGE)
        if not film.times_known:
            raise UserError(
                f"{film.path}: its frame times are missing or in disorder; leave it out", BAD_INPUT
            )
    return first, *further


def film_of(request: AuditRequest) -> Film:
    """Take the film's facts from those kept in ``request.out`` where they hold, else read it.

    Facts of a file that was settled before it was read, and is the same afterwards, are kept.

    Raises
    ------
    vision.film.errors.FilmError
        As `vision.film.reading.read_film`, or the film holds a single picture.
    vision.files.WriteError
        The facts cannot be kept.
    """
    stamp = stamp_of(request.film)
    kept, made_from = Kept(request.out, FILM), {"stamp": stamp, "limits": asdict(request.limits)}
    known = None if stamp is None else kept.take(made_from, ["facts", *_ARRAYS])
    film = None if known is None else _sound(known, request.film)
    if film is not None:
        return film
    from vision.film.reading import read_film

    settled = _is_settled(stamp)
    film = read_film(request.film, request.limits)
    if film.frames == 1:
        raise FilmError(f"{request.film}: holds a single picture; give a film with motion")
    if settled and stamp_of(request.film) == stamp:
        facts = {name: value for name, value in asdict(film).items() if name not in _ARRAYS}
        facts["path"] = ""
        arrays = {"facts": np.array(json.dumps(facts)), "time_s": film.time_s, "key": film.key}
        kept.put(made_from, arrays)
    return film


def settled_stamp(path: Path) -> list[int] | None:
    """Tell a file and its last change; None where that was too short a time ago."""
    stamp = stamp_of(path)
    return stamp if _is_settled(stamp) else None


def _is_settled(stamp: list[int] | None) -> bool:
    return stamp is not None and time.time_ns() - max(stamp[-2:]) >= _SETTLED_NS


def stamp_of(path: Path) -> list[int] | None:
    """Tell a file and its last change; None where there is no file."""
    try:
        status = path.stat()
    except OSError:
        return None
    place = [status.st_dev, status.st_ino, status.st_size]
    return [*place, status.st_mtime_ns, status.st_ctime_ns]


def _sound(arrays: Arrays, path: Path) -> Film | None:
    """Make a film of what was kept; None where that cannot be."""
    try:
        facts: dict[str, Any] = json.loads(str(arrays["facts"]))
        facts |= {name: arrays[name] for name in _ARRAYS} | {"path": path}
        film = msgspec.convert(facts, Film, dec_hook=lambda _type, value: value)
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    times, key = film.time_s, film.key
    if times.dtype != np.float64 or key.dtype != np.bool_ or times.ndim != 1 or not times.size:
        return None
    increasing = np.isfinite(times).all() and (np.diff(times) > 0).all()
    return film if increasing and key.shape in (times.shape, (0,)) else None
