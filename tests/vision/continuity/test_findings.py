"""What breaks a film and what only disturbs it, of pictures and times that are made up."""

from pathlib import Path

import numpy as np
import pytest

from tests.vision.continuity.test_repeats import signatures
from vision.continuity import assess
from vision.continuity.assess import assess_continuity
from vision.continuity.jumps import Jump
from vision.continuity.types import Finding
from vision.continuity.watch import Watched
from vision.film.types import Film
from vision.sound.reading import Sound

RATE_HZ = 30.0


def findings(
    kind: str,
    time_s: np.ndarray,
    *jumps_s: float,
    change: float = 10.0,
    still: slice = slice(0),
    shown: np.ndarray | None = None,
) -> list[Finding]:
    """Assess a film without sound whose pictures change so much, and give findings of one kind."""
    changes = np.full(len(time_s), change)
    changes[still] = 0.0
    jumps = tuple(Jump(0, at - 0.03, at, 9.0, 9.0, 0.0, camera_only=False) for at in jumps_s)
    rows = np.arange(len(time_s))[:, None] * np.eye(1, 32)
    shown = rows.astype(np.int16) if shown is None else shown
    watched = Watched(time_s, changes, shown, jumps, ())
    found = assess_continuity(film(time_s), watched=watched).findings
    return [one for one in found if one.kind == kind]


def film(time_s: np.ndarray, *, has_sound: bool = False) -> Film:
    step_s = float(np.median(np.diff(time_s)))
    return Film(
        path=Path("made_up.mp4"),
        sha256="0" * 64,
        duration_s=float(time_s[-1] - time_s[0]) + step_s,
        time_s=time_s,
        width_px=640,
        height_px=480,
        rotation_deg=0,
        mirrored=False,
        frame_rate_mean_hz=1.0 / step_s,
        variable_frame_rate=False,
        codec="h264",
        has_sound=has_sound,
        broken_at_s=None,
        warnings=(),
    )


def with_gap(gap_s: float, rate_hz: float = RATE_HZ) -> np.ndarray:
    """Times of five seconds of pictures with nothing for so long in their middle."""
    time_s = np.arange(round(5.0 * rate_hz)) / rate_hz
    time_s[len(time_s) // 2 :] += gap_s - 1.0 / rate_hz
    return time_s


@pytest.mark.parametrize(
    ("gap_s", "rate_hz", "count"),
    [(0.23, 30.0, 0), (0.28, 30.0, 1), (0.45, 12.0, 0), (0.55, 12.0, 1)],
)
def test_a_quarter_of_a_second_or_six_intervals_without_pictures_are_told(
    gap_s: float, rate_hz: float, count: int
) -> None:
    assert len(findings("missing stretch", with_gap(gap_s, rate_hz))) == count


@pytest.mark.parametrize(("gap_s", "breaks"), [(0.45, False), (0.55, True)])
def test_half_a_second_of_motion_that_is_missing_breaks_a_film(gap_s: float, breaks: bool) -> None:
    (found,) = findings("missing stretch", with_gap(gap_s))
    assert found.breaks == breaks
    (at_rest,) = findings("missing stretch", with_gap(gap_s), change=1.0)
    assert not at_rest.breaks


@pytest.mark.parametrize(("pictures", "breaks"), [(13, False), (17, True)])
def test_so_does_one_picture_that_stands_for_it(pictures: int, breaks: bool) -> None:
    time_s = np.arange(150) / RATE_HZ
    (found,) = findings("frozen stretch", time_s, still=slice(60, 60 + pictures))
    assert found.breaks == breaks


@pytest.mark.parametrize(("later_s", "count"), [(0.2, 1), (0.27, 2)])
def test_jumps_within_a_fifth_of_a_second_are_one_cut(later_s: float, count: int) -> None:
    time_s = np.arange(150) / RATE_HZ
    assert len(findings("cut", time_s, 2.0, 2.0 + later_s)) == count


@pytest.mark.parametrize(("later_s", "breaks"), [(0.25, True), (0.35, False)])
def test_a_stretch_shown_again_breaks_a_film_where_it_begins_with_a_jump(
    later_s: float,
    breaks: bool,
) -> None:
    time_s = np.arange(300) / RATE_HZ
    (found,) = findings(
        "doubled stretch", time_s, 200 / RATE_HZ + later_s, shown=signatures(pictures=30)
    )
    assert found.start_s == pytest.approx(200 / RATE_HZ)
    assert found.breaks == breaks


@pytest.mark.parametrize(("longer_s", "count"), [(0.4, 0), (0.6, 1), (-0.4, 0), (-0.6, 1)])
def test_sound_may_be_half_a_second_longer_or_shorter_than_pictures(
    monkeypatch: pytest.MonkeyPatch, longer_s: float, count: int
) -> None:
    time_s = np.arange(150) / RATE_HZ
    heard = np.random.default_rng(1).normal(0.0, 0.05, round((5.0 + longer_s) * 16_000))
    monkeypatch.setattr(assess, "sound_of", lambda _film: Sound(heard.astype("f4"), 16_000, 0.0))
    watched = Watched(time_s, np.full(150, 10.0), signatures(30)[:150], (), ())
    found = assess_continuity(film(time_s, has_sound=True), watched=watched).findings
    assert len([one for one in found if one.kind == "sound break"]) == count
