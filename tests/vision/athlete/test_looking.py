"""A film is decoded once; who is followed is who the whole film says, whatever came first."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.vision.athlete.people_in_pictures import person
from tests.vision.film.films import write_film
from vision.athlete import looking, sharing
from vision.athlete.choosing import STRETCH_S, Sighted
from vision.athlete.grid import stretches_of
from vision.athlete.looking import AHEAD, Aim, Looking
from vision.athlete.sharing import work_through
from vision.athlete.stretches import Found, Moment
from vision.film.frames import FilmFrame
from vision.film.reading import read_film
from vision.film.types import Film
from vision.pose.bundle import Bundle
from vision.pose.network import Pose

RATE_HZ = 5
SECONDS = 72
LEFT_PX, RIGHT_PX = 100.0, 450.0
People = Callable[[float], list[Pose]]


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Film:
    ticks = [90000 // RATE_HZ * n for n in range(RATE_HZ * SECONDS)]
    return read_film(write_film(tmp_path_factory.mktemp("films") / "film.mp4", ticks))


@dataclass
class Stage:
    """Stands in for the networks, and keeps book of what is decoded and followed."""

    people: People
    decodings: int = 0
    given: int = 0
    followed: int = 0
    most_at_hand: int = 0
    stretches: list[tuple[int, int]] = field(default_factory=list)

    def sight(
        self, _network: object, pictures: Sequence[FilmFrame], _memory: object
    ) -> list[Sighted]:
        return [Sighted(frame.time_s, self.people(frame.time_s)) for frame in pictures]

    def follow(
        self,
        _network: object,
        _film: Film,
        pictures: Iterable[FilmFrame],
        moments: Sequence[Moment],
        _background: object,
        *,
        thorough: bool,
    ) -> Found:
        """Say for each frame who was the athlete at the moment before."""
        assert not thorough
        found, place = Found(), 0
        rows = []
        for frame in pictures:
            while place + 1 < len(moments) and moments[place + 1].time_s <= frame.time_s:
                place += 1
            found.poses[frame.index] = moments[place].athlete
            rows.append(frame.index)
        self.followed += len(rows)
        self.stretches.append((rows[0], rows[-1]))
        return found

    def frames(self, inner: Callable[..., Iterator[FilmFrame]]) -> Callable[..., Any]:
        def counted(*args: Any, **kwargs: Any) -> Iterator[FilmFrame]:
            self.decodings += 1
            once = self.decodings == 1
            for frame in inner(*args, **kwargs):
                self.given += once
                self.most_at_hand = max(self.most_at_hand, self.given - self.followed)
                yield frame

        return counted


Look = Callable[[People, int], tuple[Found, Stage]]


@pytest.fixture
def look(film: Film, monkeypatch: pytest.MonkeyPatch) -> Look:
    unpatched = looking.frames

    def through(people: People, workers: int) -> tuple[Found, Stage]:
        stage = Stage(people)
        monkeypatch.setattr(looking, "sight", stage.sight)
        monkeypatch.setattr(looking, "follow_stretch", stage.follow)
        monkeypatch.setattr(looking, "frames", stage.frames(unpatched))
        monkeypatch.setattr(sharing, "PoseNetwork", lambda _bundle: None)
        plan = Looking(film, Aim(stretches_of(film, None, None), None, thorough=False))
        work_through(plan, Bundle("none", "", b"", b""), workers)
        plan.close()
        return plan.found, stage

    return through


def _squat(time_s: float, depth: float = 1.0) -> float:
    return depth * (0.5 - 0.5 * math.cos(2 * math.pi * time_s / 2.6))


def _one(time_s: float) -> list[Pose]:
    return [person(LEFT_PX, squat=_squat(time_s))]


def _another_in_the_end(time_s: float) -> list[Pose]:
    """Who stands on the left warms up a little; then the one on the right works to the end."""
    early = time_s < 20
    return [
        person(LEFT_PX, squat=_squat(time_s, 0.4) if early else 0.0),
        person(RIGHT_PX, squat=0.0 if early else _squat(time_s)),
    ]


def _places(found: Found) -> list[float | None]:
    return [None if pose is None else pose.region.x_px for _, pose in sorted(found.poses.items())]


def test_one_athlete_is_followed_through_every_frame_and_the_film_decoded_once(
    film: Film, look: Look
) -> None:
    found, stage = look(_one, 1)
    assert sorted(found.poses) == list(range(film.frames))
    assert stage.decodings == 1
    assert stage.followed == film.frames


def test_where_the_whole_film_says_another_the_stretch_is_decoded_and_followed_again(
    film: Film, look: Look
) -> None:
    found, stage = look(_another_in_the_end, 1)
    assert _places(found) == pytest.approx([RIGHT_PX] * film.frames)
    again = stage.decodings - 1
    assert again >= 1
    assert len(stage.stretches) == len(stretches_of(film, None, None)) + again
    # The first choice held for the later stretches: they are not followed twice.
    assert again < len(stretches_of(film, None, None)) / 2


@pytest.mark.parametrize("people", [_one, _another_in_the_end])
def test_more_workers_find_the_same(look: Look, people: People) -> None:
    alone, _ = look(people, 1)
    for workers in (2, 3):
        together, _ = look(people, workers)
        assert sorted(together.poses) == sorted(alone.poses)
        assert _places(together) == _places(alone)


@pytest.mark.parametrize("workers", [1, 3])
def test_pictures_at_hand_do_not_grow_with_the_film(look: Look, workers: int) -> None:
    _, stage = look(_one, workers)
    # A stretch is at most 1.9 times as long as the grid's, since its cuts move.
    assert stage.most_at_hand <= (AHEAD + 3) * STRETCH_S * RATE_HZ
    assert stage.most_at_hand < 0.5 * SECONDS * RATE_HZ


def test_a_film_whose_pictures_are_too_many_to_keep_is_decoded_twice_and_found_the_same(
    look: Look, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, _ = look(_another_in_the_end, 2)
    monkeypatch.setattr(looking, "MOST_KEPT_BYTES", 0)
    decoded_again, stage = look(_another_in_the_end, 2)
    assert _places(decoded_again) == _places(kept)
    assert stage.decodings == 1 + len(stage.stretches)
