"""Short sounds are found to the hundredth of a second, and long ones are none."""

import numpy as np
import pytest

from tests.vision.sound.skipping import sound_of_skips
from vision.sound.clicks import find_clicks
from vision.sound.reading import SOUND_RATE_HZ, Sound

TIMES_S = (0.5, 0.65, 1.3, 2.2, 2.3)


def test_each_click_is_found_once_to_a_hundredth_of_a_second() -> None:
    found = find_clicks(sound_of_skips(TIMES_S, (), length_s=3.0))
    assert [click.time_s for click in found] == pytest.approx(TIMES_S, abs=0.01)


@pytest.mark.parametrize(("apart_s", "heard"), [(0.05, 1), (0.1, 2)])
def test_what_follows_faster_than_a_rope_can_is_the_same_click(apart_s: float, heard: int) -> None:
    """Two passes of a double under are a tenth of a second apart (common practice, no source)."""
    found = find_clicks(sound_of_skips((0.5, 0.5 + apart_s), (), length_s=1.0))
    assert len(found) == heard


@pytest.mark.parametrize("noise", [0.001, 0.003, 0.01])
def test_thuds_of_feet_are_told_from_clicks(noise: float) -> None:
    thuds = find_clicks(sound_of_skips((), (0.4, 0.9, 1.4, 2.2), length_s=3.0, noise=noise))
    clicks = find_clicks(sound_of_skips(TIMES_S, (), length_s=3.0, noise=noise))
    assert not any(thud.bright for thud in thuds)
    assert len(clicks) == len(TIMES_S)
    assert all(click.bright for click in clicks)


@pytest.mark.parametrize("seed", range(5))
def test_noise_alone_has_none(seed: int) -> None:
    assert find_clicks(sound_of_skips((), (), length_s=60.0, noise=0.05, seed=seed)) == []


def test_a_tone_that_swells_is_none() -> None:
    time_s = np.arange(2 * SOUND_RATE_HZ) / SOUND_RATE_HZ
    swell = np.clip((time_s - 0.5) / 0.3, 0.0, 1.0)
    noise = np.random.default_rng(2).normal(0, 0.003, len(time_s))
    tone = 0.3 * swell * np.sin(2 * np.pi * 3000.0 * time_s) + noise
    assert find_clicks(Sound(tone.astype(np.float32), SOUND_RATE_HZ, 0.0)) == []


def test_the_films_clock_is_kept() -> None:
    sound = sound_of_skips((0.5,), (), length_s=1.0)
    (click,) = find_clicks(Sound(sound.samples, sound.rate_hz, 7.0))
    assert click.time_s == pytest.approx(7.5, abs=0.01)


def test_a_sound_too_short_to_compare_has_none() -> None:
    assert find_clicks(Sound(np.zeros(100, np.float32), SOUND_RATE_HZ, 0.0)) == []
