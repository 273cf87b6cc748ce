"""Sound is read on the film's clock, and a tone's begin is found where the test put it."""

import wave
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from tests.vision.film.films import write_film, write_with_sound
from vision.film.reading import read_film
from vision.sound.reading import SOUND_RATE_HZ, Sound, SoundError, read_sound, sound_of
from vision.sound.tones import find_tones, tone_onset

RATE = 48_000
FloatArray = npt.NDArray[np.float64]


def beep(into: FloatArray, at_s: float, length_s: float, hz: float, amplitude: float) -> None:
    """Add a tone with flanks of 5 ms."""
    first, count = round(at_s * RATE), np.arange(int(length_s * RATE)) / RATE
    flank = np.clip(np.minimum(count, length_s - count) / 0.005, 0.0, 1.0)
    into[first : first + len(count)] += amplitude * np.sin(2 * np.pi * hz * count) * flank


def write_wav(path: Path, samples: FloatArray, channels: int = 1) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(RATE)
        whole = np.repeat(np.clip(samples, -1, 1), channels)
        file.writeframes((whole * 32767).astype("<i2").tobytes())
    return path


@pytest.fixture
def noise() -> FloatArray:
    return np.random.default_rng(3).normal(0.0, 0.05, 6 * RATE)


@pytest.mark.parametrize("channels", [1, 2])
def test_a_wav_is_read_as_one_channel_with_its_own_times(
    tmp_path: Path, noise: FloatArray, channels: int
) -> None:
    sound = read_sound(write_wav(tmp_path / "a.wav", noise, channels))
    assert sound is not None
    assert sound.rate_hz == SOUND_RATE_HZ
    assert sound.start_s == 0.0
    assert len(sound.samples) / sound.rate_hz == pytest.approx(6.0, abs=0.01)


def test_reading_stops_where_it_is_told(tmp_path: Path, noise: FloatArray) -> None:
    sound = read_sound(write_wav(tmp_path / "a.wav", noise), longest_s=2.0)
    assert sound is not None
    assert 2.0 <= len(sound.samples) / sound.rate_hz < 2.2


@pytest.mark.parametrize(("later_s", "heard_s"), [(20.0, 21.0), (2000.0, 1.0)])
def test_sound_goes_with_the_pictures_and_half_a_minute_more(
    tmp_path: Path, later_s: float, heard_s: float
) -> None:
    """A second of sound beside a film, and another second so much later."""
    path = write_film(tmp_path / "film.mkv", [3000 * n for n in range(30)])
    heard = write_with_sound(tmp_path / "heard.mkv", path, (0.0, later_s), 1.0, level=10_000)
    sound = sound_of(read_film(heard))
    assert sound is not None
    assert len(sound.samples) / sound.rate_hz == pytest.approx(heard_s, abs=0.05)


def test_a_film_without_a_sound_track_has_no_sound(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.mp4", [3000 * n for n in range(5)])
    assert sound_of(read_film(path)) is None


def test_what_is_no_film_is_an_error_that_names_it(tmp_path: Path) -> None:
    (tmp_path / "a.mp4").write_bytes(b"no film at all")
    with pytest.raises(SoundError, match=r"a\.mp4"):
        read_sound(tmp_path / "a.mp4")


def test_a_sound_track_that_breaks_off_is_given_up_to_there(
    tmp_path: Path, noise: FloatArray
) -> None:
    path = write_wav(tmp_path / "a.wav", noise)
    path.write_bytes(path.read_bytes()[: 3 * RATE * 2])
    sound = read_sound(path)
    assert sound is not None
    assert len(sound.samples) / sound.rate_hz == pytest.approx(3.0, abs=0.05)


def test_noise_and_silence_hold_no_steady_tone(noise: FloatArray) -> None:
    hiss = Sound(noise[::3].astype(np.float32), RATE // 3, 0.0)
    assert [tone for tone in find_tones(hiss) if tone.length_s > 0.1] == []
    silence = Sound(np.zeros(3 * SOUND_RATE_HZ, np.float32), SOUND_RATE_HZ, 0.0)
    assert find_tones(silence) == []
    assert find_tones(Sound(np.zeros(10, np.float32), SOUND_RATE_HZ, 0.0)) == []


def test_a_tone_is_found_with_its_pitch_begin_and_length(tmp_path: Path, noise: FloatArray) -> None:
    beep(noise, 2.345, 0.4, 1234.0, 0.05 * np.sqrt(2.0))
    sound = read_sound(write_wav(tmp_path / "a.wav", noise))
    assert sound is not None
    (tone,) = [tone for tone in find_tones(sound) if tone.length_s > 0.2]
    assert tone.pitch_hz == pytest.approx(1234.0, abs=5.0)
    assert tone.length_s == pytest.approx(0.4, abs=0.05)
    assert tone.steadiness > 0.7
    begin_s, uncertainty_s = tone_onset(sound, tone)
    assert begin_s == pytest.approx(2.345, abs=0.01)
    assert 0.0 < uncertainty_s < 0.02


def test_something_struck_fades_and_is_no_steady_tone(noise: FloatArray) -> None:
    count = np.arange(RATE) / RATE
    noise[RATE : 2 * RATE] += 0.3 * np.exp(-12 * count) * np.sin(2 * np.pi * 700 * count)
    sound = Sound(noise[::3].astype(np.float32), RATE // 3, 0.0)
    (tone,) = [tone for tone in find_tones(sound) if tone.length_s > 0.1]
    assert tone.steadiness < 0.3


def tones_of(*beeps: tuple[float, float, float, float]) -> int:
    """Count what is found where these are in faint noise: begin, length, pitch, amplitude."""
    samples = np.random.default_rng(3).normal(0.0, 0.005, 6 * RATE)
    for at_s, length_s, hz, amplitude in beeps:
        beep(samples, at_s, length_s, hz, amplitude)
    # Every third sample: faint noise alone is heard up to 8 kHz.
    return len(find_tones(Sound(samples[::3].astype(np.float32), RATE // 3, 0.0)))


@pytest.mark.parametrize(("hz", "count"), [(230, 0), (270, 1), (6900, 1), (7100, 0)])
def test_signals_sound_between_250_and_7000_hz(hz: float, count: int) -> None:
    assert tones_of((2.0, 0.5, hz, 0.1)) == count


@pytest.mark.parametrize(("length_s", "count"), [(0.01, 0), (0.03, 1)])
def test_a_click_is_no_tone(length_s: float, count: int) -> None:
    """The window of 64 ms makes a loud tone seem 20 to 40 ms longer than it is."""
    assert tones_of((2.0, length_s, 1000, 0.1)) == count


@pytest.mark.parametrize(("gap_s", "count"), [(0.05, 1), (0.07, 2)])
def test_a_tone_may_stop_for_a_moment(gap_s: float, count: int) -> None:
    assert tones_of((2.0, 0.4, 1000, 0.1), (2.4 + gap_s, 0.4, 1000, 0.1)) == count


@pytest.mark.parametrize(("amplitude", "count"), [(0.0008, 0), (0.001, 1)])
def test_a_tone_is_ten_times_as_strong_as_the_noise_at_its_pitch(
    amplitude: float, count: int
) -> None:
    assert min(tones_of((2.0, 0.4, 1000, amplitude)), 1) == count
