"""One clock for two films: by sound where both have it, refined by the body's motion."""

from typing import Final

import numpy as np

from vision.sound.reading import Sound
from vision.synchrony.lines import DRIFT_PRIOR, Line
from vision.synchrony.motion import (
    RATE_HZ,
    Shift,
    Speeds,
    best_shift,
    vertical_speeds,
    widest_search,
)
from vision.synchrony.sound import sound_line
from vision.synchrony.types import ClockFit, SynchronyError, TwoAthletesError
from vision.track import PoseTrack

TRAVEL_S: Final = 0.004
"""Sound travels 343 m/s in air of 20 degrees (ISO 9613-1), and of two phones one is nearer to what
sounds by a metre or two: standard deviation of the difference."""
ALIKE: Final = 0.4
"""Least correlation of vertical speeds for two films to show one motion; DECISIONS.md has what
pairs that belong together show, and what others do."""
_MOTION_ERROR_S: Final = 0.004
"""How far networks lag behind a body in one view more than in another, beyond what pieces of a film
tell by differing."""
_PROMINENCE: Final = 0.05
"""By how much the best correlation must exceed all others where there is no sound; see
DECISIONS.md."""


def fit_clock(
    tracks: tuple[PoseTrack, PoseTrack], sounds: tuple[Sound | None, Sound | None]
) -> ClockFit:
    """Put the second film on the first one's clock.

    Raises
    ------
    TwoAthletesError
        Their sounds fit, but who is followed in one is not who is followed in the other.
    SynchronyError
        The films do not belong together, or neither sound nor motion tells how.
    """
    first, second = (vertical_speeds(track) for track in tracks)
    heard = None if sounds[0] is None or sounds[1] is None else sound_line(sounds[0], sounds[1])
    if heard is None:
        return _by_motion(first, second)
    shift = _shift(first, second, heard, reach_s=0.3)
    by_sound = float(np.hypot(heard.level_u_s, TRAVEL_S))
    alone = _clock(heard, 0.0, by_sound, "sound")
    if shift is None:
        return alone
    if shift.likeness < ALIKE:
        raise TwoAthletesError(
            "their sounds fit, but the bodies followed in them do not move alike "
            f"(correlation {shift.likeness:.2f}, {ALIKE:.2f} needed): they show two athletes; "
            "say with --lane, or --second-lane, which one",
            alone,
        )
    by_motion = float(np.hypot(shift.error_s, _MOTION_ERROR_S))
    share = by_sound**2 / (by_sound**2 + by_motion**2)
    together = by_sound * by_motion / float(np.hypot(by_sound, by_motion))
    return _clock(heard, share * shift.shift_s, together, "sound and motion")


def _clock(line: Line, more_s: float, error_s: float, told_by: str) -> ClockFit:
    return ClockFit(
        offset_s=line.level_s - line.slope * line.middle_s + more_s,
        drift_ppm=line.slope * 1e6,
        offset_u_s=error_s,
        drift_u_ppm=line.slope_u * 1e6,
        told_by=told_by,  # type: ignore[arg-type]
    )


def _shift(first: Speeds, second: Speeds, line: Line, reach_s: float) -> Shift | None:
    time_s = second.start_s + np.arange(len(second.values)) / RATE_HZ
    return best_shift(first, time_s + line.at(time_s), second.values, reach_s)


def _by_motion(first: Speeds, second: Speeds) -> ClockFit:
    """Films without sound: the whole range of shifts is searched, and one has to stand out."""
    lag_s, likeness, rival = widest_search(first, second)
    if likeness < ALIKE:
        raise SynchronyError(
            "there is no sound in both to go by, and the bodies do not move alike "
            f"(correlation {likeness:.2f}, {ALIKE:.2f} needed)"
        )
    if likeness - rival < _PROMINENCE:
        raise SynchronyError(
            "there is no sound in both to go by, and the reps follow each other so evenly that "
            "more than one shift of the clocks fits them"
        )
    middle_s = second.start_s + len(second.values) / (2 * RATE_HZ)
    line = Line(lag_s, 0.0, middle_s, 0.0, DRIFT_PRIOR)
    shift = _shift(first, second, line, reach_s=0.1)
    if shift is None:
        raise SynchronyError("they hardly show the body at the same time")
    return _clock(line, shift.shift_s, float(np.hypot(shift.error_s, _MOTION_ERROR_S)), "motion")
