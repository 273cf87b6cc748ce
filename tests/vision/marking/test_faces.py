import numpy as np

from vision.marking.faces import LOST_S, FaceBox, FaceCover, Look, face_boxes
from vision.pose.landmarks import LANDMARK_COUNT, Landmark


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


def test_a_person_who_was_not_found_has_no_box() -> None:
    assert face_boxes(np.full((LANDMARK_COUNT, 2), np.nan)) == []


def test_a_moving_face_is_covered_between_two_looks() -> None:
    cover = FaceCover(
        [Look(0.0, (FaceBox(100, 100, 40),)), Look(0.2, (FaceBox(140, 100, 40),))], None
    )
    assert covers(cover.boxes(0.1), 120.0, 100.0)


def test_a_face_missed_in_one_look_stays_covered() -> None:
    seen = FaceBox(100, 100, 40)
    cover = FaceCover([Look(0.0, (seen,)), Look(0.15, ()), Look(0.3, (seen,))], None)
    for time_s in np.linspace(0.0, 0.3, 13):
        assert covers(cover.boxes(float(time_s)), 100.0, 100.0)


def test_a_face_is_covered_before_it_is_first_seen() -> None:
    looks = [Look(t, ()) for t in (0.0, 0.15, 0.3)] + [Look(0.45, (FaceBox(100, 100, 40),))]
    assert covers(FaceCover(looks, None).boxes(0.1), 100.0, 100.0)


def test_a_head_lost_for_a_while_is_covered_where_it_moved() -> None:
    times = np.arange(0.0, 4.0, 0.15)
    looks = [
        Look(float(t), () if 1.0 < t < 2.0 else (FaceBox(100, 100 + 60 * np.sin(3 * t), 40),))
        for t in times
    ]
    cover = FaceCover(looks, None)
    assert covers(cover.boxes(1.5), 100.0, 100.0 + 60 * np.sin(3 * 1.5))
    assert cover.boxes(4.0 + 2 * LOST_S) == []


def test_a_walking_person_leaves_no_covered_trail() -> None:
    looks = [Look(0.15 * n, (FaceBox(100 + 12 * n, 100, 40),)) for n in range(40)]
    boxes = FaceCover(looks, None).boxes(3.0)
    assert all(abs(box.x_px - 340) < 110 for box in boxes)
