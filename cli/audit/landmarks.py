"""The landmark file of an audit: made once for a film, a model and settings, then read again."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from cli.audit.request import AuditRequest, Progress
from vision.barbell.view import seen_from_the_side
from vision.files import write_whole
from vision.film.types import Film
from vision.pose.bundle import load_bundle
from vision.track import TRACK_FORMAT, PoseTrack, TrackError, load_track, track_bytes

if TYPE_CHECKING:
    from vision.continuity.watch import Watched

EXTRACTION: Final = "8"
"""Raised whenever extraction changes what it finds, so that old landmark files are not taken."""

_KEY_LENGTH: Final = 16


@dataclass(frozen=True, slots=True, eq=False)
class Landmarks:
    """A track, the file it is kept in, and what made it.

    ``watched`` is what continuity asks of the pictures, if they have been looked at just now.
    """

    track: PoseTrack
    file: Path
    model: str
    model_sha256: str
    settings: dict[str, object]
    watched: "Watched | None" = None


def landmarks_of(
    film: Film, request: AuditRequest, progress: Progress, *, barbell: bool
) -> Landmarks:
    """Read the landmark file in ``request.out`` if it fits, else extract and write it.

    The file's name carries a digest of the film, the model and the settings: it fits by name. One
    that cannot be read is made again. With a ``barbell`` seen from the side, whose plates hide the
    hands, a second file holds the landmarks with the hands on the bar.

    Raises
    ------
    vision.film.errors.FilmError, vision.pose.bundle.ModelError, vision.files.WriteError
        As the stages raise them.
    """
    bundle = load_bundle(request.model)
    settings: dict[str, object] = {
        "extraction": EXTRACTION,
        "format": TRACK_FORMAT,
        "lane": None if request.lane is None else list(request.lane),
        "end_s": request.end_s,
        "thorough": request.thorough,
    }
    keyed = json.dumps([film.sha256, bundle.sha256, settings], sort_keys=True)
    key = hashlib.sha256(keyed.encode()).hexdigest()[:_KEY_LENGTH]
    file = request.out / f"landmarks-{key}.npz"
    track = _kept(file, film)
    watched = None
    if track is None:
        from cli.audit.looking import look

        track, watched = look(film, request, progress)
        write_whole(file, track_bytes(track))
    if barbell and track.seen.any() and seen_from_the_side(track):
        settings["hands"] = "on the bar"
        file = file.with_stem(f"{file.stem}-barbell")
        track = _kept(file, film) or _with_bar(film, track, file, progress)
    return Landmarks(track, file, bundle.name, bundle.sha256, settings, watched)


def _with_bar(film: Film, track: PoseTrack, file: Path, progress: Progress) -> PoseTrack:
    from cli.audit.looking import with_bar

    track = with_bar(film, track, progress)
    write_whole(file, track_bytes(track))
    return track


def _kept(file: Path, film: Film) -> PoseTrack | None:
    try:
        track = load_track(file)
    except TrackError:
        return None
    return track if track.frames == film.frames else None
