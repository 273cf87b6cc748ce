"""From a film to the athlete's landmarks in every frame."""

import itertools
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from vision.athlete.attention import turns_at
from vision.athlete.following import body_size, is_sharp
from vision.athlete.lines import with_lines_between
from vision.athlete.people import MEMORY_S, NEAR, Present, told_apart
from vision.athlete.sightings import JOINTS, separation, sightings
from vision.athlete.stretches import LONG_SIDE_PX, Found, Moment, follow_stretch
from vision.camera.background import Background, Box, grey
from vision.film.frames import Glance, Picture, frames
from vision.film.types import Film
from vision.pose.bundle import Bundle, load_bundle
from vision.pose.network import Pose, PoseNetwork
from vision.track import PoseTrack

SIGHTING_S: Final = 0.5
STRETCH_S: Final = 8.0
"""Films are looked at in stretches of this length, each for itself, so that the result does not
depend on how many workers share them."""
FAR: Final = 0.02
"""Sharpness that makes up for a second between a cut and its place in the grid of stretches."""
USUAL_S: Final = 6.0
SHARP_MEMORY_S: Final = 10.0
"""A person clearly seen is looked for in the same place for this long, others for `MEMORY_S`."""
FloatArray = npt.NDArray[np.float64]
T = TypeVar("T")
Progress = Callable[[float, float], None]


