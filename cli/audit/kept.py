"""What is kept beside a film between audits, and when it is taken again.

One rule for all of it. An entry has its name from all that it is made from and from the code that
makes it, so that one that is found is the one that would be made. Its seal binds the name to the
content: what was written by hand, edited or damaged is no entry, and is made anew. Entries of other
code are removed once a new record stands.

Anybody can compute a seal. It shows slips, not forgery: ``verify`` therefore audits into an empty
folder and takes nothing kept. Stills are never read back, so that none is kept.
"""

import hashlib
import json
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

import cli
from cli.versions import library_versions
from vision.arrays import ArraysError, packed, read_arrays, seal_words
from vision.files import write_whole
from vision.made_by import TOOL
from vision.track import TRACK_ARRAYS, PoseTrack, TrackError, track_of

Arrays = Mapping[str, npt.NDArray[Any]]

_SUFFIX: Final = ".npz"
_DOCUMENT: Final = "document"
_LENGTH: Final = 32
"""Hexadecimal digits of a name: 128 bits, so that no two entries meet by chance."""
_TOP: Final = Path(str(cli.__file__)).parent.parent


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of entry.

    Attributes
    ----------
    name
        First part of its files' names.
    sources
        Packages and modules whose code makes it, with all of ours that they import.
    """

    name: str
    sources: tuple[str, ...]


_TRACK: Final = ("vision.arrays", "vision.pose", "vision.track")
_SEEN: Final = (
    *_TRACK,
    "vision.athlete",
    "vision.barbell",
    "vision.camera",
    "vision.film",
    "vision.mediapipe_reader",
    "vision.reader",
)

FILM: Final = Kind("film", ("vision.film",))
LANDMARKS: Final = Kind("landmarks", _SEEN)
CONTINUITY: Final = Kind(
    "continuity", (*_SEEN, "vision.continuity", "vision.sound", "vision.times")
)
FIT: Final = Kind(
    "fit", (*_TRACK, "counting.body", "counting.signals", "vision.cores", "vision.geometry")
)
OBJECTS: Final = Kind("objects", (*_SEEN, "vision.objects", "counting.signals"))
KINDS: Final = (FILM, LANDMARKS, CONTINUITY, FIT, OBJECTS)


class Kept:
    """Entries of one kind in a folder."""

    def __init__(self, folder: Path, kind: Kind) -> None:
        self._folder, self._kind = folder, kind

    def find(self, made_from: object) -> Path | None:
        """Give the entry's file if there is one whose seal fits."""
        file = self._file(made_from)
        return file if seal_words(file) == self._words(file) else None

    def take(self, made_from: object, names: Collection[str]) -> Arrays | None:
        """Read the entry's arrays of these names; None where there is none, or none readable."""
        file = self.find(made_from)
        try:
            return None if file is None else read_arrays(file, names)
        except ArraysError:
            return None

    def put(self, made_from: object, arrays: Arrays) -> Path:
        """Keep an entry, whole or not at all.

        Parameters
        ----------
        made_from
            All that decides the content beside the code, in types that JSON knows.
        arrays
            The content.

        Raises
        ------
        vision.files.WriteError
            It cannot be written.
        """
        file = self._file(made_from)
        write_whole(file, packed(arrays, self._words(file)))
        return file

    def take_track(self, made_from: object) -> tuple[PoseTrack, Path] | None:
        """Read a landmark file, and tell where it lies; None where there is none, or none sound."""
        file, arrays = self._file(made_from), self.take(made_from, TRACK_ARRAYS)
        try:
            return None if arrays is None else (track_of(arrays), file)
        except TrackError:
            return None

    def take_document(self, made_from: object) -> dict[str, Any] | None:
        """Read what `put_document` kept."""
        arrays = self.take(made_from, [_DOCUMENT])
        try:
            document = None if not arrays else json.loads(str(arrays[_DOCUMENT]))
        except (ValueError, RecursionError):
            return None
        return document if isinstance(document, dict) else None

    def put_document(self, made_from: object, document: Mapping[str, Any]) -> Path:
        """Keep what JSON can hold; raises as `put`."""
        text = json.dumps(document, allow_nan=False)
        return self.put(made_from, {_DOCUMENT: np.array(text)})

    def _file(self, made_from: object) -> Path:
        content = json.dumps([code_digest(self._kind), made_from], sort_keys=True)
        name = hashlib.sha256(content.encode()).hexdigest()[:_LENGTH]
        return self._folder / f"{self._kind.name}-{name}{_SUFFIX}"

    def _words(self, file: Path) -> str:
        return f"{TOOL} {file.stem} {code_digest(self._kind)}"


def kept_files(folder: Path) -> Iterator[tuple[Path, bool]]:
    """List the entries in a folder, each with whether the code of today made it."""
    for kind in KINDS:
        for file in folder.glob(f"{kind.name}-*{_SUFFIX}"):
            tool, _, words = (seal_words(file) or "").partition(" ")
            if tool == TOOL:
                yield file, words == f"{file.stem} {code_digest(kind)}"


def drop_outdated(folder: Path) -> None:
    """Remove entries that other code made: nothing takes them any more."""
    for file, of_today in kept_files(folder):
        if not of_today:
            with suppress(OSError):
                file.unlink()


@cache
def code_digest(kind: Kind) -> str:
    """Digest of the code that makes a kind of entry, and of the libraries it computes with."""
    content = hashlib.sha256(json.dumps(library_versions()).encode())
    for source in kind.sources:
        place = _TOP.joinpath(*source.split("."))
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]:
            content.update(f"{file.relative_to(_TOP).as_posix()}\0".encode())
            content.update(hashlib.sha256(file.read_bytes()).digest())
    return content.hexdigest()[:_LENGTH]
