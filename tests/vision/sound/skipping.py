"""Sound of somebody who skips a rope, with exactly known passes."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy import signal

from vision.sound.reading import SOUND_RATE_HZ, Sound

FloatArray = npt.NDArray[np.float64]


def burst(rng: np.random.Generator, length_s: float, low_hz: float, high_hz: float) -> FloatArray:
    """A short noise between two pitches that begins at once and dies away."""
    count = round(6 * length_s * SOUND_RATE_HZ)
    noise = rng.normal(0, 1, count + 400)
    band = signal.butter(2, (low_hz, high_hz), "bandpass", fs=SOUND_RATE_HZ, output="sos")
    shaped = signal.sosfilt(band, noise)[400:]
    faded: FloatArray = shaped * np.exp(-np.arange(count) / (length_s * SOUND_RATE_HZ))
    return faded / np.abs(faded).max()


def sound_of_skips(
    passes_s: Sequence[float],
    landings_s: Sequence[float],
    *,
    length_s: float,
    noise: float = 0.003,
    loud: float = 0.2,
    beat_s: Sequence[float] = (),
    seed: int = 1,
) -> Sound:
    """A rope that ticks on the floor, feet that land with a thud, and beats of music."""
    rng = np.random.default_rng(seed)
    samples = rng.normal(0, noise, round(length_s * SOUND_RATE_HZ))

    def add(when_s: float, piece: FloatArray) -> None:
        first = round(when_s * SOUND_RATE_HZ)
        room = samples[first : first + len(piece)]
        room += piece[: len(room)]

    for when_s in passes_s:
        add(when_s, loud * rng.uniform(0.6, 1.4) * burst(rng, 0.006, 1000.0, 6500.0))
    for when_s in landings_s:
        add(when_s, 0.4 * rng.uniform(0.6, 1.4) * burst(rng, 0.04, 60.0, 500.0))
    for when_s in beat_s:
        add(when_s, 0.2 * burst(rng, 0.01, 1500.0, 6000.0))
    return Sound(samples.astype(np.float32), SOUND_RATE_HZ, 0.0)