@dataclass(frozen=True, slots=True, eq=False)
class _Sighted:
    time_s: float
    people: list[Pose]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Who was sighted in a stretch, and the small pictures taken on the way with their times."""

    sighted: list[_Sighted]
    glances: list[tuple[float, Picture]]


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
    """Follow the athlete through a film and read the landmarks in every frame.

    First everybody is sighted twice a second; from whole paths through these sightings the athlete
    is chosen; then the athlete is followed between the sightings, closely where they turn or
    speed up or are hard to make out, sparingly where they rest or move evenly: there the line
    between two looks stands for the frames between (`PoseTrack.looked` tells which).

    Parameters
    ----------
    film
        The film.
    model
        "full", "lite", or the path of a pose bundle.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width.
    start_s, end_s
        Part of the film to look at; rows outside stay unobserved.
    thorough
        Look at every frame.
    workers
        Threads that look at stretches of the film side by side; the result is the same for any
        number.
    progress
        Called with seconds of film done and to do.
    glance
        What is done with every picture that is looked for people in, in order: the film need not
        be decoded once more for it.

    Raises
    ------
    FilmError, ModelError
        The film or the model cannot be used.
    """
    team = _Team(load_bundle(model), workers, progress)
    bounds = _stretches(film, start_s, end_s)
    total_s = 2 * (bounds[-1][1] - bounds[0][0])
    sighted: list[_Sighted] = []

    def sight(network: PoseNetwork, bound: tuple[float, float]) -> _Part:
        return _sight(network, film, *bound, None if glance is None else glance.long_side_px)

    for part in team.run(sight, bounds, total_s):
        sighted.extend(part.sighted)
        if glance is not None:
            for time_s, picture in part.glances:
                glance.take(time_s, picture)
    scale = min(1.0, LONG_SIDE_PX / max(film.width_px, film.height_px))
    times = [moment.time_s for moment in sighted]
    people = [moment.people for moment in sighted]
    moments = _moments(times, told_apart(times, people, lane, film.width_px * scale))
    background = _reference(film, bounds[0][0], sighted[0].people if sighted else [])
    whole = Found()

    def follow(network: PoseNetwork, bound: tuple[float, float]) -> Found:
        inside = [moment for moment in moments if bound[0] <= moment.time_s < bound[1]]
        return follow_stretch(network, film, bound, inside, background, thorough=thorough)

    for found in team.run(follow, cut_where_sharp(bounds, moments), total_s):
        whole.poses.update(found.poses)
        whole.shifts.update(found.shifts)
    return _track(film, whole, scale)


class _Team:
    """Workers, each with its own network, that treat stretches side by side and in order."""

    def __init__(self, bundle: Bundle, workers: int, progress: Progress | None) -> None:
        self._local = threading.local()
        self._bundle = bundle
        self._workers = max(1, workers)
        self._progress = progress
        self._done_s = 0.0

    def run(
        self,
        work: Callable[[PoseNetwork, tuple[float, float]], T],
        bounds: list[tuple[float, float]],
        total_s: float,
    ) -> Iterator[T]:
        """Yield the results of the stretches in their order."""

        def one(bound: tuple[float, float]) -> T:
            if not hasattr(self._local, "network"):
                self._local.network = PoseNetwork(self._bundle)
            return work(self._local.network, bound)

        with ThreadPoolExecutor(self._workers) as pool:
            for bound, result in zip(bounds, pool.map(one, bounds), strict=True):
                self._done_s += bound[1] - bound[0]
                if self._progress:
                    self._progress(self._done_s, total_s)
                yield result


def _stretches(film: Film, start_s: float | None, end_s: float | None) -> list[tuple[float, float]]:
    first = max(float(film.time_s[0]), start_s if start_s is not None else -np.inf)
    last = min(float(film.time_s[-1]) + 1e-3, end_s if end_s is not None else np.inf)
    count = max(1, int(np.ceil((last - first) / STRETCH_S)))
    edges = [first + STRETCH_S * index for index in range(count)] + [max(last, first)]
    return list(itertools.pairwise(edges))


def cut_where_sharp(
    bounds: list[tuple[float, float]], moments: Sequence[Moment]
) -> list[tuple[float, float]]:
    """Move the cuts between stretches to moments near by at which the athlete is clearly seen.

    Each stretch is followed for itself, so it had better start with a pose to start from.
    """
    edges = [bounds[0][0]]
    for start_s, _ in bounds[1:]:
        near = [
            (float(m.athlete.sharpness[JOINTS].mean()) - FAR * abs(m.time_s - start_s), m.time_s)
            for m in moments
            if m.athlete is not None and abs(m.time_s - start_s) < 0.45 * STRETCH_S
        ]
        edges.append(max(near)[1] if near else start_s)
    edges.append(bounds[-1][1])
    return list(itertools.pairwise(edges))


def _sight(
    network: PoseNetwork, film: Film, start_s: float, end_s: float, glance_px: int | None
) -> _Part:
    """Sight everybody twice a second; who is missing is looked for where they were, for a while."""
    seen: list[_Sighted] = []
    remembered: list[tuple[float, Pose]] = []
    glances: list[tuple[float, Picture]] = []
    pictures = frames(
        film,
        start_s,
        end_s,
        every_s=SIGHTING_S,
        long_side_px=LONG_SIDE_PX,
        threads=1,
        glance=None
        if glance_px is None
        else Glance(glance_px, lambda time_s, picture: glances.append((time_s, picture))),
    )
    for turn, frame in enumerate(pictures):
        people = sightings(network, frame.picture, [pose for _, pose in remembered], turn)
        seen.append(_Sighted(frame.time_s, people))
        remembered = [(frame.time_s, pose) for pose in people] + [
            (since_s, pose)
            for since_s, pose in remembered
            if frame.time_s - since_s <= (SHARP_MEMORY_S if is_sharp(pose) else MEMORY_S)
            and not any(
                separation(pose, newer) <= NEAR and (is_sharp(newer) or not is_sharp(pose))
                for newer in people
            )
        ]
    return _Part(seen, glances)


def _moments(times: list[float], present: list[Present]) -> list[Moment]:
    """Say for each sighting who is the athlete, of what size, and whether they turn there."""
    path = [there.athlete for there in present]
    sizes = _usual_sizes(times, path)
    neighbours = zip([None, *path[:-1]], path, [*path[1:], None], sizes, strict=True)
    turns = [
        before is not None
        and here is not None
        and after is not None
        and turns_at(before, here, after, size_px)
        for before, here, after, size_px in neighbours
    ]
    return [
        Moment(time_s, there.athlete, there.others, size, turn)
        for time_s, there, size, turn in zip(times, present, sizes, turns, strict=True)
    ]


def _usual_sizes(times: list[float], path: list[Pose | None]) -> list[float]:
    """Return the athlete's usual `body_size` around each sighting, pixels; NaN if never seen.

    It is a high quantile of the sharper half of the sightings near by, since limbs that point
    towards the camera only ever look shorter.
    """
    known = [(t, pose) for t, pose in zip(times, path, strict=True) if pose is not None]
    if not known:
        return [float("nan")] * len(times)
    at = np.array([t for t, _ in known])
    size = np.array([body_size(pose) for _, pose in known])
    sharp = np.array([pose.sharpness[JOINTS].mean() for _, pose in known])
    usual = []
    for time_s in times:
        apart_s = np.abs(at - time_s)
        near = apart_s <= max(USUAL_S, float(np.partition(apart_s, min(4, at.size - 1))[:5].max()))
        near &= sharp >= np.median(sharp[near])
        usual.append(float(np.quantile(size[near], 0.8)))
    return usual


def _reference(film: Film, start_s: float, people: list[Pose]) -> Background | None:
    for frame in frames(film, start_s, long_side_px=LONG_SIDE_PX, threads=1):
        return Background(grey(frame.picture), [_box(pose) for pose in people])
    return None


def _box(pose: Pose) -> Box:
    low, high = pose.image_px.min(axis=0), pose.image_px.max(axis=0)
    margin = 0.1 * pose.region.side_px
    return (low[0] - margin, low[1] - margin, high[0] + margin, high[1] + margin)


def _track(film: Film, found: Found, scale: float) -> PoseTrack:
    track = PoseTrack.unobserved(film.time_s, film.width_px, film.height_px)
    identity = 0
    last: tuple[float, Pose] | None = None
    for row, pose in sorted(found.poses.items()):
        if pose is None:
            continue
        time_s = float(film.time_s[row])
        if last is not None and _identity_breaks(*last, time_s, pose):
            identity += 1
        last = (time_s, pose)
        track.image_px[row] = pose.image_px / scale
        track.depth_px[row] = pose.depth_px / scale
        track.world_m[row] = pose.world_m
        track.visibility[row] = pose.visibility
        track.sharpness[row] = pose.sharpness
        track.identity[row] = identity
    for row, shift in found.shifts.items():
        track.camera_shift_px[row] = (shift.right_px / scale, shift.down_px / scale)
        track.camera_roll_rad[row] = shift.roll_rad
    return with_lines_between(track, np.array(sorted(found.poses), dtype=np.int64))


def _identity_breaks(last_s: float, last: Pose, now_s: float, now: Pose) -> bool:
    """Whether two observations in a row need not be the same person."""
    return now_s - last_s > 1.0 or (now_s - last_s > 0.2 and separation(last, now) > 0.5)
