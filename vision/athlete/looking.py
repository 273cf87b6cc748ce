"""One way through a film for everything that is looked for in it.

The film is decoded once, in order, in small pictures. Everybody is sighted in stretch after
stretch. As soon as some stretches ahead are sighted, the athlete is chosen from the sightings up to
there, and followed through the pictures that are still at hand. When all is sighted, the athlete
is chosen from the whole film: a stretch for which that says anything else than was said before is
decoded and followed once more. What is found is therefore what following would find that knew
everything from the start.
"""

import itertools
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.choosing import STRETCH_S, Bound, Part, Sighted, parts_to_follow
from vision.athlete.grid import Piece, pieces_of
from vision.athlete.searching import Memory, sight
from vision.athlete.sharing import HandIn, Job
from vision.athlete.stretches import Found, follow_stretch
from vision.camera.background import Background, Box, GreyPicture
from vision.film.frames import (
    LONG_SIDE_PX,
    FilmFrame,
    Glance,
    frames,
    grey,
    size_within,
    thinned,
)
from vision.film.types import LARGE_PX, Film
from vision.pose.network import Pose, PoseNetwork

BoolArray = npt.NDArray[np.bool_]
Progress = Callable[[float, float], None]

SIGHTING_S: Final = 0.5
SPARING_S: Final = 0.025
"""Least time between two frames unless thorough: films of 50 frames a second and more are looked at
as if they had half."""
AHEAD: Final = 2
"""Stretches to be sighted beyond the one that is followed: the athlete's usual size there, and the
place of the cut at its end, hang on the next one and a quarter."""
BEHIND: Final = 4
"""Stretches before the one that is followed from whose sightings the athlete is first chosen."""
MOST_KEPT_BYTES: Final = 700 * 1024**2
"""Memory for small pictures between decoding and following. Films that need more are decoded a
second time to follow the athlete: 60 frames a second, all looked at, or of nearly square shape."""
_BYTES_A_PIXEL: Final = 3
SLOW_PX_S: Final = 1e8
"""Films of more pixels a second, such as 1080p60, are decoded by several threads at once. Others
keep pace with one, which needs less processor time than two."""


@dataclass(frozen=True, slots=True)
class Aim:
    """What of a film to look at, and for whom.

    Attributes
    ----------
    bounds
        The grid of stretches, without gaps.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width.
    thorough
        Look at every frame.
    """

    bounds: Sequence[Bound]
    lane: tuple[float, float] | None
    thorough: bool


