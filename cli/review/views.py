"""What the desk's film shows of each rep: the part with the athlete, and the deciding lines."""

from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from cli.framing import part_around
from cli.measured_lines import measured_lines
from cli.review.library import Attempt
from cli.summary import decision_s
from cli.wording import deciding_checks
from counting.record.types import RepPart
from vision.track import PoseTrack, TrackError, load_track

AROUND_S: Final = 0.5
"""The film loops from so long before to so long after the deciding moment."""


def track_of(attempt: Attempt) -> PoseTrack | None:
    """Load an attempt's landmarks; None where there are none that can be read."""
    name = attempt.record.landmarks_file
    if name is None:
        return None
    try:
        return load_track(attempt.folder / Path(name).name)
    except TrackError:
        return None


def views_of(attempt: Attempt) -> dict[str, Any]:
    """Give, by rep number, the part of the picture to show and the lines to draw on it.

    Empty without landmarks. Lines carry the check's call, which gives the measured one its colour.
    """
    track = track_of(attempt)
    if track is None:
        return {}
    return {str(rep.number): _view(track, rep) for rep in attempt.record.reps}


def _view(track: PoseTrack, rep: RepPart) -> dict[str, Any]:
    at_s = decision_s(rep)
    check = next((one for one in deciding_checks(rep) if one.at_s is not None), None)
    lines = [] if check is None else measured_lines(track, rep, check)
    return {
        "part": asdict(part_around(track, at_s - AROUND_S, at_s + AROUND_S)),
        "verdict": None if check is None else check.verdict,
        "lines": [asdict(line) for line in lines],
    }
