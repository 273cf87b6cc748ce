"""Who of the people in a second film is the one that is followed in the first.

Each film chooses its athlete by itself, and where somebody exercises beside, two phones may choose
differently. Once the sounds have put both films on one clock, whoever moves as the athlete of the
first does is that athlete.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from vision.athlete.detection import Sample, detect
from vision.athlete.extraction import DETECTION_S
from vision.athlete.tracking import Path, paths_of_people
from vision.film.frames import LONG_SIDE_PX, frames, size_within
from vision.film.types import Film
from vision.pose.movenet import PeopleFinder
from vision.synchrony.fit import ALIKE
from vision.synchrony.motion import RATE_HZ, best_shift, speeds_of, vertical_speeds
from vision.synchrony.types import ClockFit, FloatArray
from vision.track import PoseTrack

_NOSE: Final = 0
_FIRST_PAIR: Final = 5
"""Joints of a detection: nose, eyes and ears, then pairs from shoulders to ankles, in the order of
`motion.JOINTS`."""
_REACH_S: Final = 0.2
"""Seconds to either side of the clock by sound: detections are five a second."""
_WIDEST: Final = 0.2
"""Share of the width to either side of the athlete that a lane is at most (no source)."""
_FEWEST: Final = 10
"""Detections of whoever is compared: two seconds."""


def everybody_in(film: Film) -> list[Sample]:
    """Detect everybody in a film, as often as its own athlete is looked for."""
    finder = PeopleFinder()
    return [
        Sample(frame.index, frame.time_s, detect(finder, frame.picture))
        for frame in frames(film, every_s=DETECTION_S, long_side_px=LONG_SIDE_PX)
    ]


def lane_of_athlete(film: Film, first: PoseTrack, clock: ClockFit) -> tuple[float, float] | None:
    """Find where in a second film the athlete of the first one is.

    Returns
    -------
    tuple of float or None
        Left and right edge of a lane, as shares of the width; None where nobody moves alike.
    """
    width_px = film.width_px * size_within(film, LONG_SIDE_PX)[0]
    return lane_among(everybody_in(film), width_px, first, clock)


def lane_among(
    samples: Sequence[Sample], width_px: float, first: PoseTrack, clock: ClockFit
) -> tuple[float, float] | None:
    """Find the lane, as `lane_of_athlete`, of somebody among those who were detected."""
    paths = [path for path in paths_of_people(samples) if len(path.place) >= _FEWEST]
    if not paths:
        return None
    likeness = [_likeness(path, samples, first, clock) for path in paths]
    best = int(np.argmax(likeness))
    if likeness[best] < ALIKE:
        return None
    places = np.array([_place(path) for path in paths]) / width_px
    others = np.delete(np.abs(places - places[best]), best)
    reach = min(_WIDEST, 0.5 * float(others.min(initial=1.0)))
    return float(max(places[best] - reach, 0.0)), float(min(places[best] + reach, 1.0))


def _likeness(path: Path, samples: Sequence[Sample], first: PoseTrack, clock: ClockFit) -> float:
    """Correlation of vertical speeds with those of the first film's athlete."""
    time_s = clock.first_s(np.array([samples[place].time_s for place in path.place]))
    up = -np.array([one.image_px[:, 1] for one in path.detections])
    pairs = up[:, _FIRST_PAIR:].reshape(len(up), -1, 2).mean(axis=2)
    speeds = speeds_of(time_s, np.column_stack([up[:, _NOSE], pairs]))
    moments: FloatArray = speeds.start_s + np.arange(len(speeds.values)) / RATE_HZ
    shift = best_shift(vertical_speeds(first), moments, speeds.values, _REACH_S)
    return -1.0 if shift is None else shift.likeness


def _place(path: Path) -> float:
    return float(np.median([one.hips_px[0] for one in path.detections]))
