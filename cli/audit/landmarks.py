"""The landmark file of an audit: made once for a film, a model and settings, then read again.

Decoder, networks and vision libraries are loaded only where the film must be looked at.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from cli.audit.kept import LANDMARKS, Kept, code_digest
from cli.audit.request import AuditRequest, Progress
from vision.barbell.view import seen_from_the_side
from vision.film.types import Film
from vision.pose.bundle import load_bundle
from vision.track import TRACK_FORMAT, PoseTrack, TrackError, load_track, track_arrays

if TYPE_CHECKING:
    from vision.continuity.watch import Watched

_STAGE: Final = "looking for the athlete"
_BAR_STAGE: Final = "following the bar"


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
    """Read the landmark file kept in ``request.out``, else extract and keep it.

    With a ``barbell`` seen from the side, whose plates hide the hands, a second file holds the
    landmarks with the hands on the bar.

    Raises
    ------
    vision.film.errors.FilmError, vision.pose.bundle.ModelError, vision.files.WriteError
        As the stages raise them.
    """
    bundle = load_bundle(request.model)
    settings: dict[str, object] = {
        "extraction": code_digest(LANDMARKS),
        "format": TRACK_FORMAT,
        "lane": None if request.lane is None else list(request.lane),
        "end_s": request.end_s,
        "thorough": request.thorough,
    }
    kept = Kept(request.out, LANDMARKS)
    watched: Watched | None = None

    def found() -> PoseTrack:
        nonlocal watched
        track, watched = _look(film, request, progress)
        return track

    def on_the_bar() -> PoseTrack:
        return _with_bar(film, track, progress)

    track, file = _taken_or_made(kept, [film.sha256, bundle.sha256, settings], found)
    if barbell and track.seen.any() and seen_from_the_side(track):
        settings["hands"] = "on the bar"
        track, file = _taken_or_made(kept, [film.sha256, bundle.sha256, settings], on_the_bar)
    return Landmarks(track, file, bundle.name, bundle.sha256, settings, watched)


def _look(
    film: Film, request: AuditRequest, progress: Progress
) -> "tuple[PoseTrack, Watched | None]":
    """Follow the athlete; and, where the whole film is seen, watch what continuity asks about."""
    from vision.athlete.extraction import extract
    from vision.continuity.watch import PictureWatch, glance_of

    watch = PictureWatch() if request.end_s is None else None
    track = extract(
        film,
        model=request.model,
        lane=request.lane,
        end_s=request.end_s,
        thorough=request.thorough,
        workers=request.workers,
        progress=lambda done_s, total_s: progress(_STAGE, done_s, total_s),
        glance=None if watch is None else glance_of(watch),
    )
    return track, None if watch is None else watch.finish()


def _with_bar(film: Film, track: PoseTrack, progress: Progress) -> PoseTrack:
    """Put the hands on the bar, where one is found."""
    from vision.barbell.tracking import follow_bar, hands_on_bar

    bar = follow_bar(film, track, lambda done_s, total_s: progress(_BAR_STAGE, done_s, total_s))
    return track if bar is None else hands_on_bar(track, bar)


def _taken_or_made(
    kept: Kept, made_from: object, make: Callable[[], PoseTrack]
) -> tuple[PoseTrack, Path]:
    file = kept.find(made_from)
    if file is not None:
        with suppress(TrackError):
            return load_track(file), file
    track = make()
    return track, kept.put(made_from, track_arrays(track))
