"""A long film whose landmarks are kept as an audit would keep them, without hours of looking."""

from pathlib import Path
from typing import Any
from unittest.mock import patch

from cli.audit import run
from cli.audit.request import AuditRequest
from tests.bench.from_landmarks import repeated
from vision.athlete import extraction
from vision.continuity.steps import LONG_SIDE_PX
from vision.film.frames import Glance, frames
from vision.film.reading import read_film
from vision.film.types import Film
from vision.track import PoseTrack


def keep_results(lap: Path, track: PoseTrack, request: AuditRequest) -> None:
    """Audit a film made of laps, with the landmarks and pictures of one lap for all of them.

    Everything after the looking is done and kept as for any film, so that a second audit finds
    what it would find.
    """
    small = [frame.picture for frame in frames(read_film(lap), long_side_px=LONG_SIDE_PX)]

    def looked_at(film: Film, *, glance: Glance | None = None, **_options: Any) -> PoseTrack:
        if glance is not None:
            for row, time_s in enumerate(film.time_s.tolist()):
                glance.take(time_s, small[row % len(small)])
        return repeated(track, film.time_s)

    with patch.object(extraction, "extract", looked_at):
        run.audit_film(request, lambda *_progress: None)
