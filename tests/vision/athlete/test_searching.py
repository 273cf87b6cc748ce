"""Who is alone and clearly seen need not be searched for every time; everybody else is."""

from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import person
from vision.athlete.searching import Memory, sight
from vision.pose.network import Detection, Pose
from vision.pose.region import Region


@dataclass
class Room:
    """Stands in for the networks: people in each picture, found by searching or by looking."""

    people: list[list[Pose]]
    searched: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.pictures: list[Any] = [
            SimpleNamespace(time_s=0.5 * number, picture=np.full((480, 640, 3), number, np.uint8))
            for number in range(len(self.people))
        ]

    def find(self, window: Any, _least: float) -> list[Detection]:
        number, (height, width) = int(window[0, 0, 0]), window.shape[:2]
        if number not in self.searched:
            self.searched.append(number)
        if (height, width) != (480, 640):
            return []
        return [Detection(1.0, pose.region) for pose in self.people[number]]

    def look(self, picture: Any, region: Region) -> Pose:
        there = [
            pose
            for pose in self.people[int(picture[0, 0, 0])]
            if abs(pose.region.x_px - region.x_px) < 0.3 * region.side_px
        ]
        return there[0] if there else replace(person(region.x_px), confidence=0.0)

    def sight(self, pieces: int = 1) -> list[int]:
        """Sight everybody; give how many were seen in each picture."""
        memory, seen = Memory(), []
        for part in np.array_split(np.arange(len(self.pictures)), pieces):
            seen += sight(self, [self.pictures[k] for k in part], memory)  # type: ignore[arg-type]
        assert [sighted.time_s for sighted in seen] == [one.time_s for one in self.pictures]
        return [len(sighted.people) for sighted in seen]


@pytest.mark.parametrize("pieces", [1, 3])
def test_who_is_alone_is_searched_for_every_other_time(pieces: int) -> None:
    room = Room([[person(200 + 5 * k, squat=0.2 * (k % 3))] for k in range(8)])
    assert room.sight(pieces) == [1] * 8
    assert room.searched == [0, 2, 4, 6]


def test_two_people_are_searched_for_every_time() -> None:
    room = Room([[person(150), person(500)]] * 5)
    assert room.sight() == [2] * 5
    assert room.searched == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("sharpness", [0.4, 0.6])
def test_who_is_not_clearly_seen_is_searched_for_every_time(sharpness: float) -> None:
    room = Room([[person(200, sharpness=sharpness)]] * 5)
    assert room.sight() == [1] * 5
    assert room.searched == [0, 1, 2, 3, 4]


def test_who_is_not_found_again_is_searched_for_at_once() -> None:
    room = Room([[person(150)], [person(520)], [person(520)]])
    assert room.sight() == [1, 1, 1]
    # Whoever went from one place to the other may be two people.
    assert room.searched == [0, 1, 2]


def test_somebody_who_comes_in_is_seen_a_second_later_at_the_latest() -> None:
    room = Room([[person(150)]] * 3 + [[person(150), person(500)]] * 3)
    assert room.sight()[-2:] == [2, 2]


def test_nobody_is_searched_for_every_time() -> None:
    room = Room([[]] * 4)
    assert room.sight() == [0] * 4
    assert room.searched == [0, 1, 2, 3]
