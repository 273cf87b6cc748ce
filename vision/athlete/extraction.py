"""From a film to the athlete's landmarks in every frame.

The film is decoded twice. First everybody is detected a few times a second, and one decision over
the whole film says who is who and who is the athlete. Then the athlete's body is read by both
networks in the pictures that tell something. Between two readings lies a line
(`vision.athlete.schedule`).
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final, Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from vision.athlete.detection import Detection, Sample, detect, found_near
from vision.athlete.interpolation import with_lines_between
from vision.athlete.masking import without_others
from vision.athlete.reading import Body, Readers, mean_joints
from vision.athlete.schedule import read_where_needed
from vision.athlete.selection import athlete_among
from vision.athlete.sides import with_sides_settled
from vision.athlete.tracking import paths_of_people
from vision.athlete.whereabouts import Whereabouts, is_somebody_else
from vision.camera.background import Background, Box, GreyPicture, Shift, shifts_between
from vision.film.frames import LONG_SIDE_PX, FilmFrame, Glance, frames, grey, size_within, thinned
from vision.film.types import LARGE_PX, Film
from vision.pose.bundle import Bundle, load_bundle
from vision.pose.movenet import PeopleFinder, separation
from vision.pose.region import Picture
from vision.track import PoseTrack

BoolArray = npt.NDArray[np.bool_]
Result = TypeVar("Result")
Progress = Callable[[float, float], None]

DETECTION_S: Final = 0.2
"""Time between two looks for everybody."""
CLOSER: Final = 1.6
"""Side, in statures, of the square in which an athlete is looked for who went undetected."""
CLOSER_PX: Final = (320, 320)
"""What the network sees of it. In 46 such pictures of two films it found 44, and 33 in squares of
2.2 statures; at 256 x 256 it found 41 and 24."""
STRETCH_S: Final = 2.0
"""Pictures are read in stretches of this length, several at a time."""
LEAST_OFTEN: Final = 2
"""Of the pictures in which everybody was looked for, so many on is the next that is read in any
case: every 0.4 s."""
SPARING_S: Final = 0.025
"""Least time between two frames unless thorough: films of 50 frames a second and more are looked at
as if they had half."""
SLOW_PX_S: Final = 1e8
"""Films of more pixels a second, such as 1080p60, are decoded by several threads at once. Others
keep pace with one, which needs less processor time than two."""
_DETECTING_SHARE: Final = 0.35
"""Share of the time that the first pass takes, for telling progress."""
_PARTED_S: Final = 1.0
_LEAPT_S: Final = 0.3
_LEAP: Final = 0.5
"""Two readings need not be one person's after so long, or after so long where the body has moved by
so much of its size (chosen, not measured)."""


def extract(
    film: Film,
    *,
    model: str | Path = "full",
    lane: tuple[float, float] | None = None,
    start_s: float | None = None,
    end_s: float | None = None,
    thorough: bool = False,
    workers: int = 1,
    progress: Progress | None = None,
    glance: Glance | None = None,
) -> PoseTrack:
    """Follow the athlete through a film; parameters and errors as of `vision.reader.Reader`."""
    looking = _Looking(film, load_bundle(model), _span(film, start_s, end_s), thorough, workers)
    samples, background = looking.detected(glance, _part_of(progress, 0.0, _DETECTING_SHARE))
    width_px = film.width_px * looking.scale
    chosen = athlete_among(paths_of_people(samples), samples, width_px, lane)
    people = _People(
        Whereabouts(chosen.athlete, samples),
        [Whereabouts(path, samples) for path in chosen.others],
    )
    bodies, shifts = looking.read(
        people, [s.row for s in samples], background, _part_of(progress, _DETECTING_SHARE, 1.0)
    )
    return _track(film, bodies, shifts, looking.scale)


class _Submit(Protocol):
    """Hands out work, waiting while enough of it is under way."""

    def __call__(self, work: Callable[[], Result]) -> Future[Result]: ...


@dataclass(frozen=True, slots=True, eq=False)
class _People:
    """Where the athlete is, and where everybody else."""

    athlete: Whereabouts
    others: Sequence[Whereabouts]

    def others_at(self, time_s: float) -> list[npt.NDArray[np.float64]]:
        there = (other.at(time_s) for other in self.others)
        return [joints for joints in there if joints is not None]


class _Looking:
    """Decodes a film and has its pictures looked at, several at a time."""

    def __init__(
        self,
        film: Film,
        bundle: Bundle,
        span: tuple[float, float],
        thorough: bool,
        workers: int,
    ) -> None:
        self._film, self._bundle, self._span = film, bundle, span
        self._thorough, self._workers = thorough, max(1, workers)
        self.scale = size_within(film, LONG_SIDE_PX)[0]
        self._rows = (film.time_s >= span[0]) & (film.time_s < span[1])
        if not thorough:
            self._rows[self._rows] = thinned(film.time_s[self._rows], SPARING_S)
        self._own = threading.local()

    def detected(
        self, glance: Glance | None, progress: Progress | None
    ) -> tuple[list[Sample], Background | None]:
        """Detect everybody every `DETECTION_S`; also the background of the first picture."""
        found: list[tuple[FilmFrame, Future[tuple[Detection, ...]]]] = []
        first: GreyPicture | None = None
        due_s = -np.inf
        with self._pool() as submit:
            for frame in self._frames(glance):
                if frame.time_s < due_s:
                    continue
                due_s = frame.time_s + DETECTION_S - 1e-6
                picture = frame.picture
                first = grey(picture) if first is None else first
                found.append((frame, submit(partial(self._detect, picture))))
                frame.forget()
                self._tell(progress, frame.time_s)
        samples = [Sample(frame.index, frame.time_s, done.result()) for frame, done in found]
        if first is None:
            return samples, None
        return samples, Background(first, [_box(one) for one in samples[0].people])

    def read(
        self,
        people: _People,
        sampled: Sequence[int],
        background: Background | None,
        progress: Progress | None,
    ) -> tuple[dict[int, Body | None], dict[int, Shift]]:
        """Read the athlete's body, and the camera's movement, by film row."""
        stature_px = people.athlete.stature_px()
        bodies: dict[int, Body | None] = {}
        shifts: dict[int, Shift] = {}
        if not np.isfinite(stature_px):
            return bodies, shifts
        marked = set(sampled)

        def read_stretch(
            pictures: list[FilmFrame],
        ) -> tuple[dict[int, Body | None], dict[int, Shift]]:
            def read(place: int, around: tuple[Body, Body] | None) -> Body | None:
                frame = pictures[place]
                expected = people.athlete.at(frame.time_s)
                if expected is None:
                    return None
                if around is not None:
                    expected = mean_joints(around)
                others = people.others_at(frame.time_s)
                picture = without_others(frame.picture, expected, stature_px, others)
                if frame.index in marked and not people.athlete.detected_at(frame.time_s):
                    expected = self._closer(picture, expected, stature_px)
                    picture = without_others(frame.picture, expected, stature_px, others)
                body = self._readers().read(picture, expected, stature_px)
                return None if is_somebody_else(body.joints_px, expected, others) else body

            due = [n for n, p in enumerate(pictures) if p.index in marked]
            marks = sorted({0, len(pictures) - 1, *due[::LEAST_OFTEN]})
            times = [frame.time_s for frame in pictures]
            known = read_where_needed(read, marks, times, stature_px, every=self._thorough)
            looks = [pictures[place] for place in sorted(known)]
            moved = _shifts(looks, background)
            return {pictures[place].index: body for place, body in known.items()}, moved

        waiting: deque[Future[tuple[dict[int, Body | None], dict[int, Shift]]]] = deque()
        with self._pool() as submit:
            for pictures in self._stretches():
                waiting.append(submit(partial(read_stretch, pictures)))
                self._tell(progress, pictures[0].time_s)
        for done in waiting:
            some, moved = done.result()
            bodies.update(some)
            shifts.update(moved)
        self._tell(progress, self._span[1])
        return with_sides_settled(bodies, self._film.time_s, stature_px), shifts

    def _stretches(self) -> Iterator[list[FilmFrame]]:
        """Give the pictures to look at in stretches that share their last and first picture."""
        stretch: list[FilmFrame] = []
        for frame in self._frames(None):
            _ = frame.picture  # let go of the decoder's own
            stretch.append(frame)
            if frame.time_s - stretch[0].time_s >= STRETCH_S:
                yield stretch
                stretch = [frame]
        if stretch:
            yield stretch

    def _frames(self, glance: Glance | None) -> Iterator[FilmFrame]:
        picture_px = self._film.width_px * self._film.height_px
        slow = picture_px * self._film.frame_rate_mean_hz > SLOW_PX_S
        return frames(
            self._film,
            *self._span,
            rows=self._rows,
            long_side_px=LONG_SIDE_PX,
            threads=self._workers if slow else 1,
            glance=glance,
            sparing=picture_px > LARGE_PX,
        )

    @contextmanager
    def _pool(self) -> Iterator["_Submit"]:
        """Give a function that hands out work; it waits while enough is under way."""
        slots = threading.Semaphore(self._workers + 2)

        with ThreadPoolExecutor(self._workers) as pool:

            def submit(work: Callable[[], Result]) -> Future[Result]:
                slots.acquire()
                done = pool.submit(work)
                done.add_done_callback(lambda _: slots.release())
                return done

            try:
                yield submit
            except BaseException:
                pool.shutdown(cancel_futures=True)
                raise

    def _detect(self, picture: Picture) -> tuple[Detection, ...]:
        if not hasattr(self._own, "finder"):
            self._own.finder = PeopleFinder()
        return detect(self._own.finder, picture)

    def _closer(
        self, picture: Picture, expected: npt.NDArray[np.float64], stature_px: float
    ) -> npt.NDArray[np.float64]:
        """Look for the athlete, undetected in the whole picture, in the part where they must be."""
        if not hasattr(self._own, "closer"):
            self._own.closer = PeopleFinder(CLOSER_PX)
        return found_near(self._own.closer, picture, expected, CLOSER * stature_px)

    def _readers(self) -> Readers:
        if not hasattr(self._own, "readers"):
            self._own.readers = Readers(self._bundle)
        readers: Readers = self._own.readers
        return readers

    def _tell(self, progress: Progress | None, time_s: float) -> None:
        if progress is not None:
            start_s, end_s = self._span
            progress(min(time_s, end_s) - start_s, end_s - start_s)


def _span(film: Film, start_s: float | None, end_s: float | None) -> tuple[float, float]:
    first = float(film.time_s[0]) if start_s is None else max(float(film.time_s[0]), start_s)
    last = float(film.time_s[-1]) + 1e-3
    return first, last if end_s is None else max(first, min(last, end_s))


def _part_of(progress: Progress | None, start: float, end: float) -> Progress | None:
    """Tell the progress of one part of the work as that of the whole."""
    if progress is None:
        return None

    def tell(done_s: float, total_s: float) -> None:
        progress(start * total_s + (end - start) * done_s, total_s)

    return tell


def _shifts(looks: Sequence[FilmFrame], background: Background | None) -> dict[int, Shift]:
    if background is None or not looks:
        return {}
    pictures = [grey(frame.picture) for frame in looks]
    first = background.shift_in(pictures[0])
    before = None if first is None else (looks[0].time_s, first)
    measured = shifts_between(
        lambda place, near: background.shift_in(pictures[place + 1], near),
        [frame.time_s for frame in looks[1:]],
        before,
        background.edge_px,
    )
    known = zip(looks, [first, *measured], strict=True)
    return {frame.index: shift for frame, shift in known if shift is not None}


def _track(
    film: Film, bodies: dict[int, Body | None], shifts: dict[int, Shift], scale: float
) -> PoseTrack:
    track = PoseTrack.unobserved(film.time_s, film.width_px, film.height_px)
    identity = 0
    last: tuple[float, Body] | None = None
    for row, body in sorted(bodies.items()):
        if body is None:
            continue
        time_s = float(film.time_s[row])
        if last is not None and _parted(*last, time_s, body):
            identity += 1
        last = (time_s, body)
        track.image_px[row] = body.image_px / scale
        track.covariance_px2[row] = body.covariance_px2 / scale**2
        track.depth_px[row] = body.read.depth_px / scale
        track.world_m[row] = body.read.world_m
        track.visibility[row] = body.read.visibility
        track.identity[row] = identity
    for row, shift in shifts.items():
        track.camera_shift_px[row] = (shift.right_px / scale, shift.down_px / scale)
        track.camera_roll_rad[row] = shift.roll_rad
    return with_lines_between(track, np.array(sorted(bodies), dtype=np.int64))


def _parted(last_s: float, last: Body, now_s: float, now: Body) -> bool:
    """Whether two readings in a row need not be the same person's."""
    apart_s = now_s - last_s
    return apart_s > _PARTED_S or (
        apart_s > _LEAPT_S and separation(last.joints_px, now.joints_px) > _LEAP
    )


def _box(one: Detection) -> Box:
    low, high = one.image_px.min(axis=0), one.image_px.max(axis=0)
    margin = 0.15 * one.size_px
    return (low[0] - margin, low[1] - margin, high[0] + margin, high[1] + margin)
