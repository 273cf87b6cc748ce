"""The athlete is who does the work where the phone points."""

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import BLUE, RED, WIDTH_PX, detection, joints, samples
from vision.athlete.detection import Detection
from vision.athlete.selection import SIZE_SPREAD, Chosen, _size_px, athlete_among
from vision.athlete.tracking import Path, paths_of_people

COUNT = 30


def squatting(x_px: float, *, stature_px: float = 200.0, clothes: object = RED) -> list[Detection]:
    depth = 0.5 - 0.5 * np.cos(np.arange(COUNT) * 2 * np.pi / 10)
    return [
        detection(joints(x_px, stature_px=stature_px, squat=float(d)), clothes=clothes)  # type: ignore[arg-type]
        for d in depth
    ]


def still(x_px: float, clothes: object = BLUE) -> list[Detection]:
    return [detection(joints(x_px), clothes=clothes) for _ in range(COUNT)]  # type: ignore[arg-type]


def chosen(*people: list[Detection], lane: tuple[float, float] | None = None) -> Chosen:
    film = samples(list(zip(*people, strict=True)))
    return athlete_among(paths_of_people(film), film, WIDTH_PX, lane)


def place_px(choice: Chosen) -> float:
    assert choice.athlete is not None
    return float(choice.athlete.detections[0].hips_px[0])


def places(choice: Chosen) -> tuple[int, ...]:
    assert choice.athlete is not None
    return choice.athlete.place


def test_nobody_at_all_is_no_athlete() -> None:
    assert athlete_among([], [], WIDTH_PX).athlete is None


def test_who_squats_is_the_athlete_and_not_who_stands_in_the_middle() -> None:
    choice = chosen(squatting(220.0), still(330.0))
    assert place_px(choice) == 220.0
    assert len(choice.others) == 1


def test_of_two_who_exercise_the_one_the_phone_points_at_is_the_athlete() -> None:
    choice = chosen(squatting(330.0), squatting(120.0, stature_px=150.0, clothes=BLUE))
    assert place_px(choice) == 330.0


def test_a_lane_decides_over_everything_else() -> None:
    choice = chosen(squatting(330.0), squatting(120.0, clothes=BLUE), lane=(0.0, 0.3))
    assert place_px(choice) == 120.0


def test_a_lane_without_anybody_has_no_athlete() -> None:
    assert chosen(squatting(330.0), lane=(0.9, 1.0)).athlete is None


def test_who_walks_out_and_comes_back_in_the_same_clothes_is_the_athlete_again() -> None:
    away: list[list[Detection]] = [[] for _ in range(40)]
    film = samples([*([one] for one in squatting(320.0)), *away, *([o] for o in squatting(300.0))])
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert places(choice) == (*range(COUNT), *range(COUNT + 40, 2 * COUNT + 40))


def test_somebody_else_who_comes_later_is_not_the_athlete() -> None:
    away: list[list[Detection]] = [[] for _ in range(40)]
    film = samples([*([one] for one in squatting(320.0)), *away, *([o] for o in still(300.0))])
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert places(choice) == tuple(range(COUNT))


def test_who_folds_is_as_large_as_who_stands() -> None:
    """A body that hangs its trunk over its hips has a small box, but the same bones."""
    folded = joints(320.0)
    folded[:11, 1] = 2 * folded[11, 1] - folded[:11, 1]
    assert detection(folded).size_px < 0.8 * detection(joints(320.0)).size_px
    sizes = [
        _size_px(Path(tuple(range(COUNT)), (detection(one),) * COUNT))
        for one in (folded, joints(320.0))
    ]
    assert sizes[0] == pytest.approx(sizes[1])


def test_a_passer_by_whose_clothes_are_a_shade_off_is_not_the_athlete() -> None:
    passing = [
        [detection(joints(60.0 + 8.0 * n), clothes=(140.0, 180.0, 137.0))] for n in range(20)
    ]
    film = samples([*passing, *([] for _ in range(20)), *([one] for one in squatting(320.0))])
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert places(choice)[0] == 40


def test_who_stands_all_film_long_is_not_the_athlete_for_being_always_there() -> None:
    """An athlete who works for a fifth of the film, before somebody who watches all of it."""
    rest: list[list[Detection]] = [[] for _ in range(4 * COUNT)]
    working = [*([one] for one in squatting(330.0)), *rest]
    watching = still(400.0) * 5
    film = samples([[*some, one] for some, one in zip(working, watching, strict=True)])
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert places(choice) == tuple(range(COUNT))


GREY = (150.0, 128.0, 128.0)


def up_and_down() -> list[Detection]:
    """Burpees: ten times standing, ten times low, where the shirt looks another colour."""
    up = [detection(joints(320.0 + x)) for x in (0.0, 6.0) * 5]
    down = [detection(joints(320.0, stature_px=110.0), clothes=GREY)] * 10
    return [*up, *down] * 3


