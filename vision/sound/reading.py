"""Reading the sound of a film on the film's own presentation clock."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import av
import numpy as np
import numpy.typing as npt
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler

from vision.film.opening import DEMUX_ERRORS
from vision.film.types import Film

SOUND_RATE_HZ: Final = 16_000
LONGEST_READ_S: Final = 3600.0
HEARD_AFTER_S: Final = 30.0
"""How long sound may go on after the last picture: a damaged file may put it hours later."""


class SoundError(ValueError):
    """A film whose sound cannot be decoded at all."""


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """One channel of sound.

    Attributes
    ----------
    samples
        (N,) sound pressure relative to full scale, mean of all channels, -1 to 1; 0 in gaps.
    rate_hz
        Samples a second.
    start_s
        Presentation time of the first sample, on the clock of the film's frames.
    """

    samples: npt.NDArray[np.float32]
    rate_hz: int
    start_s: float


def sound_of(film: Film) -> Sound | None:
    """Decode the sound that goes with a film's pictures, and up to half a minute more.

    Returns and raises as `read_sound`; at most an hour is read.
    """
    if not film.has_sound:
        return None
    return read_sound(film.path, min(LONGEST_READ_S, film.duration_s + HEARD_AFTER_S))


def read_sound(path: Path, longest_s: float = LONGEST_READ_S) -> Sound | None:
    """Decode the first sound track of a film as one channel of 16 kHz.

    A track that breaks off is given up to there. Gaps between the frames' presentation times are
    silence; ``longest_s`` bounds what is read.

    Returns
    -------
    The sound, or None for a film without a sound track or without one decodable sample.

    Raises
    ------
    SoundError
        The file cannot be opened as a film.
    """
    try:
        with av.open(f"file:{path}", options={"protocol_whitelist": "file"}) as container:
            if not container.streams.audio:
                return None
            chunks = list(_chunks(container, longest_s))
    except (av.error.FFmpegError, OSError) as error:
        raise SoundError(f"{path}: cannot be opened for its sound ({error})") from error
    if not chunks:
        return None
    start_s = chunks[0][0]
    offsets = [round((time_s - start_s) * SOUND_RATE_HZ) for time_s, _ in chunks]
    length = max(offset + len(chunk) for offset, (_, chunk) in zip(offsets, chunks, strict=True))
    samples = np.zeros(min(length, int(longest_s * SOUND_RATE_HZ) + 1), np.float32)
    for offset, (_, chunk) in zip(offsets, chunks, strict=True):
        if offset < 0:
            continue
        part = chunk[: max(0, len(samples) - offset)]
        samples[offset : offset + len(part)] = part
    return Sound(samples=samples, rate_hz=SOUND_RATE_HZ, start_s=start_s)


def _chunks(
    container: "av.container.InputContainer", longest_s: float
) -> Iterator[tuple[float, npt.NDArray[np.float32]]]:
    """Presentation time and samples of every decoded piece, until the first broken one."""
    resampler = _to_one_channel()
    first_s: float | None = None
    try:
        for frame in container.decode(audio=0):
            if frame.pts is None:
                continue
            try:
                pieces = resampler.resample(frame)
            except ValueError:
                # From here on the sound has another rate or other channels.
                resampler = _to_one_channel()
                pieces = resampler.resample(frame)
            for piece in pieces:
                if piece.pts is None or piece.time_base is None:
                    continue
                time_s = float(piece.pts * piece.time_base)
                first_s = time_s if first_s is None else first_s
                if time_s - first_s > longest_s:
                    return
                yield time_s, _samples(piece)
    except DEMUX_ERRORS:
        return


def _to_one_channel() -> AudioResampler:
    return AudioResampler(format="flt", layout="mono", rate=SOUND_RATE_HZ)


def _samples(piece: AudioFrame) -> npt.NDArray[np.float32]:
    values = np.asarray(piece.to_ndarray(), dtype=np.float32).reshape(-1)
    return np.clip(np.nan_to_num(values), -1.0, 1.0)
