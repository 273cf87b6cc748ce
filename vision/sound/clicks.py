"""Short sounds without a pitch: a rope on the floor, a plate that clinks, a shoe.

A click rises within milliseconds over all pitches at once and is over as soon. Speech, music and
the tone of a clock swell more slowly or keep to some pitches.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from vision.sound.reading import Sound

FloatArray = npt.NDArray[np.float64]

LOWEST_HZ: Final = 1500.0
LOW_HZ: Final = (80.0, 600.0)
"""A rope on the floor is bright; the thud of feet lies below (common practice, no source)."""
HOP_S: Final = 0.0025
WINDOW_S: Final = 0.005
BEFORE_S: Final = 0.06
"""How long before a click shows how loud it is without."""
RISE_DB: Final = 8.0
"""Least rise over what was before: noise alone, of which a window of 5 ms averages some 35 values
in this band, scatters by 0.7 dB."""
APART_S: Final = 0.07
"""Two passes of a rope are 0.1 s apart at the fastest (common practice, no source)."""
_LOW_WINDOW_S: Final = 0.02
"""Window in which the low pitches are listened to, and how far from a click their rise counts: two
periods of 100 Hz."""
_OVER_S: Final = 0.05
_FALL_DB: Final = 3.0
"""A click is over within this time: the level has fallen by half its power at least (chosen, not
measured)."""


@dataclass(frozen=True, slots=True)
class Click:
    """A short sound.

    ``time_s`` is when it begins on the film's clock, ``rise_db`` its rise over what was before,
    ``low_rise_db`` what rises with it between 80 and 600 Hz.
    """

    time_s: float
    rise_db: float
    low_rise_db: float = 0.0

    @property
    def bright(self) -> bool:
        """Whether it is a click alone, and no thud that clicks."""
        return self.low_rise_db < self.rise_db


def find_clicks(sound: Sound) -> list[Click]:
    """Find clicks in order of time.

    The power above 1.5 kHz in windows of 5 ms is compared with its median over the 60 ms before.
    """
    hop = int(HOP_S * sound.rate_hz)
    width = int(WINDOW_S * sound.rate_hz)
    if len(sound.samples) < 4 * width + int(BEFORE_S * sound.rate_hz):
        return []
    level_db = _level_db(sound, (LOWEST_HZ, 0.45 * sound.rate_hz), WINDOW_S)
    rise_db = level_db - _before(level_db)
    low_db = _level_db(sound, LOW_HZ, _LOW_WINDOW_S)
    around = 2 * round(_LOW_WINDOW_S / HOP_S) + 1
    low_rise_db = ndimage.maximum_filter1d(low_db - _before(low_db), around)
    apart = round(APART_S / HOP_S)
    peak = (rise_db >= ndimage.maximum_filter1d(rise_db, 2 * apart + 1)) & (rise_db >= RISE_DB)
    clicks = []
    for place in np.flatnonzero(peak):
        after = level_db[place : place + round(_OVER_S / HOP_S) + 1]
        if level_db[place] - after.min() >= _FALL_DB:
            time_s = sound.start_s + place * hop / sound.rate_hz
            low = low_rise_db[min(place, len(low_rise_db) - 1)]
            clicks.append(Click(float(time_s), float(rise_db[place]), float(low)))
    return clicks


def _level_db(sound: Sound, band_hz: tuple[float, float], window_s: float) -> FloatArray:
    """Level between two pitches in windows that begin every hop."""
    from scipy import signal  # takes a second to load: only films of a rope need it

    band = signal.butter(4, band_hz, "bandpass", fs=sound.rate_hz, output="sos")
    passed = signal.sosfiltfilt(band, sound.samples.astype(np.float64))
    width = int(window_s * sound.rate_hz)
    power = np.convolve(passed**2, np.full(width, 1.0 / width), mode="valid")
    power = power[:: int(HOP_S * sound.rate_hz)]
    floor = max(float(np.median(power)) * 1e-2, 1e-12)
    level: FloatArray = 10.0 * np.log10(np.maximum(power, floor))
    return level


def _before(level_db: FloatArray) -> FloatArray:
    """Median level of the 60 ms that end 5 ms before each window."""
    size = round(BEFORE_S / HOP_S)
    middle = ndimage.median_filter(level_db, size, mode="nearest")
    back = size // 2 + round(WINDOW_S / HOP_S)
    before: FloatArray = np.concatenate((np.full(back, middle[0]), middle[:-back]))
    return before
