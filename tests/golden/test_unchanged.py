"""What must not matter: mirror, place and size of the picture, frame rate, speed of the clock.

Metamorphic tests (Chen et al. 1998): no truth is needed, only that a changed film is counted alike
and no verdict flips between good and no-rep; towards "too close" it may.
"""

from collections.abc import Callable
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from counting.record.types import AuditRecord
from tests.golden.compact import unpack
from tests.golden.reference import LANDMARKS, record_of
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

QUICK = LANDMARKS[1::9]
SIDES = {
    int(landmark): int(Landmark[landmark.name.replace("LEFT", "RIGHT")])
    for landmark in Landmark
    if "LEFT" in landmark.name
}
SWAPPED = [SIDES.get(n, {r: m for m, r in SIDES.items()}.get(n, n)) for n in range(len(Landmark))]


def mirrored(track: PoseTrack) -> PoseTrack:
    """Left and right exchanged, in the picture and in the names of the landmarks."""
    image = track.image_px[:, SWAPPED].copy()
    image[..., 0] = track.width_px - image[..., 0]
    world = track.world_m[:, SWAPPED] * np.array([-1.0, 1.0, 1.0])
    return replace(
        track,
        image_px=image,
        world_m=world,
        depth_px=track.depth_px[:, SWAPPED],
        visibility=track.visibility[:, SWAPPED],
        covariance_px2=track.covariance_px2[:, SWAPPED],
        camera_shift_px=track.camera_shift_px * np.array([-1.0, 1.0]),
        camera_roll_rad=-track.camera_roll_rad,
    )


def scaled(track: PoseTrack) -> PoseTrack:
    """The same film at one and a half times its size."""
    return replace(
        track,
        image_px=track.image_px * 1.5,
        covariance_px2=track.covariance_px2 * 1.5**2,
        depth_px=track.depth_px * 1.5,
        camera_shift_px=track.camera_shift_px * 1.5,
        width_px=round(track.width_px * 1.5),
        height_px=round(track.height_px * 1.5),
    )


def at_twice_the_rate(track: PoseTrack) -> PoseTrack:
    """A frame more between every two, on the line between them."""
    rows = np.arange(2 * track.frames - 1) / 2.0
    low, high = np.floor(rows).astype(int), np.ceil(rows).astype(int)

    def between(values: np.ndarray) -> np.ndarray:
        return 0.5 * (values[low] + values[high])

    return replace(
        track,
        time_s=between(track.time_s),
        image_px=between(track.image_px),
        depth_px=between(track.depth_px),
        world_m=between(track.world_m),
        visibility=between(track.visibility),
        covariance_px2=between(track.covariance_px2),
        camera_shift_px=between(track.camera_shift_px),
        camera_roll_rad=between(track.camera_roll_rad),
        filled=track.filled[low],
        identity=track.identity[low],
        looked=track.looked[low],
    )


def later(track: PoseTrack) -> PoseTrack:
    """The same film with a clock that starts at another time."""
    return replace(track, time_s=track.time_s + 512.0)


def at_half_the_rate(track: PoseTrack) -> PoseTrack:
    """Every other frame: a film at twice the speed, by a clock that runs twice as fast."""
    rows = slice(None, None, 2)
    by_frame = {
        field.name: getattr(track, field.name)[rows]
        for field in fields(track)
        if field.name not in ("width_px", "height_px")
    }
    return replace(track, **by_frame)


CHANGES: list[Callable[[PoseTrack], PoseTrack]] = [
    mirrored,
    scaled,
    at_twice_the_rate,
    later,
    at_half_the_rate,
]


@cache
def as_it_is(landmarks: Path) -> tuple[PoseTrack, str, AuditRecord]:
    """Track, movement and record of a kept file, judged once for all changes."""
    track, facts = unpack(landmarks)
    return track, facts["movement"], record_of(track, facts["movement"])


@cache
def changed(landmarks: Path, change: Callable[[PoseTrack], PoseTrack]) -> AuditRecord:
    """Record of a kept file that was changed."""
    track, movement, _ = as_it_is(landmarks)
    return record_of(change(track), movement)


COUNTS_THAT_MOVE = {("pull_up_1", "at_twice_the_rate"), ("press_2", "at_half_the_rate")}
"""Known to be wrong: a pull-up from the side is found only with a frame more between every two,
and two presses behind plates are lost with every other frame. Right would be two of each."""


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
@pytest.mark.parametrize(
    "landmarks",
    [
        pytest.param(path, id=path.stem, marks=() if path in QUICK else pytest.mark.slow)
        for path in LANDMARKS
    ],
)
def test_counts_stay_and_no_verdict_flips(
    landmarks: Path, change: Callable[[PoseTrack], PoseTrack]
) -> None:
    before, after = as_it_is(landmarks)[2], changed(landmarks, change)
    if (landmarks.stem, change.__name__) in COUNTS_THAT_MOVE:
        assert len(after.reps) != len(before.reps), "mended: take it out of the list"
        return
    assert len(after.reps) == len(before.reps)
    assert flips(before, after) == []


def flips(before: AuditRecord, after: AuditRecord) -> list[int]:
    """Numbers of the reps that went from good to no-rep or back."""
    return [
        one.number
        for one, other in zip(before.reps, after.reps, strict=True)
        if {one.verdict, other.verdict} == {"good", "no-rep"}
    ]


def test_a_clock_that_starts_later_moves_the_times_and_nothing_else() -> None:
    before, after = as_it_is(QUICK[0])[2], changed(QUICK[0], later)
    assert before.reps
    assert [r.verdict for r in after.reps] == [r.verdict for r in before.reps]
    for one, other in zip(before.reps, after.reps, strict=True):
        assert other.turn_s - one.turn_s == pytest.approx(512.0, abs=0.002)
