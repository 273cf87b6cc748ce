"""Films are cut, spliced, sped up and re-encoded here; where is known to the frame."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.vision.continuity.conftest import HEIGHT, RATE_HZ, WIDTH, Picture, Write, scene
from vision.continuity.assess import assess_continuity
from vision.continuity.types import Continuity
from vision.film.reading import read_film
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.times import clock
from vision.track import PoseTrack

pytestmark = pytest.mark.slow


def noise_sound(length_s: float, seed: int = 0, level: float = 0.05) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, level, int(16_000 * length_s))


def breaks(found: Continuity) -> list[tuple[str, float]]:
    return [(f.kind, f.start_s) for f in found.findings if f.breaks]


@pytest.mark.parametrize("quality", [18, 28, 36])
def test_one_take_looks_continuous_at_any_quality(
    write_film: Write, take: list[Picture], quality: int
) -> None:
    found = assess_continuity(read_film(write_film(take, quality=quality)))
    assert found.words == "looks continuous"
    assert found.continuous
    assert found.frames == len(take)


@pytest.mark.parametrize("lost_s", [0.5, 0.8, 1.3])
@pytest.mark.parametrize("at_s", [2.0, 4.45, 6.2])
def test_a_cut_is_found_to_the_frame(
    write_film: Write, take: list[Picture], lost_s: float, at_s: float
) -> None:
    at, lost = round(at_s * RATE_HZ), round(lost_s * RATE_HZ)
    found = assess_continuity(read_film(write_film(take[:at] + take[at + lost :])))
    assert breaks(found) == [("cut", pytest.approx((at - 1) / RATE_HZ, abs=1e-3))]
    assert found.words == f"break at {clock(found.findings[0].start_s)}"
    assert {e.source for e in found.findings[0].evidence} == {"picture", "motion"}
    evidence = found.findings[0].evidence
    assert math.prod(e.value for e in evidence) > math.prod(e.limit for e in evidence)


@pytest.mark.parametrize("hitch_s", [0.006, 0.0085])
def test_a_hitch_of_a_pixel_in_a_noisy_picture_is_no_cut(write_film: Write, hitch_s: float) -> None:
    """From a stand the athlete is a pixel lower at once, and goes on at a third of that speed."""
    still_s = [1.0 + 1e-4 * n for n in range(60)]
    going_s = [still_s[-1] + hitch_s + 0.002 * n for n in range(60)]
    noise = np.random.default_rng(7)
    pictures = [
        np.clip(scene(t) + noise.normal(0, 6, (HEIGHT, WIDTH)), 0, 255) for t in still_s + going_s
    ]
    film = write_film([picture.astype(np.uint8) for picture in pictures])
    assert breaks(assess_continuity(read_film(film))) == []


def test_a_splice_of_another_scene_is_found(write_film: Write, take: list[Picture]) -> None:
    other = [scene(n / RATE_HZ, seed=9) for n in range(90)]
    found = assess_continuity(read_film(write_film(take[:120] + other)))
    assert breaks(found) == [("cut", pytest.approx(119 / RATE_HZ, abs=1e-3))]


def test_the_sound_is_evidence_where_it_changes_with_the_picture(
    write_film: Write, take: list[Picture]
) -> None:
    hum = 0.3 * np.sin(2 * np.pi * 200 * np.arange(16_000 * 5) / 16_000)
    sound = np.concatenate([noise_sound(4.0, level=0.01), hum + noise_sound(5.0, 1, 0.01)])
    found = assess_continuity(read_film(write_film(take[:120] + take[150:], sound=sound)))
    (cut,) = [f for f in found.findings if f.breaks]
    assert "sound" in {e.source for e in cut.evidence}
    assert found.sound


def test_a_doubled_stretch_is_named_with_its_origin(write_film: Write, take: list[Picture]) -> None:
    film = read_film(write_film(take[:150] + take[110:], quality=16))
    found = assess_continuity(film)
    doubled = [f for f in found.findings if f.kind == "doubled stretch"]
    assert len(doubled) == 1
    assert doubled[0].start_s == pytest.approx(5.0, abs=0.25)
    assert doubled[0].end_s == pytest.approx(5.0 + 40 / RATE_HZ, abs=0.25)
    assert "0:03" in doubled[0].words


def test_a_stretch_without_pictures_is_found_from_the_timestamps(
    write_film: Write, take: list[Picture]
) -> None:
    times = [n / RATE_HZ + (0.8 if n >= 150 else 0.0) for n in range(len(take))]
    found = assess_continuity(read_film(write_film(take, times)))
    (gap,) = [f for f in found.findings if f.breaks]
    assert gap.kind == "missing stretch"
    assert gap.evidence[0].source == "timestamps"
    assert gap.evidence[0].value == pytest.approx(0.8 + 1 / RATE_HZ, abs=1e-3)


def test_a_short_hiccup_of_a_phone_is_told_but_breaks_nothing(
    write_film: Write, take: list[Picture]
) -> None:
    kept = take[:150] + take[159:]
    times = [n / RATE_HZ for n in [*range(150), *range(159, 300)]]
    found = assess_continuity(read_film(write_film(kept, times)))
    assert [(f.kind, f.breaks) for f in found.findings] == [("missing stretch", False)]
    assert found.words == "looks continuous"


def test_frames_dropped_here_and_there_are_no_break(write_film: Write, take: list[Picture]) -> None:
    kept = [n for n in range(300) if n % 37 != 5]
    found = assess_continuity(
        read_film(write_film([take[n] for n in kept], [n / RATE_HZ for n in kept]))
    )
    assert found.continuous


@pytest.mark.parametrize("speed", [1.25, 1.5, 0.8])
def test_a_stretch_at_another_speed_is_found(write_film: Write, speed: float) -> None:
    numbers = [*range(150)]
    numbers += [150 + math.floor(n * speed) for n in range(round(150 / speed))]
    numbers += [*range(300, 450)]
    found = assess_continuity(read_film(write_film([scene(n / RATE_HZ) for n in numbers])))
    changed = [f for f in found.findings if f.kind == "speed change"]
    assert len(changed) == 1
    assert changed[0].breaks
    assert changed[0].start_s == pytest.approx(5.0, abs=0.8)
    assert changed[0].end_s == pytest.approx(5.0 + 5.0 / speed, abs=0.8)
    assert not [f for f in found.findings if f.breaks and f.kind != "speed change"]


def test_intervals_that_shorten_are_a_change_of_speed(
    write_film: Write, take: list[Picture]
) -> None:
    times = [n / RATE_HZ if n < 150 else 5.0 + (n - 150) / 45 for n in range(300)]
    found = assess_continuity(read_film(write_film(take, times)))
    (change,) = [f for f in found.findings if f.breaks]
    assert change.kind == "speed change"
    assert change.start_s == pytest.approx(5.0, abs=0.2)


def test_a_camera_that_slows_down_in_low_light_breaks_nothing(write_film: Write) -> None:
    times = [n / 30 if n < 150 else 5.0 + (n - 150) / 24 for n in range(270)]
    found = assess_continuity(read_film(write_film([scene(t) for t in times], times)))
    assert found.continuous
    assert any("light" in f.words for f in found.findings)


def test_a_picture_that_freezes_in_motion_is_found(write_film: Write, take: list[Picture]) -> None:
    frozen = take[:124] + [take[124]] * 20 + take[144:]
    found = assess_continuity(read_film(write_film(frozen, quality=16)))
    assert ("frozen stretch", pytest.approx(124 / RATE_HZ, abs=0.04)) in breaks(found)


def test_an_athlete_who_stands_still_is_no_freeze(write_film: Write) -> None:
    pictures = [scene(n / RATE_HZ) for n in range(75)]
    still = [scene(2.5 + n * 1e-4) for n in range(90)]
    found = assess_continuity(read_film(write_film(pictures + still)))
    assert found.continuous


@pytest.mark.parametrize("step_px", [(12, 5), (-8, 0)])
def test_a_camera_that_is_moved_is_told_from_a_cut(
    write_film: Write, step_px: tuple[int, int]
) -> None:
    pictures = [scene(n / RATE_HZ, camera_px=step_px if n >= 150 else (0, 0)) for n in range(300)]
    found = assess_continuity(read_film(write_film(pictures)))
    assert found.continuous
    (move,) = found.findings
    assert move.kind == "camera move"
    assert move.start_s - 0.1 <= 5.0 <= move.end_s + 0.1
    share = 100 * math.hypot(*step_px) / 320
    assert move.evidence[0].value == pytest.approx(share, rel=0.15)


def test_a_camera_that_is_knocked_and_comes_back_is_a_bump(write_film: Write) -> None:
    pictures = [
        scene(n / RATE_HZ, camera_px=(10, 6) if 150 <= n < 175 else (0, 0)) for n in range(300)
    ]
    found = assess_continuity(read_film(write_film(pictures)))
    assert found.continuous
    assert [f.kind for f in found.findings] == ["camera bump"]


def test_a_cut_during_which_the_camera_moved_is_a_cut(
    write_film: Write, take: list[Picture]
) -> None:
    after = [scene(n / RATE_HZ, camera_px=(10, 6)) for n in range(172, 300)]
    found = assess_continuity(read_film(write_film(take[:150] + after)))
    assert not found.continuous


def test_a_hole_in_the_sound_is_told(write_film: Write, take: list[Picture]) -> None:
    sound = noise_sound(10.0)
    sound[70_000:78_000] = 0.0
    found = assess_continuity(read_film(write_film(take, sound=sound)))
    (hole,) = found.findings
    assert hole.kind == "sound break"
    assert hole.start_s == pytest.approx(70_000 / 16_000, abs=0.15)
    assert not hole.breaks


def test_sound_that_ends_early_is_told(write_film: Write, take: list[Picture]) -> None:
    found = assess_continuity(read_film(write_film(take, sound=noise_sound(7.0))))
    assert [f.kind for f in found.findings] == ["sound break"]
    assert "differ in length by 3.0 s" in found.findings[0].words


def standing_track(times_s: np.ndarray) -> PoseTrack:
    n = len(times_s)
    points = np.zeros((n, LANDMARK_COUNT, 2))
    points[..., 0] = 160.0
    points[..., 1] = np.linspace(60.0, 200.0, LANDMARK_COUNT)
    return PoseTrack(
        time_s=times_s,
        image_px=points,
        depth_px=np.zeros((n, LANDMARK_COUNT)),
        world_m=np.zeros((n, LANDMARK_COUNT, 3)),
        visibility=np.ones((n, LANDMARK_COUNT)),
        filled=np.zeros(n, dtype=bool),
        identity=np.zeros(n, dtype=np.int64),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=320,
        height_px=240,
    )


def test_an_athlete_who_walks_out_is_told_until_they_are_back(
    write_film: Write, take: list[Picture]
) -> None:
    film = read_film(write_film(take))
    track = standing_track(film.time_s)
    points = track.image_px.copy()
    points[60:90, :, 0] = np.linspace(160, 335, 30)[:, None]
    points[90:180] = np.nan
    found = assess_continuity(film, replace(track, image_px=points))
    (out,) = found.findings
    assert out.kind == "athlete out of the picture"
    assert out.start_s == pytest.approx(87 / RATE_HZ, abs=0.05)
    assert out.end_s == pytest.approx(179 / RATE_HZ, abs=0.05)
    assert found.continuous


def test_an_athlete_lost_in_mid_picture_has_not_left(
    write_film: Write, take: list[Picture]
) -> None:
    film = read_film(write_film(take))
    track = standing_track(film.time_s)
    points = track.image_px.copy()
    points[90:180] = np.nan
    assert assess_continuity(film, replace(track, image_px=points)).findings == ()


def test_hands_above_the_picture_are_told(write_film: Write, take: list[Picture]) -> None:
    film = read_film(write_film(take))
    track = standing_track(film.time_s)
    points = track.image_px.copy()
    points[100:130, [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST], 1] = -5.0
    (out,) = assess_continuity(film, replace(track, image_px=points)).findings
    assert out.kind == "hands out of the picture"
    assert out.start_s == pytest.approx(100 / RATE_HZ, abs=0.01)


def test_the_document_is_plain_json(write_film: Write, take: list[Picture]) -> None:
    import json

    found = assess_continuity(read_film(write_film(take[:120] + take[150:])))
    document = json.loads(json.dumps(found.document()))
    assert document["words"].startswith("break at 0:04.0")
    assert document["findings"][0]["evidence"][0]["source"] == "picture"


PLAYED = {
    "backwards": lambda take: take[::-1],
    "at twice the speed": lambda take: take[::2],
    "at half the speed": lambda take: [picture for picture in take for _ in range(2)],
}


@pytest.mark.parametrize("how", PLAYED)
def test_what_a_film_does_not_show_is_told_where_it_looks_continuous(
    write_film: Write, take: list[Picture], how: str
) -> None:
    document = assess_continuity(read_film(write_film(PLAYED[how](take)))).document()
    assert document["words"] == "looks continuous"
    told = " ".join(document["not_shown"])
    assert ("playing backwards" if how == "backwards" else "another speed throughout") in told
