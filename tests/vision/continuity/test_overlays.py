"""Captions, clocks, lamps, dropped pictures and even athletes: none of them is a break."""

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from tests.vision.continuity.conftest import HEIGHT, RATE_HZ, WIDTH, Picture, Write, scene
from tests.vision.continuity.test_assess import breaks, standing_track
from vision.continuity.assess import assess_continuity
from vision.continuity.speed import find_rate_changes
from vision.continuity.types import Continuity, Finding
from vision.film.reading import read_film

pytestmark = pytest.mark.slow


def written(picture: Picture, words: str, size: float = 1.0) -> Picture:
    """A picture with words in white on black edges at its top left."""
    out = picture.copy()
    for shade, thick in ((0, 5), (255, 2)):
        cv2.putText(out, words, (10, 60), cv2.FONT_HERSHEY_SIMPLEX, size, shade, thick)
    return out


def banner(picture: Picture) -> Picture:
    """A picture with a dark banner across its lower part, before the athlete's feet, too."""
    out = picture.copy()
    out[190:235, 10:200] = 20
    return out


@pytest.fixture(scope="module")
def rest() -> list[Picture]:
    """Six seconds of an athlete who all but stands still."""
    return [scene(1.0 + 1e-4 * n) for n in range(6 * RATE_HZ)]


def only(found: Continuity, kind: str) -> Finding:
    (one,) = [finding for finding in found.findings if finding.kind == kind]
    return one


@pytest.mark.parametrize("comes", [False, True])
@pytest.mark.parametrize("overlay", ["small", "wide", "banner"])
def test_a_caption_that_comes_or_goes_is_told_and_breaks_nothing(
    write_film: Write, take: list[Picture], overlay: str, comes: bool
) -> None:
    def over(picture: Picture) -> Picture:
        if overlay == "banner":
            return banner(picture)
        return written(picture, "ROUND 1", 1.0 if overlay == "small" else 2.2)

    film = write_film(
        [over(take[n]) if (n >= 90) == comes else take[n] for n in range(6 * RATE_HZ)]
    )
    found = assess_continuity(read_film(film))
    assert found.words == "looks continuous"
    told = only(found, "overlay change")
    assert told.start_s == pytest.approx(89 / RATE_HZ, abs=1e-3)
    assert not told.breaks


@pytest.mark.parametrize("comes", [False, True])
@pytest.mark.parametrize("at", [85, 92, 100])
def test_thin_text_over_a_moving_athlete_is_no_break(
    write_film: Write, take: list[Picture], at: int, comes: bool
) -> None:
    """Its strokes let the athlete through, who moves on under them."""

    def over(picture: Picture) -> Picture:
        out = picture.copy()
        for row in (100, 130):
            cv2.putText(out, "ROUND 12", (90, row), cv2.FONT_HERSHEY_SIMPLEX, 1.0, 255, 2)
        return out

    pictures = [over(take[n]) if (n >= at) == comes else take[n] for n in range(6 * RATE_HZ)]
    found = assess_continuity(read_film(write_film(pictures)))
    assert found.words == "looks continuous"
    assert only(found, "overlay change").start_s == pytest.approx((at - 1) / RATE_HZ, abs=1e-3)


@pytest.mark.parametrize(("step_s", "broken"), [(0.02, False), (0.15, True)])
def test_an_athlete_who_starts_hard_is_told_from_one_set_elsewhere(
    write_film: Write, step_s: float, broken: bool
) -> None:
    """From a stand 2.8 film pixels at once are 1 % of the picture; 21 are no body's start."""
    still_s = [1.0] * 60
    going_s = [1.0 + step_s + 0.002 * n for n in range(60)]
    found = assess_continuity(read_film(write_film([scene(t) for t in still_s + going_s])))
    at = [round(start_s * RATE_HZ) for kind, start_s in breaks(found) if kind == "cut"]
    assert at == ([59] if broken else [])


@pytest.mark.parametrize("per_s", [1, 10, 30])
def test_a_clock_in_the_picture_is_no_break(
    write_film: Write, take: list[Picture], rest: list[Picture], per_s: int
) -> None:
    for pictures in (take[: 6 * RATE_HZ], rest):
        clocked = [
            written(picture, f"{n * per_s // RATE_HZ / per_s:07.2f}")
            for n, picture in enumerate(pictures)
        ]
        assert breaks(assess_continuity(read_film(write_film(clocked)))) == []


def test_a_clock_that_runs_all_along_is_told_once(write_film: Write, rest: list[Picture]) -> None:
    clocked = [written(picture, f"0:{n // RATE_HZ:02d}") for n, picture in enumerate(rest)]
    told = only(assess_continuity(read_film(write_film(clocked))), "overlay change")
    assert "times, as with captions" in told.words


@pytest.mark.parametrize("lost_s", [0.5, 0.8])
def test_a_cut_is_found_under_a_clock(
    write_film: Write, take: list[Picture], lost_s: float
) -> None:
    kept = take[:70] + take[70 + round(lost_s * RATE_HZ) : 180]
    clocked = [written(picture, f"0:{n // RATE_HZ:02d}") for n, picture in enumerate(kept)]
    found = assess_continuity(read_film(write_film(clocked)))
    ((kind, start_s),) = breaks(found)
    assert (kind, round(start_s * RATE_HZ)) == ("cut", 69)


