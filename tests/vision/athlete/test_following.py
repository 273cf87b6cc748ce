"""A person is followed from one sighting to the next, forward and backward."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import person, picture_of, pose_at, seeing
from vision.athlete.choosing import cut_where_sharp
from vision.athlete.following import (
    believable,
    between,
    body_region,
    body_size,
    quality,
    smoothest,
)
from vision.athlete.sightings import separation
from vision.athlete.stretches import Found, Moment, follow_stretch, without_strangers
from vision.pose.landmarks import Landmark
from vision.pose.network import Pose

SIZE_PX = body_size(person())
PICTURES = [picture_of(k) for k in range(1, 16)]


def _walks(frame: int) -> Pose:
    return person(200 + 4 * frame, squat=0.5 - 0.5 * math.cos(frame / 8))


def _stands(frame: int) -> Pose:  # noqa: ARG001  stands whatever the frame
    return person(500)


def _all_at(poses: list[Pose | None], where: list[Pose]) -> bool:
    return all(
        pose is not None and separation(pose, there) < 0.01
        for pose, there in zip(poses, where, strict=True)
    )


TRUTH = [_walks(k) for k in range(1, 16)]


def test_a_moving_person_is_followed_to_the_sighting() -> None:
    look = seeing([_walks, _stands])
    poses = between(look, PICTURES, _walks(0), _walks(15), [_stands(15)], SIZE_PX)
    assert _all_at(poses, TRUTH)


def test_without_a_start_the_way_back_from_the_sighting_is_taken() -> None:
    poses = between(seeing([_walks]), PICTURES, None, _walks(15), [], SIZE_PX)
    assert _all_at(poses, TRUTH)


def test_without_a_sighting_the_way_forward_is_kept() -> None:
    poses = between(seeing([_walks]), PICTURES, _walks(0), None, [], SIZE_PX)
    assert _all_at(poses, TRUTH)


def test_nobody_known_means_nobody_found() -> None:
    assert between(seeing([_walks]), PICTURES, None, None, [], SIZE_PX) == [None] * 15


def test_a_way_that_ends_on_somebody_else_is_given_up() -> None:
    """Somebody walks through the spot where the athlete stands, and takes the way along."""

    def passes(frame: int) -> Pose:
        return person(200 + 18 * frame)

    def athlete(frame: int) -> Pose | None:
        return None if frame < 6 else person(200, squat=0.2)

    look = seeing([passes, athlete])
    sighting = athlete(15)
    poses = between(look, PICTURES, person(200), sighting, [passes(15)], SIZE_PX)
    assert sighting is not None
    assert all(pose is not None and abs(pose.region.x_px - 200) < 5 for pose in poses[8:])


def test_a_person_hidden_for_a_while_is_found_again_from_behind() -> None:
    def hides(frame: int) -> Pose | None:
        return None if 4 <= frame <= 9 else _walks(frame)

    poses = between(seeing([hides]), PICTURES, _walks(0), _walks(15), [], SIZE_PX)
    assert [pose is None for pose in poses] == [4 <= k <= 9 for k in range(1, 16)]


def test_the_smoothest_of_several_ways_leaves_out_what_must_be_leapt_to() -> None:
    right = [person(200 + 2 * k, sharpness=0.5) for k in range(10)]
    wrong = [person(200 + 2 * k + (40 if k == 5 else 3), sharpness=0.52) for k in range(10)]
    chosen = smoothest([wrong, right], person(200), SIZE_PX)
    assert chosen[5] is right[5]


def test_of_two_smooth_ways_the_surer_is_taken() -> None:
    unsure = [person(220, sharpness=0.3) for _ in range(10)]
    sure = [person(200, sharpness=0.7) for _ in range(10)]
    assert smoothest([unsure, sure], None, SIZE_PX) == sure


def test_a_lost_way_is_left_for_one_that_is_not() -> None:
    lost = [person(200), None, None, None]
    found = [None, person(200), person(201), person(202)]
    chosen = smoothest([lost, found], person(200), SIZE_PX)
    assert chosen == [lost[0], *found[1:]]


@pytest.mark.parametrize("turn_deg", [0, 40, 90, 170, -75])
def test_the_region_turns_with_the_trunk(turn_deg: float) -> None:
    turn = math.radians(turn_deg)
    upright = person(200, 400, 200)
    hips = upright.image_px[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=0)
    cos, sin = math.cos(turn), math.sin(turn)
    turned = (upright.image_px - hips) @ np.array([[cos, sin], [-sin, cos]]) + hips
    region = body_region(pose_at(turned, turn_rad=turn), SIZE_PX)
    assert (region.x_px, region.y_px) == pytest.approx(tuple(hips))
    assert math.degrees(region.turn_rad) == pytest.approx(turn_deg, abs=1)


def test_the_region_widens_to_hold_hands_overhead() -> None:
    low, high = body_region(person(), SIZE_PX), body_region(person(raise_hands=1.0), SIZE_PX)
    reach = float(np.ptp(person(raise_hands=1.0).image_px[:, 1]))
    assert high.side_px > low.side_px
    assert high.side_px > reach


def test_unsure_landmarks_do_not_widen_the_region() -> None:
    pose = person(sharpness=0.2)
    stray = pose.image_px.copy()
    stray[Landmark.LEFT_WRIST] += 500
    assert body_region(pose_at(stray, sharpness=0.2), SIZE_PX).side_px == pytest.approx(
        body_region(pose, SIZE_PX).side_px
    )


def _with_shoulders_at_the_hips(sharpness: float) -> Pose:
    image = person().image_px.copy()
    hips = image[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]]
    image[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]] = hips - np.array([0, 15])
    return pose_at(image, sharpness=sharpness)


def test_a_misshapen_pose_is_worth_less() -> None:
    assert quality(_with_shoulders_at_the_hips(0.6), SIZE_PX) < quality(person(), SIZE_PX) - 0.3
    assert quality(person(), 0.6 * SIZE_PX) < quality(person(), SIZE_PX) - 0.3


def test_only_a_pose_both_blurred_and_misshapen_is_unbelievable() -> None:
    assert not believable(_with_shoulders_at_the_hips(0.4), SIZE_PX)
    assert believable(_with_shoulders_at_the_hips(0.6), SIZE_PX)
    assert believable(person(sharpness=0.4), SIZE_PX)


def test_a_giant_is_unbelievable_however_sharp() -> None:
    assert not believable(person(stature_px=340, sharpness=0.9), SIZE_PX)


def test_a_way_that_strays_onto_somebody_else_is_taken_away_around_there() -> None:
    way: dict[int, Pose | None] = {k: person(200) if k < 25 else person(500) for k in range(40)}
    strangers = {k: [person(500)] for k in (0, 10, 20, 30, 39)}
    kept = without_strangers(way, strangers)
    assert [k for k, pose in kept.items() if pose is not None] == list(range(20))


def test_a_way_of_ones_own_is_kept_whole() -> None:
    way: dict[int, Pose | None] = {k: person(200) for k in range(40)}
    assert without_strangers(way, {k: [person(500)] for k in (10, 20)}) == way


def test_nobody_followed_becomes_an_onlooker_whom_they_pass_out_of_sight() -> None:
    """The athlete is hidden for a while just where somebody stands, and comes out again."""

    def athlete(frame: int) -> Pose | None:
        return None if 4 < frame < 11 else person(430 + 8 * frame)

    onlooker = person(500, stature_px=190)
    film = SimpleNamespace(width_px=640, height_px=480)
    pictures = [SimpleNamespace(index=k, time_s=k / 30.0, picture=picture_of(k)) for k in range(16)]
    network = SimpleNamespace(look=seeing([athlete, lambda _: onlooker]))

    def moments(*onlookers: Pose) -> list[Moment]:
        return [
            Moment(k / 30.0, athlete(k), (), SIZE_PX, turns=False, onlookers=onlookers)
            for k in (0, 15)
        ]

    def followed(*onlookers: Pose) -> Found:
        return follow_stretch(
            network,  # type: ignore[arg-type]
            film,  # type: ignore[arg-type]
            pictures,  # type: ignore[arg-type]
            moments(*onlookers),
            None,
            thorough=True,
        )

    strayed, kept = followed(), followed(onlooker)
    assert any(pose is onlooker for pose in strayed.poses.values())
    assert not any(pose is onlooker for pose in kept.poses.values())
    assert kept.poses[3] is not None
    assert kept.poses[12] is not None
    # An onlooker whom nobody came near changes nothing, this one would have.
    assert strayed.is_same_for(moments(), moments(person(900)))
    assert kept.is_same_for(moments(onlooker), moments(onlooker, person(900)))
    assert not strayed.is_same_for(moments(), moments(onlooker))
    assert not kept.is_same_for(moments(onlooker), moments())


@pytest.mark.parametrize("home", [None, person(200)])
def test_who_is_unclear_is_looked_for_at_home(home: Pose | None) -> None:
    """The only sightings are of a plate beside; the athlete was clearly seen there before."""
    plate = person(330, 330, stature_px=150, sharpness=0.35)
    athlete = person(202, sharpness=0.7)
    film = SimpleNamespace(width_px=640, height_px=480)
    pictures = [SimpleNamespace(index=k, time_s=k / 30.0, picture=picture_of(k)) for k in range(16)]
    found = follow_stretch(
        SimpleNamespace(look=seeing([lambda _: athlete, lambda _: plate])),  # type: ignore[arg-type]
        film,  # type: ignore[arg-type]
        pictures,  # type: ignore[arg-type]
        [Moment(k / 30.0, plate, (), SIZE_PX, turns=False, home=home) for k in (0, 15)],
        None,
        thorough=True,
    )
    expected = plate if home is None else athlete
    assert [k for k, pose in found.poses.items() if pose is not expected] == []


def test_stretches_are_cut_where_the_athlete_is_clearly_seen() -> None:
    def moment(time_s: float, sharpness: float | None) -> Moment:
        athlete = None if sharpness is None else person(sharpness=sharpness)
        return Moment(time_s, athlete, (), SIZE_PX, turns=False)

    told = [moment(6.0, 0.3), moment(7.0, 0.8), moment(8.0, 0.4), moment(16.0, None)]
    bounds = [(0.0, 8.0), (8.0, 16.0), (16.0, 20.0)]
    assert cut_where_sharp(bounds, told) == [(0.0, 7.0), (7.0, 16.0), (16.0, 20.0)]
