"""Where one film's sound lies in another's: correlation with phase transform, window by window.

Generalised cross-correlation with phase transform (Knapp and Carter 1976) weighs all frequencies
alike, so that a clap or a dropped plate stands out as a sharp peak whatever the microphones and
the echo make of its colour. Some long pieces find the offset; many short ones, all along the film,
say by how little it changes.
"""

from typing import Final

import numpy as np
import scipy.fft

from vision.sound.reading import Sound
from vision.synchrony.lines import DRIFT_PRIOR, Line, robust_line
from vision.synchrony.types import FloatArray, SynchronyError

_LONG_S: Final = 20.0
"""Length of the pieces that find the offset: a few claps or dropped plates each (no source)."""
_MOST_LONG: Final = 6
"""Pieces that look for the offset: each costs a correlation with the whole of the other film."""
_SHORT_S: Final = 1.5
"""Length of the pieces that tell the drift: longer ones would be blurred by it (no source)."""
_MOST_SHORT: Final = 60
"""Pieces that tell the drift: its error falls with the root of their number (no source)."""
_LOWEST_HZ, _HIGHEST_HZ = 150.0, 6000.0
"""Below lies the rumble of rooms; above, what the codecs of phones leave of it."""
_REACH_S: Final = 0.1
"""How far about the offset short pieces are searched: drift of 50 parts in a million takes half an
hour to leave it."""
_ALIKE_S: Final = 0.002
STANDS_OUT: Final = 10.0
"""Standard deviations by which sounds that belong together have to fit. The highest of a million
normal values is at 5; DECISIONS.md has what pairs show that belong together, and what others do."""
_FEWEST: Final = 3
"""Short pieces at least that shared sound is cut into."""
_LAG_ERROR_S: Final = 0.0005
"""Least standard error of the lag of a short piece: a sixteenth of a millisecond is one sample
at 16 kHz, the echo of a room takes more (no source)."""
_LEAST_SHARED_S: Final = 3.0
"""Shorter sound is refused: `_FEWEST` pieces of a second (no source)."""


def sound_line(first: Sound, second: Sound) -> Line:
    """How far the second film's clock is behind the first's, by their sounds.

    Returns
    -------
    Line
        Lag to be added to a time of the second film, over times of the second film.

    Raises
    ------
    SynchronyError
        No long piece of one fits the other better than sounds that have nothing in common do.
    """
    longest_s = min(len(first.samples), len(second.samples)) / first.rate_hz
    if longest_s < _LEAST_SHARED_S:
        raise SynchronyError(f"their sound is {longest_s:.1f} s long, too short to be compared")
    height, about_s, at_s = _best_fit(first, second)
    if height < STANDS_OUT:
        raise SynchronyError(
            "their sounds do not belong together: where they fit best, the fit stands out by "
            f"{height:.0f} standard deviations, {STANDS_OUT:.0f} are needed"
        )
    time_s, lags_s = _short_lags(first, second, about_s)
    alike = np.abs(lags_s - about_s) <= _ALIKE_S + 2 * DRIFT_PRIOR * np.abs(time_s - at_s)
    if not alike.any():
        return robust_line(np.array([at_s]), np.array([about_s]), _ALIKE_S)
    return robust_line(time_s[alike], lags_s[alike], _LAG_ERROR_S)


def _best_fit(first: Sound, second: Sound) -> tuple[float, float, float]:
    """How far the best fit of a long piece stands out, its lag, and the middle of the piece."""
    whole = np.asarray(first.samples, np.float64)
    size = min(int(_LONG_S * second.rate_hz), len(second.samples))
    last = len(second.samples) - size
    starts = np.unique(np.linspace(0, last, _MOST_LONG if last > size // 2 else 2).astype(int))
    length = scipy.fft.next_fast_len(len(whole) + size, real=True)
    band = _band(length, first.rate_hz)
    spectrum = _whitened(scipy.fft.rfft(whole, length), band)
    found = []
    for start in starts:
        piece = np.asarray(second.samples[start : start + size], np.float64)
        other = _whitened(scipy.fft.rfft(piece, length), band)
        fit = scipy.fft.irfft(spectrum * np.conj(other), length)
        at = int(np.argmax(fit))
        shift = at if at < len(whole) else at - length
        lag_s = (shift - start) / first.rate_hz + first.start_s - second.start_s
        middle_s = (start + size / 2) / second.rate_hz + second.start_s
        found.append((float(fit[at]) / max(float(fit.std()), 1e-300), lag_s, middle_s))
    return max(found)


def _band(length: int, rate_hz: int) -> FloatArray:
    hertz = scipy.fft.rfftfreq(length, 1.0 / rate_hz)
    return np.asarray((hertz >= _LOWEST_HZ) & (hertz <= _HIGHEST_HZ), np.float64)


def _whitened(spectrum: np.ndarray, band: FloatArray) -> np.ndarray:
    white: np.ndarray = spectrum * (band / np.maximum(np.abs(spectrum), 1e-12))
    return white


def _short_lags(first: Sound, second: Sound, about_s: float) -> tuple[FloatArray, FloatArray]:
    """Middle times in the second film of short pieces that both hear, and each one's best lag."""
    rate = first.rate_hz
    size, reach = int(_SHORT_S * rate), int(_REACH_S * rate)
    behind = round((about_s + second.start_s - first.start_s) * rate)
    begin, end = max(0, -behind), min(len(second.samples), len(first.samples) - behind)
    size = min(size, max((end - begin) // _FEWEST, 0))
    if size < rate // 2:
        return np.zeros(0), np.zeros(0)
    count = min(_MOST_SHORT, (end - begin) // size)
    length = scipy.fft.next_fast_len(2 * size, real=True)
    band, window = _band(length, rate), np.hanning(size)
    times, lags = [], []
    for start in np.linspace(begin, end - size, count).astype(int):
        pieces = [
            np.asarray(sound.samples[at : at + size], np.float64) * window
            for sound, at in ((first, start + behind), (second, start))
        ]
        if not all(piece.any() for piece in pieces):
            continue
        one, other = (_whitened(scipy.fft.rfft(piece, length), band) for piece in pieces)
        fit = scipy.fft.irfft(one * np.conj(other), length)
        near = np.concatenate([fit[-reach:], fit[: reach + 1]])
        best = int(np.argmax(near))
        lags.append((behind + best - reach + _between(near, best)) / rate)
        times.append((start + size / 2) / rate + second.start_s)
    return np.array(times), np.array(lags) + first.start_s - second.start_s


def _between(values: FloatArray, best: int) -> float:
    """Where between samples the peak lies, by the parabola through it and its neighbours."""
    if not 0 < best < len(values) - 1:
        return 0.0
    before, peak, after = values[best - 1 : best + 2]
    bend = before - 2 * peak + after
    return 0.0 if bend >= 0 else float(0.5 * (before - after) / bend)
