"""Finding steady tones in sound, and the exact moment at which one begins."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from vision.sound.reading import Sound

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

WINDOW_S: Final = 0.064
HOP_S: Final = 0.008
"""Of the spectrogram: pitches are told to 16 Hz, times to eight milliseconds."""
LOWEST_HZ: Final = 250.0
HIGHEST_HZ: Final = 7000.0
"""What phones hear well and their codecs keep (from memory)."""
LOUDER_THAN_FLOOR: Final = 10.0
LOUDER_THAN_NEIGHBOURS: Final = 6.0
"""Power over that of the same pitch at other times, and of other pitches at the same time: noise
alone, whose power is exponential, passes neither for as long as a tone lasts."""
SHORTEST_TONE_S: Final = 0.05
"""As it stands in the spectrogram, where a loud one is up to 40 ms longer than it is."""
BRIDGED_GAP_S: Final = 0.025
"""A tone that is lost for so long goes on."""
QUIET_S: Final = 0.3
"""Before a tone, which shows how much noise there is."""
UNKNOWN_FLANK_S: Final = 0.004
"""Tones swell within some milliseconds; where in that flank the start lies is a convention."""


@dataclass(frozen=True, slots=True)
class Tone:
    """A stretch in which one pitch stands out of the noise.

    ``begin_s`` and ``end_s`` are presentation times, good to about 0.02 s (`tone_onset` sharpens
    one). ``level_db`` is the power over the floor at this pitch; ``steadiness`` is the level of
    the stretch's last third over that of its first, 1 for a beep and near 0 for a struck object.
    """

    pitch_hz: float
    begin_s: float
    end_s: float
    level_db: float
    steadiness: float

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.end_s - self.begin_s


def find_tones(sound: Sound) -> list[Tone]:
    """Tones between 250 and 7000 Hz in order of their begin.

    A tone is a peak of the short-time spectrum (Hann window of 64 ms) that stands over the
    median of its own pitch over time and over the neighbouring pitches at its own time.
    """
    width = int(WINDOW_S * sound.rate_hz)
    hop = int(HOP_S * sound.rate_hz)
    if len(sound.samples) < 4 * width:
        return []
    pitch_hz, centre_s, power = _spectrogram(sound, width, hop)
    floor = np.median(power, axis=1, keepdims=True)
    floor = np.maximum(floor, max(float(np.median(floor)), 1e-16) * 1e-3)
    ring = np.ones(21)
    ring[7:14] = 0.0
    neighbours = ndimage.convolve1d(power, ring / ring.sum(), axis=0, mode="nearest")
    peak = power >= ndimage.maximum_filter1d(power, 5, axis=0)
    strong = (power > LOUDER_THAN_FLOOR * floor) & (power > LOUDER_THAN_NEIGHBOURS * neighbours)
    mask = ndimage.maximum_filter1d((peak & strong).astype(np.uint8), 3, axis=0).astype(bool)
    found: list[Tone] = []
    enough = SHORTEST_TONE_S / HOP_S
    for row in np.flatnonzero(mask.sum(axis=1) >= enough):
        found.extend(_row_tones(int(row), mask[row], power, floor[row, 0], pitch_hz, centre_s))
    return _without_doubles(found)


def _spectrogram(sound: Sound, width: int, hop: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pitches (F,), centre times (T,) and power (F, T) of the searched band."""
    from scipy import signal  # takes a second to load: only films with a clock to find need it

    transform = signal.ShortTimeFFT(
        signal.windows.hann(width, sym=False), hop, sound.rate_hz, mfft=width
    )
    first = transform.lower_border_end[1]
    last = transform.upper_border_begin(len(sound.samples))[1]
    values = transform.stft(sound.samples, p0=first, p1=last)
    band = (transform.f >= LOWEST_HZ) & (transform.f <= HIGHEST_HZ)
    centre_s = sound.start_s + np.arange(first, last) * hop / sound.rate_hz
    power = np.abs(values[band]) ** 2
    return transform.f[band], centre_s, power


