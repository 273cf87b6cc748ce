import numpy as np
import pytest

from vision.athlete.detection import Detection
from vision.marking.faces import LOST_S, FaceBox, FaceCover, Look, face_boxes
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.movenet import JOINTS


def standing(x_px: float, head_y_px: float, stature_px: float) -> np.ndarray:
    """A person seen from the front, by segment lengths of Drillis and Contini (1966)."""
    points = np.empty((LANDMARK_COUNT, 2))
    crown = head_y_px - (1.0 - 0.936) * stature_px

    def at(level: float, side: float = 0.0) -> tuple[float, float]:
        return x_px + side * stature_px, crown + (1.0 - level) * stature_px

    points[:] = at(0.936)
    for side, sign in (("LEFT", 1), ("RIGHT", -1)):
        points[Landmark[f"{side}_EAR"]] = at(0.93, sign * 0.045)
        points[Landmark[f"{side}_SHOULDER"]] = at(0.818, sign * 0.13)
        points[Landmark[f"{side}_HIP"]] = at(0.530, sign * 0.095)
        for name, level in (("KNEE", 0.285), ("ANKLE", 0.039), ("HEEL", 0.01)):
            points[Landmark[f"{side}_{name}"]] = at(level, sign * 0.095)
    return points


def covers(boxes: list[FaceBox], x_px: float, y_px: float) -> bool:
    return any(np.hypot(box.x_px - x_px, box.y_px - y_px) <= box.side_px / 2 for box in boxes)


def test_a_head_is_covered_from_crown_to_chin() -> None:
    boxes = face_boxes(standing(300.0, 120.0, 500.0))
    crown_px, chin_px = 120.0 - 0.05 * 500, 120.0 + (0.936 - 0.870) * 500
    for y_px in np.linspace(crown_px, chin_px, 9):
        assert covers(boxes, 300.0, float(y_px))


def test_a_face_read_in_the_wrong_place_is_covered_where_the_trunk_says() -> None:
    points = standing(300.0, 120.0, 500.0)
    points[: Landmark.LEFT_SHOULDER] += (90.0, 200.0)
    assert covers(face_boxes(points), 300.0, 125.0)


def test_any_landmark_of_the_head_will_do_and_none_of_the_body() -> None:
    points = np.full((LANDMARK_COUNT, 2), np.nan)
    points[Landmark.LEFT_SHOULDER] = (50.0, 60.0)
    assert face_boxes(points) == []
    points[Landmark.MOUTH_RIGHT] = (50.0, 40.0)
    assert covers(face_boxes(points), 50.0, 40.0)


def test_a_person_who_was_not_found_has_no_box() -> None:
    assert face_boxes(np.full((LANDMARK_COUNT, 2), np.nan)) == []


def person(x_px: float, head_y_px: float = 100.0, score: float = 0.9) -> Detection:
    joints_px = standing(x_px, head_y_px, 300.0)[list(JOINTS)]
    return Detection(score, joints_px, np.full(17, score), np.full(3, 120.0))


def test_a_moving_face_is_covered_between_two_looks() -> None:
    cover = FaceCover([Look(0.0, (person(100),)), Look(0.2, (person(140),))], None)
    assert covers(cover.boxes(0.1), 120.0, 100.0)


def test_a_face_missed_in_one_look_stays_covered() -> None:
    cover = FaceCover([Look(0.0, (person(100),)), Look(0.2, ()), Look(0.4, (person(100),))], None)
    for time_s in np.linspace(0.0, 0.4, 13):
        assert covers(cover.boxes(float(time_s)), 100.0, 100.0)


def test_a_face_is_covered_before_it_is_first_seen() -> None:
    looks = [Look(t, ()) for t in (0.0, 0.2, 0.4)] + [Look(0.6, (person(100),))]
    assert covers(FaceCover(looks, None).boxes(0.1), 100.0, 100.0)


@pytest.mark.parametrize("hidden_s", [0.6, 1.2, 1.6])
def test_somebody_who_walks_behind_a_post_stays_covered(hidden_s: float) -> None:
    """Walking at 80 pixels a second: no look finds them while the post hides them."""
    times = np.arange(0.0, 6.0, 0.2)
    looks = [
        Look(float(t), () if 2.0 < t < 2.0 + hidden_s else (person(100 + 80 * t),)) for t in times
    ]
    cover = FaceCover(looks, None)
    for time_s in np.arange(0.0, 5.8, 0.033):
        assert covers(cover.boxes(float(time_s)), 100.0 + 80.0 * time_s, 100.0)


@pytest.mark.parametrize(("hidden_s", "at_both_edges"), [(0.4, False), (0.6, True)])
def test_out_of_sight_for_half_a_second_they_may_be_at_either_edge(
    hidden_s: float, *, at_both_edges: bool
) -> None:
    seen = [(t, 100.0) for t in (0.0, 0.2, 0.4)]
    seen += [(0.4 + hidden_s + t, 220.0) for t in (0.0, 0.2, 0.4)]
    cover = FaceCover([Look(t, (person(x),)) for t, x in seen], None)
    middle = cover.boxes(0.4 + hidden_s / 2)
    assert covers(middle, 160.0, 100.0)
    assert [covers(middle, x, 100.0) for x in (100.0, 220.0)] == [at_both_edges] * 2


def test_somebody_who_stops_behind_a_post_stays_covered_at_both_edges() -> None:
    seen = [(t, 100.0) for t in (0.0, 0.2, 0.4)] + [(t, 160.0) for t in (2.4, 2.6, 2.8)]
    cover = FaceCover([Look(t, (person(x),)) for t, x in seen], None)
    assert covers(cover.boxes(0.8), 160.0, 100.0)
    assert covers(cover.boxes(2.2), 100.0, 100.0)


def test_two_who_pass_each_other_are_both_covered() -> None:
    looks = [
        Look(0.2 * n, (person(100 + 16 * n), person(500 - 16 * n, head_y_px=110)))
        for n in range(25)
    ]
    cover = FaceCover(looks, None)
    for n in range(48):
        assert covers(cover.boxes(0.1 * n), 100.0 + 8 * n, 100.0)
        assert covers(cover.boxes(0.1 * n), 500.0 - 8 * n, 110.0)


def test_what_is_more_likely_nobody_is_covered_all_the_same() -> None:
    cover = FaceCover([Look(0.0, ()), Look(0.2, (person(100, score=0.1),)), Look(0.4, ())], None)
    assert covers(cover.boxes(0.2), 100.0, 100.0)


def test_a_face_is_not_covered_for_ever() -> None:
    assert FaceCover([Look(0.0, (person(100),))], None).boxes(2 * LOST_S) == []


def test_a_walking_person_leaves_no_covered_trail() -> None:
    looks = [Look(0.2 * n, (person(100 + 12 * n),)) for n in range(40)]
    boxes = FaceCover(looks, None).boxes(4.0)
    assert all(abs(box.x_px - 340) < 110 for box in boxes)
