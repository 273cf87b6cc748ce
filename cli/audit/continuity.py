"""The continuity of an audit's film: looked for once, kept beside the landmarks."""

import json
from pathlib import Path
from typing import Final

import msgspec

from cli.audit.landmarks import Landmarks
from cli.audit.request import Progress
from counting.record.types import ContinuityPart
from vision.files import read_whole, write_whole
from vision.film.types import LARGE_PX, Film

_NEARLY_ALL: Final = 0.75
"""A damaged picture here and there is told of elsewhere."""
_MOST_BYTES: Final = 16 * 1024**2
_STAGE: Final = "looking for cuts"


def continuity_of(film: Film, landmarks: Landmarks, progress: Progress) -> ContinuityPart:
    """Read what was kept of the film's continuity, else look for it and keep it.

    The file carries the landmark file's key: it fits by name. One that cannot be read is made
    again.
    """
    name = landmarks.file.name.replace("landmarks-", "continuity-")
    file = landmarks.file.with_name(name).with_suffix(".json")
    continuity = _kept(file)
    if continuity is None:
        from vision.continuity.assess import assess_continuity

        progress(_STAGE, 0.0, film.duration_s)
        document = assess_continuity(film, landmarks.track, landmarks.watched).document()
        write_whole(file, json.dumps(document, indent=1, allow_nan=False) + "\n")
        continuity = msgspec.convert(document, ContinuityPart)
        progress(_STAGE, film.duration_s, film.duration_s)
    return continuity


def unwatched(film: Film, continuity: ContinuityPart) -> list[str]:
    """Warn where pictures of a large film were left out of what continuity is told from."""
    watched = continuity.frames
    large = film.width_px * film.height_px > LARGE_PX
    if not large or watched > _NEARLY_ALL * film.frames:
        return []
    return [
        f"{watched} of {film.frames} pictures of this large film were watched for breaks: "
        "a change of speed may not show in them; with --thorough all are watched"
    ]


def _kept(file: Path) -> ContinuityPart | None:
    try:
        return msgspec.json.decode(read_whole(file, _MOST_BYTES), type=ContinuityPart)
    except (OSError, ValueError, RecursionError):
        return None
