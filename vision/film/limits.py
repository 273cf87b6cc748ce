"""What a film may ask of the machine, checked before it is decoded."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Final

from vision.film.errors import FilmError

MOST_FILE_BYTES: Final = 64 * 1024**3
LONGEST_FILM_S: Final = 86_400.0
"""A day: no limit on the length can be raised above it, and no record is of a longer film."""


@dataclass(frozen=True, slots=True)
class FilmLimits:
    """The most a film may have; what is more is refused with a line that says so.

    The defaults let through what phones and cameras make: three hours of 8K at 30 frames a
    second, or of 1080p at 240.

    Attributes
    ----------
    file_bytes
        Size of the file.
    picture_px
        Pixels of one picture, width times height.
    duration_s
        From the first to the last presentation time.
    frames
        Frames, counted from the packets.
    frame_rate_hz
        Frames over duration.
    sound_s
        Length of the sound.
    """

    file_bytes: int = MOST_FILE_BYTES
    picture_px: int = 8192 * 4608
    duration_s: float = 3 * 3600.0
    frames: int = 3_000_000
    frame_rate_hz: float = 1000.0
    sound_s: float = 3 * 3600.0

    def check(self, path: Path, name: str, value: float) -> None:
        """Refuse a value that is over the limit of that name.

        Raises
        ------
        FilmError
            It is; the message names the file, both values and the way to allow more.
        """
        most = getattr(self, name)
        if value > most:
            shown = int(value) if isinstance(most, int) else round(value, 3)
            raise FilmError(
                f"{path}: {WORDS[name]} is {shown:,}, the most allowed is {most:,}; shorten or "
                f"convert the film, or allow it with --limit {name}={shown}"
            )


DEFAULT_LIMITS: Final = FilmLimits()
WORDS: Final = {
    "file_bytes": "the file's size in bytes",
    "picture_px": "the picture's size in pixels",
    "duration_s": "the length in seconds",
    "frames": "the number of frames",
    "frame_rate_hz": "the number of frames a second",
    "sound_s": "the length of the sound in seconds",
}


def changed_limits(changes: Iterable[str]) -> FilmLimits:
    """Change the default limits as written ``name=value``.

    Raises
    ------
    ValueError
        There is no limit of that name, or the value is no positive number.
    """
    limits = DEFAULT_LIMITS
    kinds = {field.name: type(getattr(limits, field.name)) for field in fields(limits)}
    for change in changes:
        name, _, text = change.partition("=")
        if name not in kinds:
            raise ValueError(f"there is no limit '{name}'; the limits are {', '.join(kinds)}")
        try:
            value = kinds[name](text)
        except ValueError:
            value = kinds[name](0)
        if not 0 < value < float("inf"):
            kind = "whole number" if kinds[name] is int else "number"
            raise ValueError(f"limit {name}: '{text}' is not a positive {kind}")
        if name == "duration_s" and value > LONGEST_FILM_S:
            raise ValueError(f"limit {name}: the most it can be is {LONGEST_FILM_S:.0f}, a day")
        limits = replace(limits, **{name: value})
    return limits
