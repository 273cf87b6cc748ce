"""Looking at the film: what is done once, when no landmarks are kept of it yet.

Decoder, networks and vision libraries come with this module, so an audit with kept landmarks does
without loading them.
"""

from cli.audit.request import AuditRequest, Progress
from vision.athlete.extraction import extract
from vision.barbell.following import follow_bar, hands_on_bar
from vision.continuity.watch import PictureWatch, Watched, glance_of
from vision.film.types import Film
from vision.track import PoseTrack

_STAGE = "looking for the athlete"
_BAR_STAGE = "following the bar"


def look(film: Film, request: AuditRequest, progress: Progress) -> tuple[PoseTrack, Watched | None]:
    """Follow the athlete; and, where the whole film is seen, watch what continuity asks about."""
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


def with_bar(film: Film, track: PoseTrack, progress: Progress) -> PoseTrack:
    """Put the hands on the bar, where one is found."""
    bar = follow_bar(film, track, lambda done_s, total_s: progress(_BAR_STAGE, done_s, total_s))
    return track if bar is None else hands_on_bar(track, bar)