def test_who_takes_turns_with_the_athlete_in_one_place_is_the_athlete() -> None:
    film = samples([[one] for one in up_and_down()])
    paths = [
        Path(tuple(k), tuple(film[n].people[0] for n in k))
        for k in (
            [n for n in range(60) if n % 20 < 10],
            [n for n in range(60) if n % 20 >= 10],
        )
    ]
    choice = athlete_among(paths, film, WIDTH_PX)
    assert places(choice) == tuple(range(60))
    assert choice.others == ()


def test_two_who_are_seen_together_are_two_however_much_they_take_turns() -> None:
    pictures = [
        [one, detection(joints(360.0), clothes=GREY)] if n % 20 < 15 else [detection(joints(360.0))]
        for n, one in enumerate(squatting(320.0) * 2)
    ]
    film = samples(pictures)
    paths = [
        Path(tuple(k), tuple(film[n].people[who] for n in k))
        for k, who in (([n for n in range(60) if n % 20 < 15], 0), (list(range(15)), 1))
    ]
    choice = athlete_among(paths, film, WIDTH_PX)
    assert len(choice.others) == 1


def test_a_path_that_ends_on_a_passer_by_begins_as_the_athletes() -> None:
    """The athlete's first set; then tracking went along with somebody who walked past."""
    first, second = squatting(320.0), squatting(320.0)
    stolen = [detection(joints(330.0 + 30.0 * n)) for n in range(5)]
    pictures = [[one] for one in first] + [
        [one, *stolen[n : n + 1]] for n, one in enumerate(second)
    ]
    film = samples(pictures)
    early = Path(tuple(range(COUNT + 5)), (*first, *stolen))
    late = Path(tuple(range(COUNT, 2 * COUNT)), tuple(second))
    choice = athlete_among([early, late], film, WIDTH_PX)
    assert places(choice) == tuple(range(2 * COUNT))
    assert [path.place for path in choice.others] == [tuple(range(COUNT, COUNT + 5))]


@pytest.mark.parametrize(("cost", "same"), [(3.0, True), (5.0, False)])
def test_paths_apart_in_time_are_one_persons_up_to_a_cost_of_four(cost: float, same: bool) -> None:
    """The cost is that of another size: half its square in standard deviations."""
    larger = 200.0 * float(np.exp(SIZE_SPREAD * np.sqrt(2.0 * cost)))
    first, second = squatting(320.0), squatting(320.0, stature_px=larger)
    film = samples([[one] for one in (*first, *second)])
    paths = [
        Path(tuple(range(COUNT)), tuple(first)),
        Path(tuple(range(COUNT, 2 * COUNT)), tuple(second)),
    ]
    choice = athlete_among(paths, film, WIDTH_PX)
    assert (len(choice.others) == 0) == same


def test_who_goes_on_as_the_one_they_pass_behind_is_told_by_their_clothes() -> None:
    """Tracking exchanged two people in the middle: the path of the one became the other's."""
    athlete, onlooker = squatting(330.0) * 2, still(400.0) * 2
    film = samples(list(zip(athlete, onlooker, strict=True)))
    everywhere, half = tuple(range(2 * COUNT)), COUNT
    paths = [
        Path(everywhere, (*athlete[:half], *onlooker[half:])),
        Path(everywhere, (*onlooker[:half], *athlete[half:])),
    ]
    choice = athlete_among(paths, film, WIDTH_PX)
    assert choice.athlete is not None
    assert places(choice) == everywhere
    assert [tuple(one.clothes) for one in choice.athlete.detections] == [RED] * 2 * COUNT


def test_a_path_whose_colours_change_with_the_light_stays_whole() -> None:
    """Nobody else is more like either half."""
    lit, dark = squatting(330.0), squatting(330.0, clothes=(90.0, 150.0, 140.0))
    film = samples(list(zip([*lit, *dark], still(500.0) * 2, strict=True)))
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert places(choice) == tuple(range(2 * COUNT))
    assert place_px(choice) == 330.0


def test_joints_that_jitter_in_somebody_who_stands_about_are_no_work() -> None:
    """Wrists behind the back are drawn anew in every picture, by a tenth of the body."""
    rng = np.random.default_rng(3)
    watching = []
    for _ in range(3 * COUNT):
        drawn = joints(330.0)
        drawn[[9, 10], 1] += 8.0 * rng.standard_normal()
        watching.append(detection(drawn, clothes=BLUE))
    working = squatting(250.0)[:10] + [detection(joints(250.0))] * (3 * COUNT - 10)
    film = samples(list(zip(working, watching, strict=True)))
    choice = athlete_among(paths_of_people(film), film, WIDTH_PX)
    assert place_px(choice) == 250.0
