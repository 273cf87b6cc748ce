"""Who is who: all detections of a film explained by the likeliest set of people."""

import itertools

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import BLUE, RED, detection, joints, samples
from vision.athlete.detection import Detection
from vision.athlete.tracking import (
    ENTERING,
    UNSEEN,
    Path,
    clothes_cost,
    paths_of_people,
    step_cost,
)


def standing(count: int, x_px: float = 320.0, **kind: object) -> list[Detection]:
    return [detection(joints(x_px), **kind) for _ in range(count)]  # type: ignore[arg-type]


def ways(paths: list[Path]) -> set[tuple[int, ...]]:
    return {tuple(round(float(one.hips_px[0])) for one in path.detections) for path in paths}


def test_no_picture_holds_nobody() -> None:
    assert paths_of_people([]) == []
    assert paths_of_people(samples([[], []])) == []


def test_a_person_in_every_picture_is_one_path() -> None:
    (path,) = paths_of_people(samples([[one] for one in standing(8)]))
    assert path.place == tuple(range(8))


def test_two_people_side_by_side_are_two_paths() -> None:
    pictures = list(zip(standing(6, 200.0), standing(6, 440.0), strict=True))
    assert ways(paths_of_people(samples(pictures))) == {(200,) * 6, (440,) * 6}


def test_who_goes_undetected_for_a_while_is_still_the_same_person() -> None:
    pictures: list[list[Detection]] = [[one] for one in standing(10)]
    pictures[4] = pictures[5] = pictures[6] = []
    (path,) = paths_of_people(samples(pictures))
    assert path.place == (0, 1, 2, 3, 7, 8, 9)


def test_a_doubtful_flash_is_nobody() -> None:
    pictures: list[list[Detection]] = [[one] for one in standing(8)]
    pictures[3] = [*pictures[3], detection(joints(500.0), score=0.4)]
    assert len(paths_of_people(samples(pictures))) == 1


def test_a_passer_by_in_other_clothes_does_not_take_the_athlete_along() -> None:
    """The athlete goes undetected while somebody passes before them."""
    pictures = []
    for number in range(13):
        passing = detection(joints(140.0 + 30.0 * number), clothes=BLUE)
        hidden = abs(140.0 + 30.0 * number - 320.0) < 40.0
        pictures.append([passing] if hidden else [passing, detection(joints(320.0), clothes=RED)])
    found = ways(paths_of_people(samples(pictures)))
    assert tuple(range(140, 530, 30)) in found
    assert (320,) * 10 in found


def test_nobody_takes_over_anothers_detections() -> None:
    """One path that hops over to a second person's detections would leave that one without."""
    pictures = [[one] for one in standing(4, 300.0)] + [[] for _ in range(4)]
    for picture, other in zip(pictures, standing(8, 380.0, clothes=BLUE), strict=True):
        picture.append(other)
    assert ways(paths_of_people(samples(pictures))) == {(300,) * 4, (380,) * 8}


@pytest.mark.parametrize("seed", range(6))
def test_no_other_set_of_paths_is_cheaper(seed: int) -> None:
    """Against every way there is to explain five detections in three pictures."""
    rng = np.random.default_rng(seed)
    pictures = [
        [
            detection(
                joints(float(rng.uniform(250, 390))),
                score=float(rng.uniform(0.3, 0.95)),
                clothes=RED if rng.random() < 0.5 else BLUE,
            )
            for _ in range(count)
        ]
        for count in (2, 1, 2)
    ]
    film = samples(pictures)
    nodes = [(place, one) for place, picture in enumerate(pictures) for one in picture]

    def cost(chain: tuple[int, ...]) -> float:
        total = 2 * ENTERING
        for number in chain:
            score = nodes[number][1].score
            total -= np.log(score / (1 - score)) - np.log(0.25 / 0.75)
        for a, b in itertools.pairwise(chain):
            (p, one), (q, other) = nodes[a], nodes[b]
            total += step_cost(one, other, 0.2 * (q - p)) + UNSEEN * (q - p - 1)
        return total

    chains = [
        chain
        for length in (1, 2, 3)
        for chain in itertools.combinations(range(len(nodes)), length)
        if all(nodes[a][0] < nodes[b][0] for a, b in itertools.pairwise(chain))
    ]
    best = min(
        sum(map(cost, chosen))
        for count in range(4)
        for chosen in itertools.combinations(chains, count)
        if len({n for chain in chosen for n in chain}) == sum(map(len, chosen))
    )
    number = {id(one): n for n, (_, one) in enumerate(nodes)}
    found = [tuple(number[id(one)] for one in path.detections) for path in paths_of_people(film)]
    assert sum(map(cost, found)) == pytest.approx(best, abs=1e-6)


def test_clothes_of_one_colour_cost_nothing_and_unknown_ones_neither() -> None:
    assert clothes_cost(np.array(RED), np.array(RED)) == 0.0
    assert clothes_cost(np.array(RED), np.full(3, np.nan)) == 0.0
    assert clothes_cost(np.array(RED), np.array(BLUE)) > 2.0


def test_a_bar_before_the_trunk_does_not_cut_a_path() -> None:
    """Its colour is seen for three pictures; place and size stay the same person's."""
    people = standing(12)
    for number in (5, 6, 7):
        people[number] = detection(joints(320.0), clothes=(20.0, 128.0, 128.0))
    (path,) = paths_of_people(samples([[one] for one in people]))
    assert path.place == tuple(range(12))