def test_a_lamp_that_is_switched_on_is_no_break(write_film: Write, take: list[Picture]) -> None:
    lit = [np.clip(1.35 * picture, 0, 255).astype(np.uint8) for picture in take[90:180]]
    assert assess_continuity(read_film(write_film(take[:90] + lit))).continuous


@pytest.mark.parametrize(("moved_px", "broken"), [(40.0, True), (0.0, False)])
def test_a_cut_in_a_rest_is_one_where_the_athlete_s_body_is_elsewhere_at_once(
    write_film: Write, moved_px: float, broken: bool
) -> None:
    """Pictures alone cannot tell a resting athlete set elsewhere from a caption that goes."""
    stands = [scene(start_s + 1e-5 * n) for start_s in (1.0, 1.9) for n in range(90)]
    film = read_film(write_film(stands))
    track = standing_track(film.time_s)
    points = track.image_px.copy()
    points[90:, :, 1] += moved_px
    found = assess_continuity(film, replace(track, image_px=points))
    at = [start_s for kind, start_s in breaks(found) if kind == "cut"]
    assert at == ([pytest.approx(89 / RATE_HZ, abs=1e-3)] if broken else [])
    assert found.continuous != broken


def even_athlete(count: int, noise: float) -> list[Picture]:
    """An athlete of cloth whose every cycle of two seconds is the same."""
    pictures = []
    for n in range(count):
        picture = scene(0.0, still=True).astype(np.float64)
        top = round(40 + 30 * np.sin(2 * np.pi * n / 60))
        picture[top : top + 100, 30:60] = np.arange(100)[:, None] * 2.0
        picture += np.random.default_rng(n).normal(0, noise, (HEIGHT, WIDTH))
        pictures.append(np.clip(picture, 0, 255).astype(np.uint8))
    return pictures


@pytest.mark.parametrize("noise", [0.0, 2.0])
def test_an_athlete_who_repeats_a_motion_exactly_is_told_and_breaks_nothing(
    write_film: Write, noise: float
) -> None:
    found = assess_continuity(read_film(write_film(even_athlete(240, noise))))
    assert found.continuous
    told = [finding.words for finding in found.findings if finding.kind == "doubled stretch"]
    assert told
    assert all("a very even athlete, or a copy" in words for words in told)


def test_a_stretch_of_an_even_athlete_that_is_spliced_in_again_is_a_break(
    write_film: Write,
) -> None:
    pictures = even_athlete(240, 2.0)
    found = assess_continuity(read_film(write_film(pictures[:110] + pictures[70:])))
    assert not found.continuous
    assert any(f.breaks and abs(f.start_s - 110 / RATE_HZ) < 0.3 for f in found.findings)


DROPS: dict[str, Any] = {
    "every third from a second on": lambda n: n > 30 and n % 3 == 0,
    "two of three from a second on": lambda n: n > 30 and n % 3 != 0,
    "three of four at the start": lambda n: n < 20 and n % 4 != 0,
    "six in a row": lambda n: 60 <= n < 66,
    "a third at random": lambda n: np.random.default_rng(n).random() < 0.3,
    "five in twenty": lambda n: n % 20 < 5 and n > 0,
}


@pytest.mark.parametrize("dropped", DROPS)
def test_pictures_that_were_dropped_are_a_gap_of_times_and_no_break(
    write_film: Write, take: list[Picture], dropped: str
) -> None:
    kept = [n for n in range(6 * RATE_HZ) if not DROPS[dropped](n)]
    film = write_film([take[n] for n in kept], [n / RATE_HZ for n in kept])
    assert breaks(assess_continuity(read_film(film))) == []


def test_a_gap_in_which_nothing_moves_is_no_break(write_film: Write) -> None:
    """Encoders leave out pictures that are like those before."""
    down_s = [2.5 * (1 - (1 - n / 75) ** 2) for n in range(75)]
    up_s = [2.5 + 2.5 * (n / 75) ** 2 for n in range(75)]
    times_s = [n / RATE_HZ for n in [*range(75), *range(110, 185)]]
    film = write_film([scene(t) for t in down_s + up_s], times_s)
    found = assess_continuity(read_film(film))
    assert [(f.kind, f.breaks) for f in found.findings] == [("missing stretch", False)]


@pytest.mark.parametrize(
    ("after_hz", "explained"), [(15, True), (10, True), (45, False), (24, True)]
)
def test_a_rate_that_a_camera_or_dropped_pictures_give_is_told_from_another(
    after_hz: int, explained: bool
) -> None:
    time_s = np.concatenate((np.arange(90) / 30, 3 + np.arange(3 * after_hz) / after_hz))
    (change,) = find_rate_changes(time_s)
    assert change.of_a_camera == explained


def test_a_cut_from_motion_to_a_rest_is_found(write_film: Write, take: list[Picture]) -> None:
    """All that moves goes on neither before it nor after it."""
    stands = [scene(1.0 + 1e-5 * n) for n in range(60)]
    found = assess_continuity(read_film(write_film(take[:100] + stands)))
    assert [(kind, round(at_s * RATE_HZ)) for kind, at_s in breaks(found)] == [("cut", 99)]
