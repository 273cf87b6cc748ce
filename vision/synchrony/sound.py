"""Where one film's sound lies in another's: correlation with phase transform, window by window.

Generalised cross-correlation with phase transform (Knapp and Carter 1976) weighs all frequencies
alike, so that a clap or a dropped plate stands out as a sharp peak whatever the microphones and
the echo make of its colour. Some long pieces find the offset; many short ones, all along the film,
say by how little it changes. Pieces of sounds that have nothing in common peak anywhere: only where
more of them agree than chance allows do two films belong together.
"""

from typing import Final

import numpy as np
import scipy.fft
from scipy.special import bdtrc

from vision.sound.reading import Sound
from vision.synchrony.lines import Line, robust_line
from vision.synchrony.types import FloatArray, SynchronyError

_LONG_S: Final = 20.0
_MOST_LONG: Final = 6
_SHORT_S: Final = 1.5
_MOST_SHORT: Final = 60
_LOWEST_HZ, _HIGHEST_HZ = 150.0, 6000.0
"""Below lies the rumble of rooms; above, what the codecs of phones leave of it."""
_REACH_S: Final = 0.1
"""How far about the offset short pieces are searched: drift of 50 parts in a million takes half an
hour to leave it."""
_ALIKE_S: Final = 0.002
_BY_CHANCE: Final = 1e-5
_FEWEST: Final = 3
_LAG_ERROR_S: Final = 0.0005
_LEAST_SHARED_S: Final = 3.0


def sound_line(first: Sound, second: Sound) -> Line:
    """How far the second film's clock is behind the first's, by their sounds.

    Returns
    -------
    Line
        Lag to be added to a time of the second film, over times of the second film.

    Raises
    ------
    SynchronyError
        No offset is agreed upon by more pieces of sound than chance would have it.
    """
    longest_s = min(len(first.samples), len(second.samples)) / first.rate_hz
    if longest_s < _LEAST_SHARED_S:
        raise SynchronyError(f"their sound is {longest_s:.1f} s long, too short to be compared")
    best: tuple[float, FloatArray, FloatArray, int] | None = None
    for lag_s in _candidates(first, second):
        time_s, lags_s = _short_lags(first, second, lag_s)
        if len(lags_s) < _FEWEST:
            continue
        agreeing = _agreeing(time_s, lags_s)
        chance = _by_chance(int(agreeing.sum()), len(lags_s))
        if best is None or chance < best[0]:
            best = chance, time_s, lags_s, int(agreeing.sum())
    if best is None:
        raise SynchronyError("their sounds have no stretch in common")
    chance, time_s, lags_s, agreed = best
    if chance > _BY_CHANCE:
        raise SynchronyError(
            f"their sounds do not belong together: of {len(lags_s)} pieces {agreed} agree on an "
            "offset, no more than chance would have it"
        )
    alike = _agreeing(time_s, lags_s)
    return robust_line(time_s[alike], lags_s[alike], _LAG_ERROR_S)


def _candidates(first: Sound, second: Sound) -> list[float]:
    """Lags at which long pieces of the second sound fit the first best, likeliest first."""
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
        found.append((float(fit[at]) / float(fit.std()), lag_s))
    return [lag_s for _, lag_s in sorted(found, reverse=True)]


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


def _agreeing(time_s: FloatArray, lag_s: FloatArray) -> np.ndarray:
    """(n,) which lags lie on the line that most of them agree on."""
    support = [(np.abs(lag_s - lag) <= _ALIKE_S + 1e-4 * np.abs(time_s - at)).sum()
               for at, lag in zip(time_s, lag_s, strict=True)]  # fmt: skip
    centre = int(np.argmax(support))
    near = np.abs(lag_s - lag_s[centre]) <= _ALIKE_S + 1e-4 * np.abs(time_s - time_s[centre])
    line = robust_line(time_s[near], lag_s[near], _LAG_ERROR_S)
    agreeing: np.ndarray = np.abs(lag_s - line.at(time_s)) <= _ALIKE_S
    return agreeing


def _by_chance(agreeing: int, pieces: int) -> float:
    """How likely so many pieces agree with one of them if lags fall anywhere (binomial tail)."""
    within = min(2.0 * _ALIKE_S / (2.0 * _REACH_S), 1.0)
    return float(pieces * bdtrc(max(agreeing - 2, -1), pieces - 1, within)) if agreeing > 1 else 1.0
