"""People who stand at one place, and things taken for people, while somebody else moves.

An onlooker is in the same pose at the same place whenever they are to be seen. So is an athlete
who rests, again and again. What tells them apart is what goes on meanwhile: much of the film's
movement is done by others while an onlooker stands there; while the athlete rests, the movement
rests, too. That holds over a whole film however often the two cross or hide each other.
"""

from collections.abc import Sequence
from itertools import compress
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from vision.athlete.sightings import JOINTS
from vision.pose.network import Pose

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

ALIKE: Final = 0.05
"""Median distance of joints over the region's side within which two poses are the same."""
NEARLY: Final = 0.08
"""The same for a known onlooker who sways, or whom somebody hides in part."""
SEEN_BY: Final = 1.0 / 8.0
"""Share of the film's movement that others do while an onlooker stands there, at least. On
labelled films 0.2 to 1."""
CLEAR: Final = 0.42
"""Mean peak height of joints from which a reading's movement proves anything. A plate at the chest
is read as somebody who moves, by the very athlete who stands behind it: on a labelled press it did
two fifths of the film's movement, of the clear readings' movement a sixteenth (onlookers do 0.2 to
0.9 of it)."""
STILLER: Final = 1.8
"""An onlooker's own movement, going there and leaving included, over the others' meanwhile, at
most. On labelled films up to 1.63, as the two are mixed up where they hide each other; athletes
who rest at one place and see a twentieth of the film's movement, as by a thing taken for a person,
from 6."""
BESIDE: Final = 0.2
"""Distance of joints over the region's side from who stands there at which a reading may be
somebody else. Nearer ones may be the same body read twice: of an athlete at the top of a push-up
half the body was read besides, and moved a third of the film's movement. Onlookers lose hardly any
of theirs by it (0.36 to 0.30 at most on labelled films)."""
FEWEST: Final = 4
PLACES: Final = 12
CANDIDATES: Final = 400
"""Sightings tried as the pattern of somebody who stays: enough for who is there for long."""
STILL: Final = 0.01
"""Vertical movement between sightings, over the region's side, that is landmark noise."""
_LEAP: Final = 0.35
"""Further apart over the region's side, two sightings are not one person."""
_MOST: Final = 0.5

_MIRRORED: Final = np.arange(JOINTS.size).reshape(-1, 2)[:, ::-1].ravel()
_SHOULDERS_HIPS_WRISTS: Final = ((0, 1), (6, 7), (4, 5))


class _Steps(NamedTuple):
    """From one sighting to that of the same person at the next time: (S,) each."""

    first: IntArray
    second: IntArray
    movement: FloatArray


def standing(seen: Sequence[Sequence[Pose]]) -> list[list[bool]]:
    """Say of everybody sighted whether they only stand there.

    Parameters
    ----------
    seen
        The people sighted at each time.

    Returns
    -------
    list
        Shaped like ``seen``.
    """
    places = np.array([place for place, people in enumerate(seen) for _ in people], dtype=np.int64)
    poses = [pose for people in seen for pose in people]
    stays = np.zeros(len(poses), dtype=np.bool_)
    if poses:
        joints = np.array([pose.image_px[JOINTS] for pose in poses])
        sides = np.array([pose.region.side_px for pose in poses])
        clear = np.array([pose.sharpness[JOINTS].mean() for pose in poses]) >= CLEAR
        stays = _stays(places, joints, sides, clear)
    answers = iter(stays.tolist())
    return [[next(answers) for _ in people] for people in seen]


def still_there(
    seen: Sequence[Sequence[Pose]], stays: Sequence[Sequence[bool]]
) -> list[tuple[Pose, ...]]:
    """Everybody who only stands there, at each time, as they were sighted nearest to it.

    Who stands at one place is there also while they are hidden, or were not found.

    Parameters
    ----------
    seen
        The people sighted at each time.
    stays
        What `standing` says of them.
    """
    persons: list[tuple[list[int], list[Pose]]] = []
    for place, (people, stand) in enumerate(zip(seen, stays, strict=True)):
        for pose in compress(people, stand):
            joints, sides = pose.image_px[JOINTS][None], np.array([pose.region.side_px])
            known = (person for person in persons if are_of(joints, sides, person[1][-1:])[0])
            places, poses = next(known, ([], []))
            if not places:
                persons.append((places, poses))
            places.append(place)
            poses.append(pose)
    return [
        tuple(poses[int(np.argmin(np.abs(np.array(places) - place)))] for places, poses in persons)
        for place in range(len(seen))
    ]