class Looking:
    """The plan of looking through a film (`vision.athlete.sharing.Plan`).

    Parameters
    ----------
    film, aim
        The film, and what to look at.
    threads
        Decoding threads.
    glance
        What is done with every picture, in order.
    progress
        Called with seconds of film done and to do.
    """

    def __init__(
        self,
        film: Film,
        aim: Aim,
        *,
        threads: int = 1,
        glance: Glance | None = None,
        progress: Progress | None = None,
    ) -> None:
        self._film, self._aim, self._progress = film, aim, progress
        self._bounds = aim.bounds
        self._rows = _rows_to_look_at(film, aim)
        self._keeping = _bytes_kept(film, self._rows) <= MOST_KEPT_BYTES
        picture_px = film.width_px * film.height_px
        slow = picture_px * film.frame_rate_mean_hz > SLOW_PX_S
        self._sparing = picture_px > LARGE_PX
        self._reel = _Reel(
            self._frames((aim.bounds[0][0], aim.bounds[-1][1]), threads if slow else 1, glance)
        )
        self._decoding = False
        self._pieces = pieces_of(aim.bounds)
        self._decoded = self._follows_given = 0
        self._chosen_s = -np.inf
        self._to_sight: deque[tuple[Piece, list[FilmFrame]]] = deque()
        self._sighting: set[int] = set()
        self._memories: dict[int, Memory] = {}
        self._partly: dict[int, list[Sighted]] = {}
        self._held: deque[FilmFrame] = deque()
        self._released_s = -np.inf
        self._sighted: dict[int, list[Sighted]] = {}
        self._opening: tuple[float, GreyPicture, list[Pose]] | None = None
        self._background: Background | None = None
        self._parts: dict[int, Part] = {}
        self._found: dict[int, Found] = {}
        self._whole: list[Part] | None = None
        self._done: set[tuple[str, int]] = set()

    @property
    def finished(self) -> bool:
        """Whether the athlete has been followed through every stretch, rightly chosen."""
        return self._whole is not None and len(self._found) == len(self._bounds)

    @property
    def found(self) -> Found:
        """What has been found in all stretches."""
        whole = Found()
        for _, found in sorted(self._found.items()):
            whole.poses.update(found.poses)
            whole.shifts.update(found.shifts)
        return whole

    @property
    def scale(self) -> float:
        """Sides of the pictures looked at over the film's own."""
        return size_within(self._film, LONG_SIDE_PX)[0]

    def close(self) -> None:
        """Let go of the film."""
        self._reel.close()

    def next_job(self) -> Job | None:
        """Follow where possible, else sight, else decode on."""
        if self._whole is None and len(self._sighted) == len(self._bounds):
            self._choose_for_good()
        return self._follow_job() or self._sight_job() or self._decode_job()

    def _decode_job(self) -> Job | None:
        if self._decoding or self._decoded == len(self._pieces):
            return None
        piece = self._pieces[self._decoded]
        if piece.stretch > self._furthest():
            return None
        self._decoding = True
        before_s = -np.inf if piece.is_first else self._chosen_s

        def decode(_network: PoseNetwork) -> HandIn:
            pictures = self._reel.until(piece.end_s)
            chosen = _thinned(pictures, SIGHTING_S, before_s)

            def hand_in() -> None:
                self._decoding = False
                self._decoded += 1
                self._chosen_s = chosen[-1].time_s if chosen else before_s
                self._to_sight.append((piece, chosen))
                if self._keeping:
                    self._held.extend(pictures)

            return hand_in

        return decode

    def _furthest(self) -> int:
        """How far to decode: memory must not grow with the film."""
        if not self._keeping:
            return len(self._sighted) + 1
        unfollowed = next(n for n in itertools.count() if n not in self._found)
        return unfollowed + AHEAD + 1

    def _sight_job(self) -> Job | None:
        """Sight the people of a piece, knowing those of the pieces before in its stretch."""
        free = [one for one in self._to_sight if one[0].stretch not in self._sighting]
        if not free:
            return None
        piece, pictures = free[0]
        self._to_sight.remove(free[0])
        number = piece.stretch
        memory = self._memories.setdefault(number, Memory())
        self._sighting.add(number)

        def see(network: PoseNetwork) -> HandIn:
            seen = sight(network, pictures, memory)
            first = grey(pictures[0].picture) if pictures else None

            def hand_in() -> None:
                self._partly.setdefault(number, []).extend(seen)
                if first is not None and (
                    self._opening is None or seen[0].time_s < self._opening[0]
                ):
                    self._opening = (seen[0].time_s, first, seen[0].people)
                self._sighting.remove(number)
                if piece.is_last:
                    self._sighted[number] = self._partly.pop(number)
                    self._tell("sighted", number)

            return hand_in

        return see

    def _follow_job(self) -> Job | None:
        if self._whole is not None:
            for number, part in enumerate(self._whole):
                if number not in self._parts:
                    return self._follow(number, part)
            return None
        number = self._follows_given
        last = number + AHEAD
        if not self._keeping or any(n not in self._sighted for n in range(last + 1)):
            return None
        self._follows_given += 1
        first = max(0, number - BEHIND)
        return self._follow(number, self._choose(first, last)[number - first])

    def _follow(self, number: int, part: Part) -> Job:
        self._parts[number] = part
        pictures = self._pictures(part.bound)
        background = self._reference()

        def follow(network: PoseNetwork) -> HandIn:
            found = follow_stretch(
                network,
                self._film,
                pictures,
                part.moments,
                background,
                thorough=self._aim.thorough,
            )

            def hand_in() -> None:
                if self._parts.get(number) is part:
                    self._found[number] = found
                    self._tell("followed", number)

            return hand_in

        return follow

    def _choose_for_good(self) -> None:
        self._whole = self._choose(0, len(self._bounds) - 1)
        for number, part in enumerate(self._whole):
            if number in self._parts and not self._is_same(number, part):
                del self._parts[number]
                self._found.pop(number, None)

    def _is_same(self, number: int, part: Part) -> bool:
        """Whether a stretch was followed as this part asks for; who stands by may not matter."""
        before, found = self._parts[number], self._found.get(number)
        if not before.same_as(part):
            return False
        if found is not None:
            return found.is_same_for(before.moments, part.moments)
        pairs = zip(before.moments, part.moments, strict=True)
        return all(one.onlookers == other.onlookers for one, other in pairs)

    def _choose(self, first: int, last: int) -> list[Part]:
        return parts_to_follow(
            self._bounds[first : last + 1],
            [moment for number in range(first, last + 1) for moment in self._sighted[number]],
            self._aim.lane,
            self._film.width_px * self.scale,
        )

    def _pictures(self, bound: Bound) -> Iterable[FilmFrame]:
        """Give the pictures of a stretch, from memory where they all still are."""
        start_s, end_s = bound
        if not self._keeping or start_s < self._released_s:
            return self._frames(bound, threads=1)
        taken: deque[FilmFrame] = deque()
        while self._held and self._held[0].time_s < end_s:
            frame = self._held.popleft()
            if frame.time_s >= start_s:
                taken.append(frame)
        self._released_s = end_s
        return _used_up(taken)

    def _frames(
        self, bound: Bound, threads: int, glance: Glance | None = None
    ) -> Iterator[FilmFrame]:
        return frames(
            self._film,
            *bound,
            rows=self._rows,
            long_side_px=LONG_SIDE_PX,
            threads=threads,
            glance=glance,
            sparing=self._sparing,
        )

    def _reference(self) -> Background | None:
        """Return the background of the first picture."""
        if self._background is None and self._opening is not None:
            _, picture, people = self._opening
            self._background = Background(picture, [_box(pose) for pose in people])
        return self._background

    def _tell(self, what: str, number: int) -> None:
        self._done.add((what, number))
        if self._progress is not None:
            spans = [end_s - start_s for start_s, end_s in self._bounds]
            self._progress(sum(spans[n] for _, n in self._done), 2 * sum(spans))


