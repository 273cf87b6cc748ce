"""The film's facts: its packets are not listed again while the file is untouched.

Kept facts hold for as long as the system says that the file has not been touched: the same file,
size, and times of its content's and its entry's last change to the nanosecond, which a copy put in
its place does not have. Whoever wants the digest proven anew asks ``verify``, which reads the film.
"""

import json
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np

from cli.audit.kept import FILM, Kept
from cli.audit.request import AuditRequest
from vision.film.errors import FilmError
from vision.film.types import Film

_ARRAYS: Final = ("time_s", "key")
_SETTLED_NS: Final = 2_000_000_000
"""A file changed within this of being read may change again without a newer time to show it."""


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
    known = _known(request)
    if known is not None:
        return known
    from vision.film.reading import read_film

    before = settled_stamp(request.film)
    film = read_film(request.film, request.limits)
    if film.frames == 1:
        raise FilmError(f"{request.film}: holds a single picture; give a film with motion")
    if before is not None and stamp_of(request.film) == before:
        facts = {name: value for name, value in asdict(film).items() if name not in _ARRAYS}
        facts["path"] = ""
        arrays = {"facts": np.array(json.dumps(facts)), "time_s": film.time_s, "key": film.key}
        Kept(request.out, FILM).put(_made_from(request, before), arrays)
    return film


def settled_stamp(path: Path) -> list[int] | None:
    """Tell a file and its last change; None where that was too short a time ago."""
    stamp = stamp_of(path)
    settled = stamp is not None and time.time_ns() - max(stamp[-2:]) >= _SETTLED_NS
    return stamp if settled else None


def stamp_of(path: Path) -> list[int] | None:
    """Tell a file and its last change; None where there is no file."""
    try:
        status = path.stat()
    except OSError:
        return None
    place = [status.st_dev, status.st_ino, status.st_size]
    return [*place, status.st_mtime_ns, status.st_ctime_ns]


def _known(request: AuditRequest) -> Film | None:
    stamp = stamp_of(request.film)
    if stamp is None:
        return None
    arrays = Kept(request.out, FILM).take(_made_from(request, stamp), ["facts", *_ARRAYS])
    if arrays is None:
        return None
    try:
        film: dict[str, Any] = json.loads(str(arrays["facts"]))
        film |= {name: arrays[name] for name in _ARRAYS} | {"path": request.film}
        found = msgspec.convert(film, Film, dec_hook=lambda _type, value: value)
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return found if _is_sound(found) else None


def _is_sound(film: Film) -> bool:
    times, key = film.time_s, film.key
    if times.dtype != np.float64 or key.dtype != np.bool_ or times.ndim != 1 or not times.size:
        return False
    increasing = np.isfinite(times).all() and (np.diff(times) > 0).all()
    return bool(increasing) and key.shape in (times.shape, (0,))


def _made_from(request: AuditRequest, stamp: list[int]) -> dict[str, Any]:
    return {"stamp": stamp, "limits": asdict(request.limits)}
