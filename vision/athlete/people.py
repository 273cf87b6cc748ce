"""Who is who over the whole film, and which of them is the athlete.

Sightings a fraction of a second apart are joined into tracklets by assignment. The athlete is the
path through the film's sightings that gathers the most movement through a movement's range:
people who stand, walk past or hold a phone move their hips, shoulders and hands little up and
down for their size; an athlete does nothing else.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import compress
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import linear_sum_assignment

from vision.athlete.doubtful import without_doubtful
from vision.athlete.onlookers import onlookers
from vision.athlete.sightings import JOINTS, separation
from vision.athlete.standing import standing, still_there
from vision.pose.landmarks import Landmark
from vision.pose.network import Pose

FloatArray = npt.NDArray[np.float64]

NEAR: Final = 0.35
"""Joints may be this far apart, over the region's side, in two sightings of one person."""
MEMORY_S: Final = 3.0
STILL: Final = 0.01
"""Vertical movement between sightings, over the region's side, that is landmark noise."""
BESIDE: Final = 4
"""Who is seen this often together with the athlete is somebody else."""
STILLER: Final = 0.25
"""Who is at the athlete's place but moves this much less is somebody else behind."""
LOOK_BACK: Final = 60
"""Sightings across which a path may leap: half a minute."""

_SHOULDERS: Final = (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
_HIPS: Final = (Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
_WRISTS: Final = (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST)


@dataclass(slots=True, eq=False)
class Tracklet:
    """One person followed through consecutive sightings."""

    time_s: list[float] = field(default_factory=list)
    poses: list[Pose] = field(default_factory=list)

    def add(self, time_s: float, pose: Pose) -> None:
        """Append a sighting."""
        self.time_s.append(time_s)
        self.poses.append(pose)

    def activity(self) -> float:
        """Up-and-down movement of hips, shoulders and hands, in region sides, summed over time."""
        if len(self.poses) < 2:
            return 0.0
        side = float(np.median([pose.region.side_px for pose in self.poses]))
        heights = np.array(
            [
                [pose.image_px[list(part), 1].mean() for part in (_SHOULDERS, _HIPS, _WRISTS)]
                for pose in self.poses
            ]
        )
        steps = np.abs(np.diff(heights, axis=0)) / side
        return float(np.sum(np.clip(steps - STILL, 0.0, 0.5)))


def tracklets(
    time_s: Sequence[float], seen: Sequence[Sequence[Pose]]
) -> tuple[list[Tracklet], list[list[int]]]:
    """Join sightings into tracklets; also return each sighting's tracklet number."""
    everyone: list[Tracklet] = []
    numbers: list[list[int]] = []
    for now_s, poses in zip(time_s, seen, strict=True):
        open_ones = [k for k, t in enumerate(everyone) if now_s - t.time_s[-1] <= MEMORY_S]
        chosen = [-1] * len(poses)
        if open_ones and poses:
            cost = np.array(
                [[separation(everyone[k].poses[-1], pose) for pose in poses] for k in open_ones]
            )
            for row, column in zip(*linear_sum_assignment(np.minimum(cost, 2 * NEAR)), strict=True):
                if cost[row, column] < NEAR:
                    chosen[column] = open_ones[row]
        for index, pose in enumerate(poses):
            if chosen[index] < 0:
                everyone.append(Tracklet())
                chosen[index] = len(everyone) - 1
            everyone[chosen[index]].add(now_s, pose)
        numbers.append(chosen)
    return everyone, numbers


@dataclass(frozen=True, slots=True, eq=False)
class Present:
    """The athlete, if seen, and who else is there, at one time.

    ``onlookers`` are those who only stand there, seen at that time or not.
    """

    athlete: Pose | None
    others: tuple[Pose, ...]
    onlookers: tuple[Pose, ...] = ()


def told_apart(
    time_s: Sequence[float],
    seen: Sequence[Sequence[Pose]],
    lane: tuple[float, float] | None = None,
    width_px: float = 1.0,
) -> list[Present]:
    """Tell the athlete from everybody else at each time.

    Parameters
    ----------
    time_s, seen
        Times and the people seen at each.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width; people whose
        hips are outside are nobody's athlete.
    width_px
        Width of the picture the sightings are in.
    """
    apart: list[list[Pose]] = [[] for _ in seen]
    if lane is not None:
        apart = [[p for p in poses if not _in_lane(p, lane, width_px)] for poses in seen]
        seen = [[p for p in poses if _in_lane(p, lane, width_px)] for poses in seen]
    still = standing(seen)
    standing_there = still_there(seen, still)
    for outside, poses, stands in zip(apart, seen, still, strict=True):
        outside += compress(poses, stands)
    seen = [
        [pose for pose, stays in zip(poses, stands, strict=True) if not stays]
        for poses, stands in zip(seen, still, strict=True)
    ]
    seen = without_doubtful(seen, onlookers(seen))
    everyone, numbers = tracklets(time_s, seen)
    behind = _set_apart(time_s, seen, everyone, numbers)
    activity = np.array([tracklet.activity() for tracklet in everyone])
    gain = 0.02 + activity / max(float(activity.sum()), 1e-9)
    gain[behind] = -1.0
    path = _best_path(time_s, seen, numbers, gain)
    on_path = {numbers[t][index] for t, index in enumerate(path) if index is not None}
    others = behind
    if on_path:
        main = max(on_path, key=lambda number: activity[number])
        others = behind + _others(main, everyone, seen, numbers)
        gain[others] = -1.0
        path = _best_path(time_s, seen, numbers, gain)
    return [
        replace(
            _present(seen[t], [n in others for n in numbers[t]], path[t], apart[t]),
            onlookers=standing_there[t],
        )
        for t in range(len(seen))
    ]


def _set_apart(
    time_s: Sequence[float],
    seen: Sequence[Sequence[Pose]],
    everyone: list[Tracklet],
    numbers: list[list[int]],
) -> list[int]:
    """Give onlookers behind the athlete tracklets of their own; return these tracklets' numbers."""
    new: dict[int, int] = {}
    everyone_now = [Tracklet() for _ in everyone]
    for now_s, poses, present, behind in zip(time_s, seen, numbers, onlookers(seen), strict=True):
        for index, pose in enumerate(poses):
            if behind[index]:
                if present[index] not in new:
                    new[present[index]] = len(everyone_now)
                    everyone_now.append(Tracklet())
                present[index] = new[present[index]]
            everyone_now[present[index]].add(now_s, pose)
    everyone[:] = everyone_now
    return list(new.values())


def _present(
    poses: Sequence[Pose],
    is_other: Sequence[bool],
    chosen: int | None,
    outside: Sequence[Pose],
) -> Present:
    """Divide the people of one time; of several readings of the athlete take the sharpest."""
    strangers = [pose for pose, other in zip(poses, is_other, strict=True) if other]
    ours = [pose for pose, other in zip(poses, is_other, strict=True) if not other]
    if chosen is None:
        return Present(None, (*strangers, *outside))
    there = poses[chosen]
    strangers += [pose for pose in ours if separation(pose, there) > NEAR]
    readings = [pose for pose in ours if separation(pose, there) <= NEAR]
    best = max(readings, key=lambda pose: float(pose.sharpness[JOINTS].mean()))
    return Present(best, (*strangers, *outside))


def _others(
    main: int,
    everyone: Sequence[Tracklet],
    seen: Sequence[Sequence[Pose]],
    numbers: Sequence[Sequence[int]],
) -> list[int]:
    """Tracklets of people seen together with the athlete: they are somebody else.

    Two poses at the same place that move alike may be the athlete read twice.
    """
    apart: dict[int, list[float]] = {}
    for poses, present in zip(seen, numbers, strict=True):
        if main in present:
            there = poses[present.index(main)]
            for pose, number in zip(poses, present, strict=True):
                if number != main:
                    apart.setdefault(number, []).append(separation(pose, there))
    lively = STILLER * everyone[main].activity() / len(everyone[main].poses)
    return [
        number
        for number, distances in apart.items()
        if len(distances) >= BESIDE
        and (
            np.median(distances) > NEAR
            or everyone[number].activity() / len(everyone[number].poses) < lively
        )
    ]


def _best_path(
    time_s: Sequence[float],
    seen: Sequence[Sequence[Pose]],
    numbers: Sequence[Sequence[int]],
    gain: FloatArray,
) -> list[int | None]:
    """Choose at most one sighting at each time, so that gains less leaps are highest.

    ``gain`` is what a sighting of each tracklet is worth. A change of tracklet costs what its leap
    is longer than a person gets in that time.
    """
    best: list[list[float]] = []
    before: list[list[tuple[int, int] | None]] = []
    for now, poses in enumerate(seen):
        best.append([])
        before.append([])
        for index, pose in enumerate(poses):
            here = float(gain[numbers[now][index]])
            value, origin = here, None
            for earlier in range(now - 1, max(-1, now - LOOK_BACK), -1):
                for other, other_pose in enumerate(seen[earlier]):
                    cost = 0.0
                    if numbers[earlier][other] != numbers[now][index]:
                        apart = separation(other_pose, pose)
                        gap_s = time_s[now] - time_s[earlier]
                        cost = max(0.0, apart - NEAR * (1.0 + gap_s)) + 0.01
                    candidate = best[earlier][other] + here - cost
                    if candidate > value:
                        value, origin = candidate, (earlier, other)
            best[now].append(value)
            before[now].append(origin)
    path: list[int | None] = [None] * len(seen)
    ends = [(best[t][i], t, i) for t in range(len(seen)) for i in range(len(seen[t]))]
    step: tuple[int, int] | None = max(ends)[1:] if ends else None
    while step is not None:
        path[step[0]] = step[1]
        step = before[step[0]][step[1]]
    return path


def _in_lane(pose: Pose, lane: tuple[float, float], width_px: float) -> bool:
    x = float(pose.image_px[list(_HIPS), 0].mean()) / width_px
    return lane[0] <= x <= lane[1]
