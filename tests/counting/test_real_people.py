"""Counts on real bodies: open motion capture filmed by a virtual camera, and one real film.

Sources, licences and how the counts were verified: ``real_people/README.md``.
"""

from pathlib import Path

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.script import track_of

from counting.movements.loader import find_movement
from counting.timeline import find_reps
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import PoseTrack

FOLDER = Path(__file__).parent / "real_people"
JOINTS = {"nose": "NOSE"} | {
    f"{side[0].lower()}{joint}": f"{side}_{landmark}"
    for side in ("LEFT", "RIGHT")
    for joint, landmark in (
        ("shoulder", "SHOULDER"), ("elbow", "ELBOW"), ("wrist", "WRIST"), ("hip", "HIP"),
        ("knee", "KNEE"), ("ankle", "ANKLE"), ("heel", "HEEL"), ("toe", "FOOT_INDEX"),
    )
}  # fmt: skip
STATURE_M = 1.75


def filmed(name: str, view_deg: float, noise: float = 0.0) -> PoseTrack:
    """Motion capture as a camera would see it; ``noise`` in statures on every landmark."""
    with np.load(FOLDER / f"{name}.npz") as data:
        rate_hz, names = float(data["rate_hz"]), [str(joint) for joint in data["joints"]]
        metres = data["xyz_m"].astype(float)
    hips = metres[:, [names.index("lhip"), names.index("rhip")]].mean(axis=(0, 1))
    metres -= [hips[0], np.percentile(metres[..., 1], 1), hips[2]]
    statures = np.stack([-metres[..., 0], metres[..., 2], metres[..., 1]], axis=-1) / STATURE_M
    points = np.repeat(statures[:, [names.index("nose")]], LANDMARK_COUNT, axis=1)
    for joint, landmark in JOINTS.items():
        points[:, Landmark[landmark]] = statures[:, names.index(joint)]
    camera = Camera(view_deg=view_deg)
    image = camera.picture(points)
    rng = np.random.default_rng(7)
    image += rng.normal(0, noise * camera.focal_px / camera.distance, image.shape)
    return track_of(np.arange(len(image)) / rate_hz, image, camera)


def squats(track: PoseTrack) -> list[float]:
    return [rep.turn_s for rep in find_reps(track, find_movement("air squat")).reps]


@pytest.mark.parametrize("noise", [0.0, 0.008])
@pytest.mark.parametrize("view_deg", [0, 45, 90, 140])
def test_ten_squats_are_ten_from_every_side(view_deg, noise):
    # UI-PRMD m01 s01: the ten published repetition segments.
    bottoms_s = [0.87, 3.07, 5.24, 7.52, 9.76, 12.0, 14.16, 16.34, 18.5, 20.63]
    assert squats(filmed("squats_good", view_deg, noise)) == pytest.approx(bottoms_s, abs=0.3)


@pytest.mark.parametrize("view_deg", [0, 45, 90])
def test_squats_of_any_depth_are_attempts(view_deg):
    # UI-PRMD m01 s04, done poorly: knees bend by 48 to 121 degrees, ten times.
    assert len(squats(filmed("squats_poor", view_deg))) == 10


@pytest.mark.parametrize("view_deg", [0, 45, 90])
def test_jacks_twists_knee_raises_and_jogging_are_no_squats(view_deg):
    # CMU 13_30: the squats lie in the published label window of 11.8 to 16.1 s.
    assert squats(filmed("mixed_with_two_squats", view_deg)) == pytest.approx(
        [13.03, 15.34], abs=0.3
    )


@pytest.mark.parametrize("noise", [0.0, 0.004])
@pytest.mark.parametrize("view_deg", [0, 45, 90])
@pytest.mark.parametrize("name", ["mixed_without_squats", "one_arm_raises"])
def test_a_film_without_squats_has_none(name, view_deg, noise):
    assert squats(filmed(name, view_deg, noise)) == []


def test_a_real_film_of_five_frames_a_second():
    with np.load(FOLDER / "two_and_a_half_squats.npz") as data:
        width, height = (int(side) for side in data["size_px"])
        image = data["image"].astype(float) * [width, height]
        camera = Camera(width_px=width, height_px=height)
        track = track_of(data["time_s"], image, camera)
    # Bottoms at 2.2 and 6.8 s; a third squat is on its way up where the film ends.
    assert squats(track)[:2] == pytest.approx([2.2, 6.8], abs=0.25)
    assert len(squats(track)) <= 3