def are_of(joints: FloatArray, sides: FloatArray, onlookers: Sequence[Pose]) -> BoolArray:
    """(n,) whether poses are those of an onlooker, left and right mixed up or not.

    ``joints`` (n, J, 2) and ``sides`` (n,) of the regions are in pixels.
    """
    theirs = np.zeros(len(sides), dtype=np.bool_)
    for one in onlookers:
        theirs |= _apart(joints, sides, one.image_px[JOINTS], one.region.side_px) < ALIKE
    return theirs


def _stays(places: IntArray, joints: FloatArray, sides: FloatArray, clear: BoolArray) -> BoolArray:
    """(n,) whether each sighting is of somebody who only stands there.

    ``places`` (n,) numbers the times, ``joints`` (n, J, 2) and ``sides`` (n,) are in pixels, and
    ``clear`` (n,) says whose movement counts.
    """
    steps = _steps(places, joints, sides)
    sure = _among(steps, clear)
    all_movement = float(_most_at_a_time(sure, places).sum())
    stays = np.zeros(places.size, dtype=np.bool_)
    stride = -(-places.size // CANDIDATES)
    apart = np.array(
        [_apart(joints, sides, joints[k], sides[k]) for k in range(0, places.size, stride)]
    )
    free = np.ones(places.size, dtype=np.bool_)
    for _ in range(PLACES):
        counts = np.count_nonzero((apart < ALIKE) & free, axis=1)
        pattern = apart[int(np.argmax(counts))]
        if counts.max() < FEWEST:
            break
        there = pattern < ALIKE
        present = np.zeros(int(places[-1]) + 2, dtype=np.bool_)
        present[places[there]] = True
        goes_on = present[:-1] & present[1:]
        theirs = float(_most_at_a_time(_among(sure, pattern >= BESIDE), places)[goes_on].sum())
        own = float(steps.movement[there[steps.first] | there[steps.second]].sum())
        if theirs > SEEN_BY * all_movement and own < STILLER * theirs:
            stays |= there
        free &= pattern >= NEARLY
    return stays


def _apart(
    joints: FloatArray, sides: FloatArray, pattern: FloatArray, side_px: float
) -> FloatArray:
    """(n,) median distance of joints from a pattern's, over the larger region's side.

    Of somebody who stands far away left and right are easily mixed up: the nearer counts.
    """
    ways = [pattern, pattern[_MIRRORED]]
    distances = [np.median(np.linalg.norm(joints - way, axis=2), axis=1) for way in ways]
    nearest: FloatArray = np.minimum(*distances) / np.maximum(sides, side_px)
    return nearest


def _steps(places: IntArray, joints: FloatArray, sides: FloatArray) -> _Steps:
    """Find who is who from each time to the next, and how much they moved up or down.

    Two sightings are one person if each is the nearest to the other.
    """
    starts = np.searchsorted(places, np.arange(int(places[-1]) + 2))
    pairs = [
        (first, second)
        for place in range(int(places[-1]))
        for first in range(starts[place], starts[place + 1])
        for second in range(starts[place + 1], starts[place + 2])
    ]
    first, second = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    side = np.maximum(sides[first], sides[second])
    apart = np.median(np.linalg.norm(joints[first] - joints[second], axis=2), axis=1) / side
    after = np.full(places.size, np.inf)
    before = np.full(places.size, np.inf)
    np.minimum.at(after, first, apart)
    np.minimum.at(before, second, apart)
    mutual = (apart < _LEAP) & (apart == after[first]) & (apart == before[second])
    first, second, side = first[mutual], second[mutual], side[mutual]
    heights = np.stack([joints[:, part, 1].mean(axis=1) for part in _SHOULDERS_HIPS_WRISTS], axis=1)
    moved = np.abs(heights[first] - heights[second]) / side[:, None]
    return _Steps(first, second, np.clip(moved - STILL, 0.0, _MOST).sum(axis=1))


def _among(steps: _Steps, people: BoolArray) -> _Steps:
    """Keep the steps of some of the sightings (n,)."""
    kept = people[steps.first] & people[steps.second]
    return _Steps(steps.first[kept], steps.second[kept], steps.movement[kept])


def _most_at_a_time(steps: _Steps, places: IntArray) -> FloatArray:
    """Return the most that anybody moved from each time to the next, (times,)."""
    most = np.zeros(int(places[-1]) + 1)
    np.maximum.at(most, places[steps.first], steps.movement)
    return most
