"""From everybody's sightings to what following needs: who, how large, turning, and where to cut."""

import itertools
import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.athlete.attention import turns_at
from vision.athlete.following import believable, body_size, is_sharp
from vision.athlete.people import Present, told_apart
from vision.athlete.sightings import JOINTS
from vision.athlete.stretches import Moment
from vision.pose.network import Pose

STRETCH_S: Final = 8.0
"""Films are looked at in stretches of this length, each for itself, so that the result does not
depend on how many workers share them."""
FAR: Final = 0.02
"""Sharpness that makes up for a second between a cut and its place in the grid of stretches."""
USUAL_S: Final = 6.0
HOME_S: Final = 15.0
"""Whoever is badly seen is looked for where they were clearly seen within this time: as far as
sightings reach to both sides of every stretch when it is first followed."""
Bound = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Sighted:
    """The people sighted at one time."""

    time_s: float
    people: list[Pose]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A stretch to follow the athlete through, and the moments at which people were sighted."""

    bound: Bound
    moments: tuple[Moment, ...]

    def same_as(self, other: "Part") -> bool:
        """Whether following would find the very same but for the onlookers."""
        return (
            self.bound == other.bound
            and len(self.moments) == len(other.moments)
            and all(itertools.starmap(_same, zip(self.moments, other.moments, strict=True)))
        )


def _same(one: Moment, other: Moment) -> bool:
    same_size = one.size_px == other.size_px or (
        math.isnan(one.size_px) and math.isnan(other.size_px)
    )
    return (
        one.athlete is other.athlete
        and one.home is other.home
        and one.turns == other.turns
        and same_size
        and [id(pose) for pose in one.others] == [id(pose) for pose in other.others]
    )


def parts_to_follow(
    bounds: Sequence[Bound],
    sighted: Sequence[Sighted],
    lane: tuple[float, float] | None,
    width_px: float,
) -> list[Part]:
    """Choose the athlete from the sightings in some stretches, and say what follows for each.

    Parameters
    ----------
    bounds
        The stretches, without gaps, as they lie in the grid.
    sighted
        Everybody sighted in them, in order.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width.
    width_px
        Width of the picture the sightings are in.
    """
    times = [moment.time_s for moment in sighted]
    people = [moment.people for moment in sighted]
    moments = _moments(times, told_apart(times, people, lane, width_px))
    return [
        Part(bound, tuple(m for m in moments if bound[0] <= m.time_s < bound[1]))
        for bound in cut_where_sharp(bounds, moments)
    ]


def cut_where_sharp(bounds: Sequence[Bound], moments: Sequence[Moment]) -> list[Bound]:
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


def _moments(times: list[float], present: list[Present]) -> list[Moment]:
    """Say for each sighting who is the athlete, of what size, and whether they turn there."""
    if not times:
        # A stretch between pictures that are minutes apart holds none.
        return []
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
    homes = _homes(times, path, sizes)
    return [
        Moment(time_s, there.athlete, there.others, size, turn, there.onlookers, home)
        for time_s, there, size, turn, home in zip(times, present, sizes, turns, homes, strict=True)
    ]


def _homes(times: list[float], path: list[Pose | None], sizes: list[float]) -> list[Pose | None]:
    """Return for each sighting the nearest other one in which the athlete is clearly seen."""
    clear = [
        (t, pose)
        for t, pose, size_px in zip(times, path, sizes, strict=True)
        if pose is not None and is_sharp(pose) and believable(pose, size_px)
    ]
    homes: list[Pose | None] = []
    for time_s in times:
        place = bisect_left(clear, time_s, key=lambda one: one[0])
        # The nearest of the one before and the one after; the sighting itself is neither.
        near = [
            (abs(t - time_s), t, pose)
            for t, pose in clear[max(0, place - 1) : place + 2]
            if t != time_s
        ]
        apart_s, _, pose = min(near, key=lambda one: one[:2], default=(np.inf, 0.0, None))
        homes.append(pose if apart_s <= HOME_S else None)
    return homes


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
