"""Facts of the film kept beside the landmarks, so that its packets are not listed again.

They hold for as long as the system says that the file has not been touched: the same file, size,
and times of its content's and its entry's last change to the nanosecond, which a copy put in its
place does not have. Whoever wants the digest proven anew asks ``verify``, which reads the film.
"""

import io
import json
import time
from dataclasses import asdict
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np

import vision.film
from cli.audit.request import AuditRequest
from cli.versions import library_versions
from vision.arrays import ArraysError, read_arrays
from vision.files import write_whole
from vision.film.types import Film

FILM_FILE: Final = "film.npz"
_ARRAYS: Final = ("time_s", "key")
_SETTLED_NS: Final = 2_000_000_000
"""A file changed within this of being read may change again without a newer time to show it."""


def film_of(request: AuditRequest) -> Film:
    """Take the film's facts from those kept in ``request.out`` where they hold, else read it.

    Raises
    ------
    vision.film.errors.FilmError
        As `vision.film.reading.read_film`.
    """
    known = _kept(request)
    if known is None:
        from vision.film.reading import read_film

        return read_film(request.film, request.limits)
    return known


def keep_film(film: Film, request: AuditRequest, before: list[int] | None) -> None:
    """Keep a film's facts, if its settled stamp ``before`` it was read is still that of the file.

    Raises
    ------
    vision.files.WriteError
        They cannot be written.
    """
    if before is None or stamp_of(request.film) != before or _kept(request) is not None:
        return
    facts = {name: value for name, value in asdict(film).items() if name not in _ARRAYS}
    facts["path"] = ""
    asked = json.dumps({"asked": _asked(request, before), "film": facts})
    content = io.BytesIO()
    np.savez(content, facts=np.array(asked), time_s=film.time_s, key=film.key)
    write_whole(request.out / FILM_FILE, content.getvalue())


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


def _kept(request: AuditRequest) -> Film | None:
    stamp = stamp_of(request.film)
    if stamp is None:
        return None
    try:
        arrays = read_arrays(request.out / FILM_FILE, ["facts", *_ARRAYS])
        facts = json.loads(str(arrays["facts"]))
        if facts["asked"] != _asked(request, stamp):
            return None
        times = {name: arrays[name] for name in _ARRAYS}
        film: dict[str, Any] = facts["film"] | times | {"path": request.film}
        found = msgspec.convert(film, Film, dec_hook=lambda _type, value: value)
    except (ArraysError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return found if _is_sound(found) else None


def _is_sound(film: Film) -> bool:
    times, key = film.time_s, film.key
    if times.dtype != np.float64 or key.dtype != np.bool_ or times.ndim != 1 or not times.size:
        return False
    increasing = np.isfinite(times).all() and (np.diff(times) > 0).all()
    return bool(increasing) and key.shape in (times.shape, (0,))


def _asked(request: AuditRequest, stamp: list[int]) -> dict[str, Any]:
    return {"stamp": stamp, "limits": asdict(request.limits), "reader": _reader()}


@cache
def _reader() -> str:
    """Digest of what reads films: our code and the versions of its libraries."""
    content = sha256(json.dumps(library_versions()).encode())
    for file in sorted(Path(str(vision.film.__file__)).parent.glob("*.py")):
        content.update(file.read_bytes())
    return content.hexdigest()
