"""Limbs are put where the outline shows them, by exactly known stick people."""

from dataclasses import replace

import numpy as np
import pytest

from vision.pose.fusion import Fused
from vision.pose.limbs import LIMBS, Bodies, refined
from vision.pose.outline import Outline
from vision.pose.region import Region

STATURE = 200.0
OTHER_SIDE = [0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15]
BONES = ((5, 7), (7, 9), (6, 8), (8, 10), (11, 13), (13, 15), (12, 14), (14, 16))
THICK = {(5, 7): 0.033, (6, 8): 0.033, (7, 9): 0.026, (8, 10): 0.026}


def standing(bend: float = 0.0) -> np.ndarray:
    """(17, 2) joints from the front, arms out to the sides, elbows ``bend`` statures lower."""
    left = {5: (0.11, 0.82), 7: (0.28, 0.80 - bend), 9: (0.42, 0.80)}
    left |= {11: (0.06, 0.53), 13: (0.08, 0.285), 15: (0.09, 0.04)}
    joints = np.zeros((17, 2))
    joints[:5] = (0.0, 0.93)
    for joint, (x, y) in left.items():
        joints[joint], joints[joint + 1] = (x, y), (-x, y)
    return np.array([160.0, 240.0]) + joints * STATURE * (1.0, -1.0)


def outline_of(joints: np.ndarray, side_px: float = 320.0) -> Outline:
    """Capsules around the bones, an ellipse around the trunk, a head."""
    region = Region(160.0, 140.0, side_px)
    cell = side_px / 256
    grid = (np.indices((256, 256))[::-1].transpose(1, 2, 0) + 0.5) * cell
    grid += np.array([160.0, 140.0]) - side_px / 2
    odds = np.full((256, 256), -np.inf)
    capsules = [(joints[a], joints[b], THICK.get((a, b), 0.042)) for a, b in BONES]
    capsules += [(joints[5], joints[12], 0.09), (joints[6], joints[11], 0.09)]
    capsules += [(joints[0], joints[0] + (0.0, 1.0), 0.055)]
    for start, stop, radius in capsules:
        along = stop - start
        share = np.clip((grid - start) @ along / (along @ along), 0.0, 1.0)
        away = np.linalg.norm(grid - start - share[..., None] * along, axis=-1)
        odds = np.maximum(odds, radius * STATURE - away)
    return Outline.of((2.0 * odds / cell).astype(np.float32), region)


def bodies(joints: np.ndarray, off: np.ndarray | None = None, error: float = 0.015) -> Bodies:
    """Two networks that are sure, and agree on places that are ``off``."""
    placed = joints + (0.0 if off is None else off)
    spread = np.broadcast_to((error * STATURE) ** 2 * np.eye(2), (1, 17, 2, 2)).copy()
    sure = np.full((1, 17), 0.85)
    fused = Fused(placed[None], spread)
    return Bodies(fused, placed[None], placed[None], sure, sure, np.array([STATURE]))


@pytest.mark.parametrize("bend", [0.0, 0.05, 0.1])
def test_elbows_and_knees_come_nearer_to_the_middle_of_the_limb(bend: float) -> None:
    joints = standing(bend)
    outline = outline_of(joints)
    rng = np.random.default_rng(3)
    before, after = [], []
    for _ in range(20):
        off = np.zeros((17, 2))
        off[[7, 8], 1] = rng.normal(0.0, 0.02 * STATURE, 2)
        off[[13, 14], 0] = rng.normal(0.0, 0.02 * STATURE, 2)
        put = refined(bodies(joints, off), outline).image_px[0]
        before += [off[[7, 8], 1], off[[13, 14], 0]]
        after += [(put - joints)[[7, 8], 1], (put - joints)[[13, 14], 0]]
    # What stays the same whatever the readings is how the drawn body differs from a real one.
    assert np.std(after, axis=0).mean() < 0.75 * np.std(before, axis=0).mean()


def test_the_mirror_image_is_read_as_the_mirror_image() -> None:
    joints = standing(0.08) + np.random.default_rng(1).normal(0.0, 2.0, (17, 2))
    flip = np.array([-1.0, 1.0])
    mirrored = (joints * flip + (320.0, 0.0))[OTHER_SIDE]
    here, there = bodies(joints), bodies(mirrored)
    put, other = refined(here, outline_of(joints)), refined(there, outline_of(mirrored))
    expected = (put.image_px[0] * flip + (320.0, 0.0))[OTHER_SIDE]
    assert other.image_px[0] == pytest.approx(expected, abs=0.01)
    turned = (flip[:, None] * put.covariance_px2[0] * flip)[OTHER_SIDE]
    assert other.covariance_px2[0] == pytest.approx(turned, abs=0.02)


def test_a_picture_twice_as_large_is_read_twice_as_large() -> None:
    joints = standing(0.05)
    once = bodies(joints)
    outline = outline_of(joints)
    twice = Bodies(
        Fused(2.0 * once.fused.image_px, 4.0 * once.fused.covariance_px2),
        2.0 * once.first_px,
        2.0 * once.second_px,
        once.sharpness,
        once.peak,
        2.0 * once.stature_px,
    )
    small, large = refined(once, outline), refined(twice, _scaled(outline, 2.0))
    assert large.image_px == pytest.approx(2.0 * small.image_px, abs=1e-6)
    assert large.covariance_px2 == pytest.approx(4.0 * small.covariance_px2, rel=1e-6)


def _scaled(outline: Outline, factor: float) -> Outline:
    return replace(outline, region=outline.region.scaled(factor))


def test_the_head_stays_and_every_covariance_is_one() -> None:
    joints = standing()
    read = bodies(joints)
    put = refined(read, outline_of(joints))
    assert np.array_equal(put.image_px[:, :5], read.fused.image_px[:, :5])
    assert (np.linalg.eigvalsh(put.covariance_px2) > 0.0).all()


def test_a_joint_that_nothing_shows_is_less_sure() -> None:
    joints = standing()
    seen = bodies(joints)
    hidden = replace(seen, sharpness=seen.sharpness.copy(), peak=seen.peak.copy())
    hidden.sharpness[:, [7, 9]] = hidden.peak[:, [7, 9]] = 0.1
    blank = Outline.of(np.full((256, 256), -20.0, np.float32), Region(160.0, 140.0, 320.0))

    def size(read: Bodies, outline: Outline) -> float:
        return float(np.linalg.det(refined(read, outline).covariance_px2[0, 9]))

    assert size(hidden, blank) > 3.0 * size(seen, outline_of(joints))


def test_every_limb_joint_belongs_to_one_limb() -> None:
    assert sorted(joint for limb in LIMBS for joint in limb.joints) == list(range(5, 17))
