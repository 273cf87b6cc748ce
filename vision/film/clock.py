"""When each picture is shown: by the times that the container stores, or not to be told.

A decoder gives pictures out in the order in which they are shown, whatever times are stored
beside them. Times that rise along that order are presentation times. Some containers (AVI, ASF)
store none: what is read there are times of decoding, which rise in the order of storing, and
FFmpeg gives each picture that comes out the decoding time of the packet that brought it out,
"the presentation time calculated from decoding times" (documentation of ``AVFrame.pkt_dts``).
Muxers that lose presentation times write decoding times in their place: sorted, these are right
again, as no picture is stored further from its place than a decoder can hold pictures. Where
none of these holds, pictures can be counted, and no time can be told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.film.packets import MOST_REORDERED
from vision.film.types import ClockSource

FloatArray = npt.NDArray[np.float64]


_MOST_MISSING: Final = 0.1
"""Share of times that may be missing or doubled between those that are in order."""


@dataclass(frozen=True, slots=True, eq=False)
class FilmClock:
    """Times of a film's pictures in the order in which they are shown.

    Attributes
    ----------
    time_s
        (N,) strictly increasing.
    source
        Where they come from; the times of a counted clock are no times of the film.
    doubt
        Why pictures had to be counted, for people; empty otherwise.
    """

    time_s: FloatArray
    source: ClockSource
    doubt: str = ""


def clock_of(
    presented_s: Sequence[float | None],
    decoded_s: Sequence[float | None],
    step_s: float,
    *,
    of_decoding: bool = False,
) -> FilmClock:
    """Find the times of pictures, which come in the order in which they are shown.

    Parameters
    ----------
    presented_s
        (N,) presentation times as stored with the pictures; None where there is none.
    decoded_s
        (N,) decoding times of the packets that brought the pictures out; None where there is
        none, as for the last few, which come out when no packet is left.
    step_s
        Nominal time from picture to picture, to count by.
    of_decoding
        Whether the container stores times of decoding alone, so that what FFmpeg gives for those
        of presentation is a guess.
    """
    stored, brought = _filled(presented_s), _filled(decoded_s)
    if of_decoding and not np.array_equal(stored, brought):
        stored = np.full(len(stored), np.nan)
    if not np.isnan(stored).any() and (np.diff(stored) > 0).all():
        return FilmClock(stored, "stored")
    for times in (_by_decoding(brought), _sorted(stored)):
        if times is not None:
            return FilmClock(times, "sorted")
    return FilmClock(step_s * np.arange(len(stored), dtype=np.float64), "counted", _doubt(stored))


def _filled(times_s: Sequence[float | None]) -> FloatArray:
    return np.array([np.nan if time_s is None else time_s for time_s in times_s], dtype=np.float64)


def _by_decoding(brought_s: FloatArray) -> FloatArray | None:
    """Find presentation times from those of decoding; None where these are incomplete or go back.

    The last pictures come out when no packet is left, one for each that the decoder holds back.
    """
    known = brought_s[~np.isnan(brought_s)]
    held = len(brought_s) - len(known)
    complete = not np.isnan(brought_s[: len(known)]).any()
    if held > MOST_REORDERED or len(known) < 2 or not complete or (np.diff(known) <= 0).any():
        return None
    return _undelayed(known, held)


def _sorted(stored: FloatArray) -> FloatArray | None:
    """Put stored times in order; None where a picture would go further than a decoder holds it.

    A few that are missing, or twice the same, are put between their neighbours.
    """
    known = np.flatnonzero(~np.isnan(stored))
    if len(known) < 2 or known[0] > 0 or known[-1] < len(stored) - 1:
        return None
    order = np.argsort(stored[known], kind="stable")
    places = np.argsort(order)
    if np.abs(places - np.arange(len(known))).max() > MOST_REORDERED:
        return None
    times = stored[known][order]
    own = np.concatenate(([True], np.diff(times) > 0))
    if own.sum() < max(2.0, (1.0 - _MOST_MISSING) * len(stored)) or not own[-1]:
        return None
    whole = np.interp(np.arange(len(stored)), known[own], times[own])
    held = int((places - np.arange(len(known))).max())
    return _undelayed(whole[held:], held)


def _undelayed(brought_s: FloatArray, held: int) -> FloatArray:
    """Tell the times of all pictures from those of packets that brought all but a few out.

    The first picture is put where decoding begins, as the sound of such a file is.
    """
    usual_s = float(np.median(np.diff(brought_s)))
    rest_s = brought_s[-1] + usual_s * np.arange(1, held + 1)
    return np.concatenate((brought_s, rest_s)) - held * usual_s


def _doubt(stored: FloatArray) -> str:
    missing = int(np.isnan(stored).sum())
    if missing > _MOST_MISSING * len(stored):
        return f"{missing} of {len(stored)} pictures have no time"
    known = stored[~np.isnan(stored)]
    back = np.flatnonzero(np.diff(known) <= 0)
    if not back.size:
        return f"{missing} of {len(stored)} pictures have no time"
    largest = back[int(np.argmin(np.diff(known)[back]))]
    first_s, then_s = float(known[largest]), float(known[largest + 1])
    return f"they go from {first_s:.2f} s back to {then_s:.2f} s"
