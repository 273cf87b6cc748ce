"""What is a countdown: some short tones on a beat, then a long one; and how sure it is."""

import numpy as np
import pytest

from counting.workout.countdown import Countdown, find_start_signal, first_countdown
from vision.sound.reading import Sound
from vision.sound.tones import Tone


def tone(begin_s: float, length_s: float = 0.1, **differs: float) -> Tone:
    values = {"pitch_hz": 880.0, "level_db": 30.0, "steadiness": 1.0} | differs
    return Tone(begin_s=begin_s, end_s=begin_s + length_s, **values)


def countdown_of(tones: list[Tone], *others: Tone) -> Countdown | None:
    return first_countdown(sorted([*tones, *others], key=lambda tone: tone.begin_s))


def confidence_of(tones: list[Tone], *others: Tone) -> float:
    found = countdown_of(tones, *others)
    return 0.0 if found is None else found.confidence


LONG = tone(3.0, 0.6)
CLEAN = [tone(0.0), tone(1.0), tone(2.0), LONG]


def test_a_clean_countdown_is_sure_and_one_of_two_short_tones_a_little_less() -> None:
    assert countdown_of(CLEAN) == Countdown(
        (CLEAN[2], CLEAN[1], CLEAN[0]), LONG, pytest.approx(1.0)
    )
    assert countdown_of(CLEAN[1:]) == Countdown((CLEAN[2], CLEAN[1]), LONG, pytest.approx(0.8))
    assert countdown_of(CLEAN[2:]) is None


@pytest.mark.parametrize("beat_s", [0.4, 1.0, 1.6])
def test_beats_last_from_0_4_to_1_6_s(beat_s: float) -> None:
    tones = [tone(-beat_s), tone(0.0), tone(beat_s, 0.5)]
    assert countdown_of(tones) is not None


@pytest.mark.parametrize("beat_s", [0.39, 1.61])
def test_a_quicker_or_slower_beat_is_none(beat_s: float) -> None:
    assert countdown_of([tone(-beat_s), tone(0.0), tone(beat_s, 0.5)]) is None


@pytest.mark.parametrize(("length_s", "long"), [(0.24, 0), (0.25, 1), (3.0, 1), (3.01, 0)])
def test_the_long_tone_lasts_from_0_25_to_3_s(length_s: float, long: int) -> None:
    """It begins at 0 s, so that its length is exact."""
    tones = [tone(-2.0), tone(-1.0), tone(0.0, length_s)]
    assert (countdown_of(tones) is not None) == bool(long)


@pytest.mark.parametrize(("length_s", "short"), [(0.249, 1), (0.251, 0)])
def test_the_long_tone_is_at_least_1_7_times_as_long_as_the_short_ones(
    length_s: float, short: int
) -> None:
    tones = [tone(-1.0, length_s), tone(0.0, length_s), tone(1.0, 0.25 * 1.7)]
    assert (countdown_of(tones) is not None) == bool(short)


@pytest.mark.parametrize(("length_s", "short"), [(0.3, 1), (0.301, 0)])
def test_a_short_tone_fills_at_most_0_6_of_its_beat(length_s: float, short: int) -> None:
    tones = [tone(-0.5, 0.29), tone(0.0, length_s), tone(0.5, 1.0)]
    assert (countdown_of(tones) is not None) == bool(short)


@pytest.mark.parametrize(
    ("other", "alike"),
    [
        (tone(-1.0, pitch_hz=900.0), 1),
        (tone(-1.0, pitch_hz=860.0), 1),
        (tone(-1.0, pitch_hz=901.0), 0),
        (tone(-1.0, pitch_hz=859.0), 0),
        (tone(-1.055), 1),
        (tone(-0.945), 1),
        (tone(-1.065), 0),
        (tone(-0.935), 0),
        (tone(-1.0, 0.149), 1),
        (tone(-1.0, 0.051), 1),
        (tone(-1.0, 0.151), 0),
        (tone(-1.0, 0.049), 0),
    ],
)
def test_short_tones_share_pitch_beat_and_length_within_20_hz_0_06_s_and_0_05_s(
    other: Tone, alike: int
) -> None:
    found = first_countdown([other, tone(0.0), tone(1.0, 0.6)])
    assert (found is not None) == bool(alike)


@pytest.mark.parametrize(("length_s", "alike"), [(0.27, 1), (0.29, 0)])
def test_longer_short_tones_may_differ_by_0_4_of_their_length(length_s: float, alike: int) -> None:
    found = first_countdown([tone(-1.0, length_s), tone(0.0, 0.2), tone(1.0, 0.6)])
    assert (found is not None) == bool(alike)


def test_of_tones_near_a_beat_the_nearest_to_it_is_taken() -> None:
    late = tone(0.04)
    found = countdown_of(CLEAN, late)
    assert found is not None
    assert late not in found.short
    assert CLEAN[0] in found.short


def test_uneven_beats_cost_confidence_by_their_distance_from_an_even_beat() -> None:
    # One of four begins is 0.05 s late; 0.3 of that goes into the line through all four, and
    # 0.05 * sqrt(0.7 / 4) = 0.0209 s is left on average: exp(-0.5 * (0.0209 / 0.03) ** 2).
    late = [tone(0.0), tone(1.05), tone(2.0), LONG]
    assert confidence_of(late) == pytest.approx(0.7844, abs=5e-4)


