"""What an audit sees of one film: its landmarks and its continuity, made once, then kept.

Decoder, networks and vision libraries are loaded only where the film must be looked at.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import msgspec

from cli.audit.kept import CONTINUITY, LANDMARKS, Kept, code_digest
from cli.audit.request import AuditRequest, Progress
from counting.record.types import ContinuityPart
from vision.barbell.hands import seen_from_the_side
from vision.film.types import LARGE_PX, Film
from vision.pose.bundle import load_bundle
from vision.reader import reader_named
from vision.track import TRACK_FORMAT, PoseTrack, track_arrays

if TYPE_CHECKING:
    from vision.continuity.watch import Watched

_STAGE: Final = "looking for the athlete"
_BAR_STAGE: Final = "following the bar"
_CUTS_STAGE: Final = "looking for cuts"
_NEARLY_ALL: Final = 0.75
"""A damaged picture here and there is told of elsewhere."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A film, the athlete's track in it and whether it is continuous.

    Attributes
    ----------
    film
        The film's facts.
    track
        The landmarks.
    landmarks_file
        Name of the file that they are kept in.
    model, model_sha256, settings
        What made them.
    continuity
        What breaks the film, or disturbs it.
    """

    film: Film
    track: PoseTrack
    landmarks_file: str
    model: str
    model_sha256: str
    settings: dict[str, object]
    continuity: ContinuityPart


def seen_of(film: Film, request: AuditRequest, progress: Progress, *, barbell: bool) -> Seen:
    """Take what was seen of a film from what is kept in ``request.out``, else look and keep it.

    With a ``barbell`` seen from the side, whose plates hide the hands, a second file holds the
    landmarks with the hands on the bar.

    Raises
    ------
    vision.film.errors.FilmError, vision.pose.bundle.ModelError, vision.reader.ReaderError,
    vision.files.WriteError
        As the stages raise them.
    """
    bundle = load_bundle(request.model)
    settings: dict[str, object] = {
        "extraction": code_digest(LANDMARKS),
        "format": TRACK_FORMAT,
        "lane": None if request.lane is None else list(request.lane),
        "end_s": request.end_s,
        "thorough": request.thorough,
        "reader": request.reader,
    }
    kept = Kept(request.out, LANDMARKS)
    watched: Watched | None = None
    made_from = [film.sha256, bundle.sha256, settings]
    found = kept.take_track(made_from)
    if found is None:
        track, watched = _look(film, request, progress)
        found = track, kept.put(made_from, track_arrays(track))
    track, file = found
    if barbell and track.seen.any() and seen_from_the_side(track):
        settings["hands"] = "on the bar"
        found = kept.take_track(made_from)
        if found is None:
            from vision.barbell.tracking import with_hands_on_bar

            track = with_hands_on_bar(
                film, track, lambda done_s, total_s: progress(_BAR_STAGE, done_s, total_s)
            )
            found = track, kept.put(made_from, track_arrays(track))
        track, file = found
    # The landmark file's name stands for film, model and settings.
    cuts = Kept(request.out, CONTINUITY)
    try:
        continuity = msgspec.convert(cuts.take_document(file.stem), ContinuityPart)
    except msgspec.ValidationError:
        from vision.continuity.assess import assess_continuity

        progress(_CUTS_STAGE, 0.0, film.duration_s)
        document = assess_continuity(film, track, watched).document()
        cuts.put_document(file.stem, document)
        continuity = msgspec.convert(document, ContinuityPart)
        progress(_CUTS_STAGE, film.duration_s, film.duration_s)
    return Seen(film, track, file.name, bundle.name, bundle.sha256, settings, continuity)


def _look(
    film: Film, request: AuditRequest, progress: Progress
) -> "tuple[PoseTrack, Watched | None]":
    """Follow the athlete; and, where the whole film is seen, watch what continuity asks about."""
    from vision.continuity.watch import PictureWatch, glance_of

    read = reader_named(request.reader)
    watch = PictureWatch() if request.end_s is None else None
    track = read(
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
