"""The start signal of a countdown: some short tones at equal distance, then a longer one."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.sound.reading import Sound
from vision.sound.tones import Tone, find_tones, tone_onset

FEWEST_SHORT_TONES: Final = 2
"""Fewer are no countdown: any two notes would be one."""
SHORTEST_BEAT_S: Final = 0.4
LONGEST_BEAT_S: Final = 1.6
"""Seconds from tone to tone: timers beep once or twice a second (common practice, no source)."""
SHORTEST_LONG_TONE_S: Final = 0.25
LONGEST_LONG_TONE_S: Final = 3.0
"""Seconds of the last tone (common practice, no source)."""
BEAT_TOLERANCE_S: Final = 0.06
"""Seconds by which a tone may miss its beat, with the echo of a room (no source)."""
SAME_PITCH_HZ: Final = 20.0
"""Hertz within which two tones have one pitch: what 0.1 s of a tone tells of it, twice over."""
LEAST_CONFIDENCE: Final = 0.5
"""Below it a countdown is more likely none (no source)."""


@dataclass(frozen=True, slots=True)
class StartSignal:
    """A countdown found in the sound.

    ``time_s`` is the begin of the long tone on the film's clock, with its standard uncertainty;
    ``confidence`` (0 to 1) falls with uneven beats, uneven or fading tones, few short tones and
    other steady tones around, as in music.
    """

    time_s: float
    uncertainty_s: float
    confidence: float
    short_tones: int
    short_pitch_hz: float
    long_pitch_hz: float


@dataclass(frozen=True, slots=True)
class Countdown:
    """Short tones, the nearest to the long one first, and the long one after them."""

    short: tuple[Tone, ...]
    last: Tone
    confidence: float


def find_start_signal(sound: Sound) -> StartSignal | None:
    """Find the first countdown of the film that is not doubtful, or None.

    What a countdown is says `first_countdown`.
    """
    countdown = first_countdown(find_tones(sound))
    if countdown is None:
        return None
    time_s, uncertainty_s = tone_onset(sound, countdown.last)
    return StartSignal(
        time_s=time_s,
        uncertainty_s=uncertainty_s,
        confidence=countdown.confidence,
        short_tones=len(countdown.short),
        short_pitch_hz=float(np.mean([tone.pitch_hz for tone in countdown.short])),
        long_pitch_hz=countdown.last.pitch_hz,
    )


def first_countdown(tones: Sequence[Tone]) -> Countdown | None:
    """Find the first countdown among tones that is not doubtful, or None.

    Two or more short tones of one pitch, one beat apart, and one beat after the last of them a
    tone at least 1.7 times as long, of any pitch.
    """
    found = [
        countdown
        for last in tones
        if SHORTEST_LONG_TONE_S <= last.length_s <= LONGEST_LONG_TONE_S
        for countdown in [_best_countdown(last, tones)]
        if countdown is not None and countdown.confidence >= LEAST_CONFIDENCE
    ]
    return min(found, key=lambda countdown: countdown.last.begin_s, default=None)


def _best_countdown(last: Tone, tones: Sequence[Tone]) -> Countdown | None:
    best: Countdown | None = None
    for tone in tones:
        beat_s = last.begin_s - tone.begin_s
        if not SHORTEST_BEAT_S <= beat_s <= LONGEST_BEAT_S or not _is_short(tone, last, beat_s):
            continue
        short = _short_tones(tone, beat_s, last, tones)
        if len(short) < FEWEST_SHORT_TONES:
            continue
        confidence = _confidence(short, last, beat_s, tones)
        if best is None or confidence > best.confidence:
            best = Countdown(tuple(short), last, confidence)
    return best


def _is_short(tone: Tone, last: Tone, beat_s: float) -> bool:
    return tone.length_s * 1.7 <= last.length_s and tone.length_s <= 0.6 * beat_s


def _short_tones(nearest: Tone, beat_s: float, last: Tone, tones: Sequence[Tone]) -> list[Tone]:
    """Walk back from the nearest short tone, a beat at a time, as long as there is another one."""
    short = [nearest]
    while len(short) < 20:
        due_s = last.begin_s - (len(short) + 1) * beat_s
        fitting = [
            tone
            for tone in tones
            if abs(tone.begin_s - due_s) <= BEAT_TOLERANCE_S
            and abs(tone.pitch_hz - nearest.pitch_hz) <= SAME_PITCH_HZ
            and abs(tone.length_s - nearest.length_s) <= max(0.05, 0.4 * nearest.length_s)
        ]
        if not fitting:
            break
        short.append(min(fitting, key=lambda tone: abs(tone.begin_s - due_s)))
    return short


def _confidence(short: list[Tone], last: Tone, beat_s: float, tones: Sequence[Tone]) -> float:
    """Product of five factors, each 1 for a clean countdown."""
    signal = [*short, last]
    begins = np.array([tone.begin_s for tone in signal[::-1]])
    order = np.concatenate(([0.0], np.arange(len(short), 0, -1.0)))
    fitted = np.polynomial.Polynomial.fit(order, begins, 1)
    uneven_s = float(np.sqrt(np.mean((begins - fitted(order)) ** 2)))
    levels = np.array([tone.level_db for tone in short])
    fading = min(tone.steadiness for tone in signal)
    begin_s, end_s = min(begins) - beat_s, last.end_s + beat_s
    quietest_db = min(tone.level_db for tone in signal)
    others = sum(
        begin_s <= tone.begin_s <= end_s
        and tone.steadiness > 0.3
        and tone.level_db > quietest_db - 10.0
        and not any(_together(tone, part) for part in signal)
        for tone in tones
    )
    return float(
        np.exp(-0.5 * (uneven_s / 0.03) ** 2)
        * np.exp(-0.5 * (float(levels.std()) / 6.0) ** 2)
        * min(1.0, fading / 0.3)
        * (0.8 if len(short) == FEWEST_SHORT_TONES else 1.0)
        * 0.75**others
    )


def _together(tone: Tone, part: Tone) -> bool:
    """Whether a tone sounds with a part of the signal, as its overtones do."""
    shared_s = min(tone.end_s, part.end_s) - max(tone.begin_s, part.begin_s)
    return shared_s >= 0.5 * tone.length_s