def test_uneven_loudness_costs_confidence() -> None:
    # 30, 30 and 36 dB spread by 2.83 dB: exp(-0.5 * (2.83 / 6) ** 2). The long one may be louder.
    louder = [tone(0.0, level_db=36.0), tone(1.0), tone(2.0), tone(3.0, 0.6, level_db=50.0)]
    assert confidence_of(louder) == pytest.approx(0.8948, abs=5e-4)


@pytest.mark.parametrize("fading", range(4))
def test_a_tone_that_fades_as_of_a_struck_object_costs_confidence(fading: int) -> None:
    tones = [tone(t.begin_s, t.length_s, steadiness=0.3) for t in CLEAN]
    assert confidence_of(tones) == pytest.approx(1.0)
    whole = tones[fading]
    tones[fading] = tone(whole.begin_s, whole.length_s, steadiness=0.15)
    assert confidence_of(tones) == pytest.approx(0.5)
    tones[fading] = tone(whole.begin_s, whole.length_s, steadiness=0.149)
    assert countdown_of(tones) is None, "less than even odds is no start"


@pytest.mark.parametrize(
    ("other", "counts"),
    [
        (tone(1.5, pitch_hz=440.0), 1),
        (tone(-1.0, pitch_hz=440.0), 1),
        (tone(4.6, pitch_hz=440.0), 1),
        (tone(-1.01, pitch_hz=440.0), 0),
        (tone(4.61, pitch_hz=440.0), 0),
        (tone(1.5, pitch_hz=440.0, steadiness=0.3), 0),
        (tone(1.5, pitch_hz=440.0, level_db=20.0), 0),
        (tone(1.5, pitch_hz=440.0, level_db=20.1), 1),
        (tone(1.051, pitch_hz=1760.0), 1),
        (tone(1.049, pitch_hz=1760.0), 0),
        (tone(0.951, pitch_hz=1760.0), 0),
        (tone(0.949, pitch_hz=1760.0), 1),
    ],
)
def test_each_other_steady_tone_from_a_beat_before_to_a_beat_after_costs_a_quarter(
    other: Tone, counts: int
) -> None:
    """Faint and fading ones do not, nor overtones: half of them sounds with a part of it."""
    assert confidence_of(CLEAN, other) == pytest.approx(0.75 if counts else 1.0)


def test_two_other_tones_cost_a_quarter_each() -> None:
    others = tone(0.5, pitch_hz=440.0), tone(1.5, pitch_hz=440.0)
    assert confidence_of(CLEAN, *others) == pytest.approx(0.75**2)


def test_how_loud_others_count_is_told_by_the_quietest_part_of_the_signal() -> None:
    loud = [*CLEAN[:3], tone(3.0, 0.6, level_db=60.0)]
    assert confidence_of(loud, tone(1.5, pitch_hz=440.0, level_db=25.0)) == pytest.approx(0.75)


def test_of_two_ways_to_count_down_to_one_tone_the_surer_is_taken() -> None:
    doubled = [tone(t.begin_s, pitch_hz=660.0, steadiness=0.2) for t in CLEAN[:3]]
    found = countdown_of(CLEAN, *doubled)
    assert found is not None
    assert {t.pitch_hz for t in found.short} == {880.0}


def test_the_first_long_tone_that_a_countdown_leads_to_is_the_start() -> None:
    later = [tone(t.begin_s + 20.0, t.length_s) for t in CLEAN]
    found = countdown_of(CLEAN, *later)
    assert found is not None
    assert found.last == LONG


def test_the_start_is_the_begin_of_the_long_tone_in_the_sound() -> None:
    """Two tones of 660 Hz and one of 1320 Hz, heard from 10 s of the film's clock on."""
    rate_hz = 8000
    time_s = np.arange(4 * rate_hz) / rate_hz
    heard = np.random.default_rng(1).normal(0.0, 1e-4, time_s.size)
    for begin_s, length_s, pitch_hz in ((1.0, 0.1, 660.0), (2.0, 0.1, 660.0), (3.0, 0.5, 1320.0)):
        during = (time_s >= begin_s) & (time_s < begin_s + length_s)
        heard[during] += 0.1 * np.sin(2 * np.pi * pitch_hz * time_s[during])
    found = find_start_signal(Sound(heard.astype(np.float32), rate_hz, 10.0))
    assert found is not None
    assert found.time_s == pytest.approx(13.0, abs=0.005)
    assert 0.0 < found.uncertainty_s < 0.01
    assert found.confidence == pytest.approx(0.8, abs=0.02)
    assert (found.short_tones, found.short_pitch_hz, found.long_pitch_hz) == (
        2,
        pytest.approx(660.0, abs=5.0),
        pytest.approx(1320.0, abs=5.0),
    )


def test_silence_holds_no_start() -> None:
    assert find_start_signal(Sound(np.zeros(40_000, np.float32), 8000, 0.0)) is None
