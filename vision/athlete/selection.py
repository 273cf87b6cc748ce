"""Who of the people in a film is the athlete: who does the work, where the phone points."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.detection import Sample
from vision.athlete.tracking import Path, clothes_cost
from vision.athlete.whereabouts import standing_px

FloatArray = npt.NDArray[np.float64]

STILL: Final = 0.015
"""Vertical movement between detections, over the body's size, that is noise of its joints."""
ENOUGH_WORK: Final = 0.3
"""Share of the most work that anybody does at which somebody is as likely exercising as not. More
proves little: burpees beside the athlete are three times the work of push-ups."""
AIM_SPREAD: Final = 0.2
"""Standard deviation of where athletes are beside the picture's middle, in picture widths: phones
are pointed at them."""
SAME_ATHLETE: Final = 4.0
"""Cost up to which somebody who is in the picture when the athlete is not may be the athlete."""
SIZE_SPREAD: Final = 0.25
CLOTHES_SPREAD: Final = 10.0
"""Standard deviation of the median colour over a path of one person: on labelled films 4 to 8."""
MISREAD: Final = 0.001
"""Chance that such a median is not that of the clothes."""
_SHARED: Final = 0.1
_LEAST_WORK: Final = 1e-6

_PARTS: Final = ([5, 6], [9, 10], [11, 12])
"""Shoulders, wrists and hips: every movement of the sport moves one of them up and down."""


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The athlete, and everybody else.

    Attributes
    ----------
    athlete
        Their paths, which do not overlap, in order of time; none where nobody is there.
    others
        The paths of the others.
    """

    athlete: tuple[Path, ...]
    others: tuple[Path, ...]


def athlete_among(
    paths: Sequence[Path],
    samples: Sequence[Sample],
    width_px: float,
    lane: tuple[float, float] | None = None,
) -> Chosen:
    """Choose the athlete.

    The athlete works, is near the picture's middle, is large, and stays in the picture; the path to
    which most of this applies is theirs. A path at another time is theirs too where clothes and
    size agree.

    Parameters
    ----------
    paths
        Everybody's paths.
    samples
        What the paths lead through.
    width_px
        Width of the pictures that were looked at.
    lane
        Left and right edge of the athlete's lane as shares of the width; nobody whose hips are
        mostly outside is the athlete.
    """
    able = [path for path in paths if lane is None or _in_lane(path, lane, width_px)]
    if not able:
        return Chosen((), tuple(paths))
    work = np.array([_work(path) for path in able])
    working = work / (work + ENOUGH_WORK * max(float(work.max()), _LEAST_WORK))
    size = np.array([_size_px(path) for path in able])
    aim = np.array([_aim(path, width_px) for path in able])
    present = np.array([len(path.place) for path in able])
    order = [able[n] for n in np.argsort(-working * aim * size * present, kind="stable")]
    athlete = [order[0]]
    for path in order[1:]:
        apart = all(_overlap_s(path, own, samples) <= _SHARED for own in athlete)
        if apart and _unlike(path, order[0]) < SAME_ATHLETE:
            athlete.append(path)
    athlete.sort(key=lambda path: path.place[0])
    return Chosen(tuple(athlete), tuple(path for path in paths if path not in athlete))


def _work(path: Path) -> float:
    """Up-and-down movement of shoulders, wrists and hips over the body's size, summed."""
    if len(path.place) < 2:
        return 0.0
    joints = np.array([one.image_px[:, 1] for one in path.detections])
    heights = np.stack([joints[:, part].mean(axis=1) for part in _PARTS], axis=1)
    steps = np.abs(np.diff(heights, axis=0)) / _size_px(path)
    return float(np.clip(steps - STILL, 0.0, 0.5).sum())


def _aim(path: Path, width_px: float) -> float:
    off = np.median([one.hips_px[0] for one in path.detections]) / width_px - 0.5
    return float(np.exp(-0.5 * (off / AIM_SPREAD) ** 2))


def _size_px(path: Path) -> float:
    return max(standing_px(np.array([one.image_px for one in path.detections])), 1.0)


def _in_lane(path: Path, lane: tuple[float, float], width_px: float) -> bool:
    x = float(np.median([one.hips_px[0] for one in path.detections])) / width_px
    return lane[0] <= x <= lane[1]


def _overlap_s(one: Path, other: Path, samples: Sequence[Sample]) -> float:
    start = max(one.place[0], other.place[0])
    end = min(one.place[-1], other.place[-1])
    return samples[end].time_s - samples[start].time_s if end >= start else 0.0


def _unlike(one: Path, other: Path) -> float:
    """Cost of two paths being one person's."""
    size = np.log(_size_px(one) / _size_px(other)) / SIZE_SPREAD
    return 0.5 * float(size**2) + clothes_cost(
        _clothes(one), _clothes(other), CLOTHES_SPREAD, MISREAD
    )


def _clothes(path: Path) -> FloatArray:
    known = [one.clothes for one in path.detections if np.isfinite(one.clothes).all()]
    return np.median(known, axis=0) if known else np.full(3, np.nan)
