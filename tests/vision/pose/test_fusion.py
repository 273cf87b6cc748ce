"""Two readings and what is known of their errors: the moments of a mixture, exactly."""

import numpy as np
import pytest

from vision.pose.fusion import NETWORKS, PARTS, ReadingErrors, fuse, reading_errors, sideness_of

STATURE_PX = 200.0


def errors(right: float, chance_wrong: float, wrong: float = 0.15, count: int = 1) -> ReadingErrors:
    return ReadingErrors(
        right=np.full(count, right),
        wrong=np.full(count, wrong),
        chance_wrong=np.full(count, chance_wrong),
    )


def deviation_px(covariance: np.ndarray) -> np.ndarray:
    deviation: np.ndarray = np.sqrt(np.linalg.eigvalsh(covariance))
    return deviation


def test_where_both_agree_the_joint_lies_there_and_is_sure() -> None:
    here = np.array([[50.0, 80.0]])
    fused = fuse(here, errors(0.02, 0.05), here, errors(0.02, 0.05), STATURE_PX)
    assert fused.image_px == pytest.approx(here)
    assert deviation_px(fused.covariance_px2).max() < 0.03 * STATURE_PX


def test_the_surer_reading_weighs_more() -> None:
    one, other = np.array([[0.0, 0.0]]), np.array([[6.0, 0.0]])
    fused = fuse(one, errors(0.01, 0.01), other, errors(0.04, 0.01), STATURE_PX)
    assert 0.0 <= fused.image_px[0, 0] < 2.0


def test_a_reading_that_is_probably_wrong_is_left_aside() -> None:
    one, other = np.array([[0.0, 0.0]]), np.array([[60.0, 0.0]])
    fused = fuse(one, errors(0.02, 0.01), other, errors(0.02, 0.7), STATURE_PX)
    assert np.abs(fused.image_px).max() < 3.0


def test_two_sure_readings_far_apart_leave_the_joint_open_along_the_line_between_them() -> None:
    one, other = np.array([[0.0, 0.0]]), np.array([[60.0, 0.0]])
    fused = fuse(one, errors(0.02, 0.03), other, errors(0.02, 0.03), STATURE_PX)
    assert fused.image_px[0, 0] == pytest.approx(30.0)
    across, along = deviation_px(fused.covariance_px2)[0]
    assert along > 25.0
    assert across < 0.5 * along


def test_readings_can_be_given_in_either_order() -> None:
    rng = np.random.default_rng(1)
    one, other = rng.normal(0, 20, (2, 5, 2))
    first, second = errors(0.02, 0.1, count=5), errors(0.03, 0.2, 0.1, count=5)
    there = fuse(one, first, other, second, STATURE_PX)
    back = fuse(other, second, one, first, STATURE_PX)
    assert there.image_px == pytest.approx(back.image_px)
    assert there.covariance_px2 == pytest.approx(back.covariance_px2)


def test_in_a_picture_twice_as_large_everything_is_twice_as_large() -> None:
    rng = np.random.default_rng(2)
    one, other = rng.normal(0, 15, (2, 5, 2))
    kind = errors(0.02, 0.1, count=5), errors(0.03, 0.2, count=5)
    small = fuse(one, kind[0], other, kind[1], STATURE_PX)
    large = fuse(2 * one, kind[0], 2 * other, kind[1], 2 * STATURE_PX)
    assert large.image_px == pytest.approx(2 * small.image_px)
    assert large.covariance_px2 == pytest.approx(4 * small.covariance_px2)


def test_stated_errors_hold_in_a_world_that_is_as_assumed() -> None:
    """At most one in twenty lies outside the 95 % ellipse; fewer here, as errors of real networks
    go together and these do not."""
    rng = np.random.default_rng(3)
    count = 20_000
    first, second = errors(0.02, 0.08, count=count), errors(0.03, 0.15, count=count)

    def read(kind: ReadingErrors) -> np.ndarray:
        wrong = rng.random(count) < kind.chance_wrong
        spread = np.where(wrong, kind.wrong, kind.right) * STATURE_PX
        drawn: np.ndarray = rng.normal(size=(count, 2)) * spread[:, None]
        return drawn

    fused = fuse(read(first), first, read(second), second, STATURE_PX)
    inverse = np.linalg.inv(fused.covariance_px2)
    square = np.einsum("ni,nij,nj->n", fused.image_px, inverse, fused.image_px)
    held = float(np.mean(square < 5.991))  # chi-square, two degrees of freedom
    assert 0.95 <= held < 0.999


@pytest.mark.parametrize("network", NETWORKS)
def test_a_higher_peak_is_a_smaller_error_and_a_rarer_mistake(network: str) -> None:
    peaks = np.linspace(0.1, 0.95, 9)[:, None] * np.ones(len(PARTS))
    told = reading_errors(network, PARTS, peaks, 0.5)
    assert (np.diff(told.right, axis=0) <= 0).all()
    assert (np.diff(told.chance_wrong, axis=0) <= 0).all()
    assert (told.wrong > told.right[-1]).all()


def test_the_first_network_is_less_to_be_trusted_in_a_side_view() -> None:
    peaks = np.full(len(PARTS), 0.5)
    front = reading_errors("blazepose", PARTS, peaks, 0.0)
    side = reading_errors("blazepose", PARTS, peaks, 1.0)
    assert side.chance_wrong.mean() > 1.1 * front.chance_wrong.mean()


def test_a_broad_body_is_seen_from_the_front_and_a_narrow_one_from_the_side() -> None:
    """Widths and trunk by Drillis and Contini 1966 in Winter 2009, for a stature of 1."""
    shoulders = np.array([[-0.1295, 0.818], [0.1295, 0.818]])
    hips = np.array([[-0.0955, 0.53], [0.0955, 0.53]])
    assert sideness_of(200 * shoulders, 200 * hips) < 0.1
    edge_on = np.array([0.0, 1.0])
    assert sideness_of(200 * shoulders * edge_on, 200 * hips * edge_on) == 1.0
