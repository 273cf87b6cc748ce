"""What the sound tells of breaks: holes, and a background that changes at once."""

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.types import Evidence, Finding
from vision.sound.reading import HEARD_AFTER_S, Sound

FloatArray = npt.NDArray[np.float64]

_HOLE_S: Final = 0.02
"""Length of a hole at least: shorter ones may be a coder's (no source)."""
_HOLE_LEVEL: Final = 1e-4
_HEARD_LEVEL: Final = 1e-3
"""Amplitudes, 1 for the loudest that can be stored: 3 steps of 16 bits are digital silence, 33 are
heard. No microphone is as quiet as the former."""
_AROUND_S: Final = 0.5
"""Seconds of sound on either side of a hole that is listened to."""
_BANDS_HZ: Final = (60.0, 150.0, 300.0, 600.0, 1200.0, 2400.0, 4800.0, 8000.0)
"""Octaves, up to half of the rate that sound is read at."""
_PIECE_S: Final = 0.25
"""Of sound of which a colour is told: half of it on either side of a time."""
_RARE: Final = 0.99
"""Share of all changes of colour from one piece to the next that a break exceeds."""
_LENGTHS_DIFFER_S: Final = 0.5
"""Seconds; phones end sound and pictures up to a few tenths apart (no source)."""


def sound_breaks(sound: Sound, film_ends_s: float) -> list[Finding]:
    """Tell of holes in the sound, and of sound longer or shorter than the pictures."""
    found = []
    for start_s, end_s in find_holes(sound):
        words = f"the sound is missing for {end_s - start_s:.2f} s"
        evidence = Evidence("sound", words, end_s - start_s, _HOLE_S, "s")
        found.append(Finding("sound break", start_s, end_s, False, (evidence,)))
    ends_s = sound.start_s + len(sound.samples) / sound.rate_hz
    if abs(ends_s - film_ends_s) > _LENGTHS_DIFFER_S:
        differ_s = abs(ends_s - film_ends_s)
        unread = " or more" if differ_s > HEARD_AFTER_S - _LENGTHS_DIFFER_S else ""
        words = f"sound and pictures differ in length by {differ_s:.1f} s{unread}"
        evidence = Evidence("sound", words, differ_s, _LENGTHS_DIFFER_S, "s")
        first, last = sorted((ends_s, film_ends_s))
        found.append(Finding("sound break", first, last, False, (evidence,)))
    return found


def find_holes(sound: Sound) -> list[tuple[float, float]]:
    """Find digital silence of 20 ms and more in sound that is otherwise heard.

    Returns
    -------
    Pairs of start and end, presentation times.
    """
    level = np.abs(sound.samples)
    silent = level < _HOLE_LEVEL
    edges = np.flatnonzero(np.diff(np.concatenate(([False], silent, [False])).astype(np.int8)))
    around = int(_AROUND_S * sound.rate_hz)
    holes = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start < _HOLE_S * sound.rate_hz:
            continue
        before, after = level[max(0, start - around) : start], level[end : end + around]
        heard = min(
            (float(np.median(part)) for part in (before, after) if part.size >= around // 2),
            default=0.0,
        )
        if before.size >= around // 2 and after.size >= around // 2 and heard > _HEARD_LEVEL:
            holes.append(
                (sound.start_s + start / sound.rate_hz, sound.start_s + end / sound.rate_hz)
            )
    return holes


class Background:
    """How much the colour of the sound usually changes within half a second."""

    def __init__(self, sound: Sound) -> None:
        self._sound = sound
        self._size = int(_PIECE_S * sound.rate_hz)
        self._window = np.hanning(self._size)
        hertz = np.fft.rfftfreq(self._size, 1.0 / sound.rate_hz)
        self._bands = list(pairwise(np.searchsorted(hertz, _BANDS_HZ).tolist()))
        count = len(sound.samples) // self._size
        starts = np.arange(count) * self._size
        colours = np.array([self._colour(int(start)) for start in starts])
        self._usual = (
            np.sort(np.abs(np.diff(colours, axis=0)).mean(axis=1)) if count > 1 else np.zeros(0)
        )

    def step(self, time_s: float) -> tuple[float, float] | None:
        """Change of the sound's colour at a time and what is exceeded by 1 % of all times, dB.

        None where there is too little sound to say.
        """
        middle = round((time_s - self._sound.start_s) * self._sound.rate_hz)
        inside = self._size <= middle <= len(self._sound.samples) - self._size
        if not inside or len(self._usual) < 20:
            return None
        change = np.abs(self._colour(middle) - self._colour(middle - self._size)).mean()
        return float(change), float(np.quantile(self._usual, _RARE))

    def _colour(self, start: int) -> FloatArray:
        piece = self._sound.samples[start : start + self._size].astype(np.float64)
        power = np.abs(np.fft.rfft(piece * self._window)) ** 2
        bands = [power[first:end].mean() for first, end in self._bands]
        return 10.0 * np.log10(np.array(bands) + 1e-9)
