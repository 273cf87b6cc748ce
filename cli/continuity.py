"""The continuity of an audit's film: looked for once, kept beside the landmarks."""

import json
from pathlib import Path
from typing import Any, Final

from cli.landmarks import Landmarks
from cli.pipeline import Progress
from vision.files import write_whole
from vision.film.types import Film

_STAGE: Final = "looking for cuts"


def continuity_of(film: Film, landmarks: Landmarks, progress: Progress) -> dict[str, Any]:
    """Read what was kept of the film's continuity, else look for it and keep it.

    The file carries the landmark file's key: it fits by name. One that cannot be read is made
    again.
    """
    name = landmarks.file.name.replace("landmarks-", "continuity-")
    file = landmarks.file.with_name(name).with_suffix(".json")
    document = _kept(file)
    if document is None:
        from vision.continuity.assess import assess_continuity

        progress(_STAGE, 0.0, film.duration_s)
        document = assess_continuity(film, landmarks.track, landmarks.watched).document()
        write_whole(file, json.dumps(document, indent=1, allow_nan=False) + "\n")
        progress(_STAGE, film.duration_s, film.duration_s)
    return document


def _kept(file: Path) -> dict[str, Any] | None:
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return document if isinstance(document, dict) and "findings" in document else None
