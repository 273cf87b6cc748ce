"""The continuity of an audit's film: looked for once, then kept."""

from typing import Final

import msgspec

from cli.audit.kept import CONTINUITY, Kept
from cli.audit.landmarks import Landmarks
from cli.audit.request import Progress
from counting.record.types import ContinuityPart
from vision.film.types import LARGE_PX, Film

_NEARLY_ALL: Final = 0.75
"""A damaged picture here and there is told of elsewhere."""
_STAGE: Final = "looking for cuts"


def continuity_of(film: Film, landmarks: Landmarks, progress: Progress) -> ContinuityPart:
    """Read what was kept of the film's continuity, else look for it and keep it.

    The landmark file's name stands for film, model and settings.
    """
    kept = Kept(landmarks.file.parent, CONTINUITY)
    made_from = landmarks.file.stem
    continuity = _taken(kept, made_from)
    if continuity is None:
        from vision.continuity.assess import assess_continuity

        progress(_STAGE, 0.0, film.duration_s)
        document = assess_continuity(film, landmarks.track, landmarks.watched).document()
        kept.put_document(made_from, document)
        continuity = msgspec.convert(document, ContinuityPart)
        progress(_STAGE, film.duration_s, film.duration_s)
    return continuity


def _taken(kept: Kept, made_from: object) -> ContinuityPart | None:
    try:
        return msgspec.convert(kept.take_document(made_from), ContinuityPart)
    except msgspec.ValidationError:
        return None


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