class _Reel:
    """A film's pictures, taken stretch by stretch."""

    def __init__(self, pictures: Iterator[FilmFrame]) -> None:
        self._pictures = pictures
        self._next: FilmFrame | None = None

    def until(self, end_s: float) -> list[FilmFrame]:
        """Take the pictures before a time."""
        taken: list[FilmFrame] = []
        while (frame := self._next or next(self._pictures, None)) is not None:
            _ = frame.picture  # let go of the decoder's own
            self._next = None
            if frame.time_s >= end_s:
                self._next = frame
                break
            taken.append(frame)
        return taken

    def close(self) -> None:
        """Let go of the film."""
        if isinstance(self._pictures, Generator):
            self._pictures.close()


def _rows_to_look_at(film: Film, aim: Aim) -> BoolArray:
    inside = (film.time_s >= aim.bounds[0][0]) & (film.time_s < aim.bounds[-1][1])
    if not aim.thorough:
        inside[inside] = thinned(film.time_s[inside], SPARING_S)
    return inside


def _bytes_kept(film: Film, rows: BoolArray) -> float:
    """Memory of the pictures of as many stretches as are kept at once, at their densest."""
    _, width, height = size_within(film, LONG_SIDE_PX)
    span_s = (AHEAD + 2) * STRETCH_S
    times = film.time_s[rows]
    most = (np.searchsorted(times, times + span_s) - np.arange(len(times))).max(initial=0)
    return float(most) * _BYTES_A_PIXEL * width * height


def _thinned(pictures: Sequence[FilmFrame], every_s: float, last_s: float) -> list[FilmFrame]:
    kept = thinned(np.array([frame.time_s for frame in pictures]), every_s, last_s)
    return list(itertools.compress(pictures, kept))


def _used_up(pictures: deque[FilmFrame]) -> Iterator[FilmFrame]:
    while pictures:
        yield pictures.popleft()


def _box(pose: Pose) -> Box:
    low, high = pose.image_px.min(axis=0), pose.image_px.max(axis=0)
    margin = 0.1 * pose.region.side_px
    return (low[0] - margin, low[1] - margin, high[0] + margin, high[1] + margin)
