"""Who of the people in a film is the athlete: who does the work, where the phone points."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter

from vision.athlete.detection import Detection, Sample
from vision.athlete.tracking import ENTERING, Path, clothes_cost, motion_cost, unseen_cost
from vision.athlete.whereabouts import standing_px

FloatArray = npt.NDArray[np.float64]

STILL: Final = 0.05
"""How far joints are above or below where they mostly are, over the body's size, in somebody who
stands about: sway, and noise of the joints."""
AT_WORK: Final = 0.10
"""The same at which somebody is surely at work. More proves no more: burpees beside the athlete are
three times the movement of push-ups."""
AIM_SPREAD: Final = 0.2
"""Standard deviation of where athletes are beside the picture's middle, in picture widths: phones
are pointed at them."""
SAME_ATHLETE: Final = 4.0
"""Cost up to which somebody who is in the picture when the athlete is not is the athlete."""
SIZE_SPREAD: Final = 0.25
CLOTHES_SPREAD: Final = 10.0
"""Standard deviation of the median colour over a path of one person: on labelled films 4 to 8."""
MISREAD: Final = 0.001
"""Chance that such a median is not that of the clothes."""
_TOGETHER: Final = 0.2
"""Share of the shorter of two paths in which both are seen, up to which they may be one person's:
a path that ends on a passer-by begins as the athlete's."""

EXCHANGED: Final = 2.0
"""By how much the cost of two parts of a path being one person's has to exceed that of one of them
being part of another path: a path is mostly one person's."""
_LEAST_PART: Final = 10
_AROUND: Final = 15
"""Detections on either side by which clothes are compared: 3 s of them (chosen, not measured)."""

_PARTS: Final = ([5, 6], [9, 10], [11, 12])
"""Shoulders, wrists and hips: every movement of the sport moves one of them up and down."""


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The athlete, and everybody else.

    Attributes
    ----------
    athlete
        Their path; None where nobody is there.
    others
        The paths of the others.
    """

    athlete: Path | None
    others: tuple[Path, ...]


def athlete_among(
    paths: Sequence[Path],
    samples: Sequence[Sample],
    width_px: float,
    lane: tuple[float, float] | None = None,
) -> Chosen:
    """Choose the athlete.

    The athlete is long at work, near the picture's middle, and large; the path to which most of
    this applies is theirs. A path at other times is theirs too where clothes and size agree, or
    where the two take turns in one place: whoever lies down is often found as somebody else.

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
    paths = _untangled(paths)
    able = [path for path in paths if lane is None or _in_lane(path, lane, width_px)]
    if not able:
        return Chosen(None, tuple(paths))
    likely = [_times_at_work(path) * _aim(path, width_px) * _size_px(path) for path in able]
    order = [able[n] for n in np.argsort(-np.array(likely), kind="stable")]
    athlete = order[0]
    others = [path for path in paths if path not in able]
    for path in order[1:]:
        unlike = _unlike(path, order[0]) + _turns_cost(path, athlete, samples)
        if _apart(path, athlete) and unlike < SAME_ATHLETE:
            athlete, path = _joined(athlete, path)
        if path.place:
            others.append(path)
    return Chosen(athlete, tuple(others))


def _untangled(paths: Sequence[Path]) -> list[Path]:
    """Part paths that go on as somebody else's.

    Whoever passes behind somebody comes out with their path, or they with theirs. A path is parted
    where its clothes change for good, if one of its parts then is more like another path, or part
    of one, at another time than like the other part.
    """
    parted = [_parts_by_clothes(path) for path in paths]
    change = [_unlike(*parts) if parts else 0.0 for parts in parted]
    found: list[Path] = []
    for number, (path, parts) in enumerate(zip(paths, parted, strict=True)):
        # No cost is below 0: most paths change too little to be told from any other.
        others = [
            other
            for place, whole in enumerate(paths)
            if place != number and change[number] > EXCHANGED
            for other in (whole, *(parted[place] if change[place] >= SAME_ATHLETE else ()))
        ]
        tangled = any(
            _apart(part, other) and _unlike(part, other) + EXCHANGED < change[number]
            for part in parts
            for other in others
        )
        found += parts if tangled else (path,)
    return found