def _row_tones(
    row: int,
    on: BoolArray,
    power: FloatArray,
    floor: float,
    pitch_hz: FloatArray,
    centre_s: FloatArray,
) -> list[Tone]:
    """Stretches of one pitch, as tones."""
    bridge = round(BRIDGED_GAP_S / HOP_S)
    closed = ndimage.binary_closing(np.pad(on, bridge), np.ones(bridge + 1))[bridge:-bridge]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], closed.astype(np.int8), [0]))))
    tones: list[Tone] = []
    lowest, highest = max(0, row - 1), row + 2
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if (end - begin) * HOP_S < SHORTEST_TONE_S:
            continue
        stretch = power[lowest:highest, begin:end].sum(axis=0)
        level = float(np.median(stretch))
        loud = np.flatnonzero(stretch >= level / 4.0)
        first, last = begin + int(loud[0]), begin + int(loud[-1])
        third = max(1, (last - first + 1) // 3)
        body = power[lowest:highest, first : last + 1].sum(axis=0)
        rows = power[lowest:highest, begin:end].mean(axis=1)
        tones.append(
            Tone(
                pitch_hz=float(np.average(pitch_hz[lowest:highest], weights=rows)),
                begin_s=float(centre_s[first]),
                end_s=float(centre_s[last]),
                level_db=float(10.0 * np.log10(max(level, 1e-300) / max(3.0 * floor, 1e-300))),
                steadiness=float(
                    min(1.0, np.mean(body[-third:]) / max(float(np.mean(body[:third])), 1e-300))
                ),
            )
        )
    return tones


def _without_doubles(tones: list[Tone]) -> list[Tone]:
    """Keep the strongest of tones that are the same stretch seen at neighbouring pitches."""
    kept: list[Tone] = []
    for tone in sorted(tones, key=lambda t: -t.level_db):
        same = any(
            abs(tone.pitch_hz - other.pitch_hz) < 3.0 / WINDOW_S
            and tone.begin_s < other.end_s
            and other.begin_s < tone.end_s
            for other in kept
        )
        if not same:
            kept.append(tone)
    return sorted(kept, key=lambda t: t.begin_s)


def tone_onset(sound: Sound, tone: Tone) -> tuple[float, float]:
    """Sharpen the begin of a tone.

    The sound is shifted down by the tone's own pitch; its part in phase with the tone's body is 0
    on average before the begin and constant after it, so that the begin follows from its mean over
    a span around it, without a threshold and without bias from noise.

    Returns
    -------
    The presentation time at which the tone begins and its standard uncertainty, seconds.
    """
    rate = sound.rate_hz
    coarse = (tone.begin_s - sound.start_s) * rate
    inside = slice(
        max(0, round(coarse + 0.03 * rate)), max(1, round(coarse + (tone.length_s - 0.02) * rate))
    )
    body = np.asarray(sound.samples[inside], dtype=np.float64)
    if len(body) < 0.03 * rate:
        return tone.begin_s, HOP_S
    pitch_hz = _sharp_pitch(body, tone.pitch_hz, rate)
    lead = min(0.12, 0.8 * tone.length_s)
    first = max(0, round(coarse - lead * rate))
    span = slice(first, inside.stop)
    count = np.arange(span.start, span.stop)
    turned = np.asarray(sound.samples[span], dtype=np.float64) * np.exp(
        -2j * np.pi * pitch_hz / rate * count
    )
    plateau = turned[inside.start - first :].mean()
    in_phase = (turned * np.conj(plateau)).real / max(abs(plateau) ** 2, 1e-300)
    begin = span.stop - float(in_phase.sum())
    quiet = slice(max(0, first - round(QUIET_S * rate)), max(0, round(coarse - 0.02 * rate)))
    before = np.asarray(sound.samples[quiet], dtype=np.float64) * np.exp(
        -2j * np.pi * pitch_hz / rate * np.arange(quiet.start, quiet.stop)
    )
    scaled = (before * np.conj(plateau)).real / max(abs(plateau) ** 2, 1e-300)
    noise_s = _scatter_of_sums(scaled, round(lead * rate), rate) / rate
    return sound.start_s + begin / rate, float(np.hypot(noise_s, UNKNOWN_FLANK_S))


def _sharp_pitch(body: FloatArray, near_hz: float, rate: int) -> float:
    """Pitch of the strongest line within 20 Hz of ``near_hz``: peak of a zero-padded spectrum."""
    size = 1 << (int(np.ceil(np.log2(len(body)))) + 4)
    spectrum = np.abs(np.fft.rfft(body * np.hanning(len(body)), size))
    pitch = np.fft.rfftfreq(size, 1.0 / rate)
    near = np.abs(pitch - near_hz) <= 20.0
    return float(pitch[near][np.argmax(spectrum[near])])


def _scatter_of_sums(quiet: FloatArray, length: int, rate: int) -> float:
    """Give the standard deviation of the noise summed over ``length`` samples before the tone.

    Taken from pieces of 10 ms of the quiet before it. The noise in the tone's body has no part:
    its mean is 1 by the choice of the plateau.
    """
    piece = max(1, rate // 100)
    pieces = len(quiet) // piece
    if pieces < 2:
        return 0.0
    sums = quiet[: pieces * piece].reshape(pieces, piece).sum(axis=1)
    return float(np.sqrt(np.mean(sums**2) * length / piece))