def _parts_by_clothes(path: Path) -> tuple[Path, ...]:
    """Part a path in two where the colours before and after differ most; none if too short."""
    clothes = np.array([one.clothes for one in path.detections])
    ends = range(_LEAST_PART, len(clothes) - _LEAST_PART + 1)
    if not len(ends):
        return ()
    differ = []
    for end in ends:
        before, after = clothes[max(0, end - _AROUND) : end], clothes[end : end + _AROUND]
        known = [part[np.isfinite(part).all(axis=1)] for part in (before, after)]
        enough = all(len(part) >= _LEAST_PART // 2 for part in known)
        apart = np.median(known[0], axis=0) - np.median(known[1], axis=0) if enough else np.zeros(3)
        differ.append(float(apart @ apart))
    # Medians differ as soon as most of a side is another's: the change is in the middle of that.
    most = np.flatnonzero(np.array(differ) >= 0.95 * max(differ))
    end = ends[int(most[len(most) // 2])]
    return (
        Path(path.place[:end], path.detections[:end]),
        Path(path.place[end:], path.detections[end:]),
    )


def _apart(one: Path, other: Path) -> bool:
    together = len(set(one.place) & set(other.place))
    return together <= _TOGETHER * min(len(one.place), len(other.place))


def _joined(own: Path, more: Path) -> tuple[Path, Path]:
    """Take over what another path has at times at which one's own has nothing; give the rest."""
    known = set(own.place)
    found = dict(zip(own.place, own.detections, strict=True))
    rest: dict[int, Detection] = {}
    for place, one in zip(more.place, more.detections, strict=True):
        (rest if place in known else found)[place] = one
    return _path(found), _path(rest)


def _path(found: Mapping[int, Detection]) -> Path:
    places = tuple(sorted(found))
    return Path(places, tuple(found[place] for place in places))


def _turns_cost(one: Path, other: Path, samples: Sequence[Sample]) -> float:
    """Cost of two paths that take turns being one person's, less that of their being two people's.

    Two people would each go undetected just while the other is seen, and come and leave. Never
    above 0: paths that do not take turns tell nothing.
    """
    seen = [
        (place, number, found)
        for number, path in enumerate((one, other))
        for place, found in zip(path.place, path.detections, strict=True)
    ]
    seen.sort(key=lambda entry: entry[:2])
    turns = [(a, b) for a, b in pairwise(seen) if a[1] != b[1]]
    if len(turns) < 2:
        return 0.0
    moving = sum(
        motion_cost(a[2], b[2], samples[b[0]].time_s - samples[a[0]].time_s) for a, b in turns
    )
    hiding = sum(_hiding_cost(path, by) for path, by in ((one, other), (other, one)))
    return min(0.0, moving - hiding - 2 * ENTERING)


def _hiding_cost(path: Path, other: Path) -> float:
    """Cost of somebody going undetected whenever the other is seen."""
    there = np.array(other.place)
    gaps = [(a, b) for a, b in pairwise(path.place) if ((there > a) & (there < b)).any()]
    return sum(unseen_cost(b - a - 1) for a, b in gaps)


def _times_at_work(path: Path) -> float:
    """At how many detections shoulders, wrists or hips are above or below where they mostly are.

    Single misread joints are left out by a median of three.
    """
    joints = np.array([one.image_px[:, 1] for one in path.detections])
    heights = np.stack([joints[:, part].mean(axis=1) for part in _PARTS], axis=1)
    steady = median_filter(heights, (3, 1), mode="nearest")
    away = np.abs(steady - np.median(steady, axis=0)).max(axis=1) / _size_px(path)
    return float(np.clip((away - STILL) / (AT_WORK - STILL), 0.0, 1.0).sum())


def _aim(path: Path, width_px: float) -> float:
    off = np.median([one.hips_px[0] for one in path.detections]) / width_px - 0.5
    return float(np.exp(-0.5 * (off / AIM_SPREAD) ** 2))


def _size_px(path: Path) -> float:
    return max(standing_px(np.array([one.image_px for one in path.detections])), 1.0)


def _in_lane(path: Path, lane: tuple[float, float], width_px: float) -> bool:
    x = float(np.median([one.hips_px[0] for one in path.detections])) / width_px
    return lane[0] <= x <= lane[1]


def _unlike(one: Path, other: Path) -> float:
    """Cost of two paths being one person's."""
    size = np.log(_size_px(one) / _size_px(other)) / SIZE_SPREAD
    return 0.5 * float(size**2) + clothes_cost(
        _clothes(one), _clothes(other), CLOTHES_SPREAD, MISREAD
    )


def _clothes(path: Path) -> FloatArray:
    known = [one.clothes for one in path.detections if np.isfinite(one.clothes).all()]
    return np.median(known, axis=0) if known else np.full(3, np.nan)
