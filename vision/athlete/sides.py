"""Left and right, decided over the whole film.

From far away, upside down, and behind arms that hang from a bar, a network cannot always tell an
athlete's left from the right, and takes one for the other for seconds. One picture shows that only
where the networks disagree, and not which of them is right. Time shows it: nobody's left hand
becomes their right hand between two pictures.

Each network has the sides of arms and of legs as they are or exchanged: a hidden Markov chain with
sixteen states. A state costs the negative log likelihood of how far the two readings then lie apart
(`vision.pose.fusion`), of how far the fused joints then have moved since the picture before, and of
how seldom networks exchange sides, and for how long. The cheapest sequence (Viterbi) is taken.
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.reading import Body, Readings, body_of, errors_of
from vision.pose.fusion import FloatArray, ReadingErrors, cases_of, fused
from vision.pose.landmarks import Landmark
from vision.pose.movenet import JOINTS

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

EXCHANGED: Final = ((0.93, 0.02), (0.01, 0.04))
"""How often a network has the sides of arms (row) and of legs (column) exchanged. On labelled films
seldom one in a hundred, but for whole films of handstands, of which the second exchanges most."""
LASTING_S: Final = 1.0
"""Time after which a network's choice of sides tells nothing of the one before."""
ALIKE_S: Final = 0.3
"""Time after which the errors of one picture tell nothing of those of the next: pictures that
follow faster count less."""
SPEED: Final = 0.5
"""Spread of joints' speed along an axis, statures a second."""
TAIL: Final = 3.0
"""Degrees of freedom of Student's distribution of steps: some readings are far off.

Halving or doubling any of these four moves gross errors on 23 labelled films by 0.03 % at most."""
_PARTS: Final = (slice(5, 11), slice(11, 17))
"""Joints of arms and of legs; left and right take turns."""
_OTHER_SIDE: Final = np.arange(6) ^ 1
_STATES: Final = tuple(itertools.product((0, 1), repeat=4))
"""Whether arms and legs of the first network are exchanged, and arms and legs of the second."""
_UPPER: Final = [mark for mark in Landmark if mark < Landmark.LEFT_HIP]


def _mirrored(part: Sequence[Landmark], within: Sequence[Landmark]) -> IntArray:
    """Places of landmarks, with left and right exchanged among some of them."""

    def other(mark: Landmark) -> Landmark:
        name = mark.name
        there = name.replace("LEFT", "RIGHT") if "LEFT" in name else name.replace("RIGHT", "LEFT")
        return Landmark[there] if mark in part else mark

    place = {mark: number for number, mark in enumerate(within)}
    return np.array([place[other(mark)] for mark in within])


_HALVES: Final = (_UPPER, [mark for mark in Landmark if mark not in _UPPER])
_FIRST: Final = [_mirrored(half, list(Landmark)) for half in _HALVES]
_SECOND: Final = [_mirrored(half, JOINTS) for half in _HALVES]


def with_sides_settled(
    bodies: Mapping[int, Body | None], time_s: FloatArray, stature_px: float
) -> dict[int, Body | None]:
    """Put left and right where they belong in all readings of a film.

    Parameters
    ----------
    bodies
        By row of ``time_s``; None where the athlete was not found.
    time_s
        (N,) times of the film's frames.
    stature_px
        Height of the standing body in the readings' pictures.
    """
    found = {row: body for row, body in sorted(bodies.items()) if body is not None}
    rows = np.array(list(found), dtype=np.int64)
    reads = [body.read for body in found.values()]
    settled = dict(bodies)
    exchanged = exchanged_sides(time_s[rows], reads, stature_px)
    for number in np.flatnonzero(exchanged.any(axis=(1, 2))).tolist():
        settled[int(rows[number])] = body_of(
            _put_right(reads[number], exchanged[number]), stature_px
        )
    return settled


def exchanged_sides(time_s: FloatArray, reads: Sequence[Readings], stature_px: float) -> BoolArray:
    """Find where a network has left and right exchanged.

    Parameters
    ----------
    time_s
        (N,) ascending times.
    reads
        (N) what was read then.
    stature_px
        Height of the standing body in the pictures.

    Returns
    -------
    BoolArray
        (N, 2, 2) by picture, network, and arms or legs.
    """
    if not reads:
        return np.zeros((0, 2, 2), dtype=np.bool_)
    first_px = np.array([read.first_px for read in reads])[:, list(JOINTS)]
    second_px = np.array([read.second_px for read in reads])
    first, second = errors_of(
        np.array([read.sharpness for read in reads])[:, list(JOINTS)],
        second_px,
        np.array([read.peak for read in reads]),
    )
    assigned = [
        _assignments_of(
            first_px[:, part], _of(first, part), second_px[:, part], _of(second, part), stature_px
        )
        for part in _PARTS
    ]
    apart_s = np.diff(time_s)
    new = np.minimum(np.diff(time_s, prepend=-np.inf) / ALIKE_S, 1.0)[:, None]
    arms, legs = (np.array([2 * s[n] + s[n + 2] for s in _STATES]) for n in (0, 1))
    here = new * (assigned[0].agreement[:, arms] + assigned[1].agreement[:, legs])
    moved = [one.steps(apart_s, stature_px) for one in assigned]
    chance = np.ravel(EXCHANGED)
    kept = np.exp(-apart_s / LASTING_S)[:, None, None]
    changing = np.log(kept * np.eye(4) + (1.0 - kept) * chance)
    networks = [np.array([2 * s[n] + s[n + 1] for s in _STATES]) for n in (0, 2)]
    here[0] += sum(np.log(chance)[network] for network in networks)

    def step(number: int) -> FloatArray:
        parts = zip((moved[0], moved[1], changing, changing), (arms, legs, *networks), strict=True)
        return sum((part[number][np.ix_(own, own)] for part, own in parts), np.zeros((16, 16)))

    return np.array(_STATES, dtype=np.bool_)[_likeliest(here, step)].reshape(-1, 2, 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Assignments:
    """Arms or legs under the four assignments of sides that networks can make.

    As they are, exchanged by the second, exchanged by the first, exchanged by both.
    ``agreement`` (N, 4) is the log likelihood of the two readings, ``image_px`` (4, N, 6, 2) and
    ``variance_px2`` (4, N, 6) the fused joints.
    """

    agreement: FloatArray
    image_px: FloatArray
    variance_px2: FloatArray

    def steps(self, apart_s: FloatArray, stature_px: float) -> FloatArray:
        """(N - 1, 4, 4) log likelihood of each picture's joints after those before."""
        moved = np.square(SPEED * stature_px * apart_s)[:, None]
        steps = np.empty((len(apart_s), 4, 4))
        for before, after in itertools.product(range(4), repeat=2):
            variance = self.variance_px2[before, :-1] + self.variance_px2[after, 1:] + moved
            square = np.square(self.image_px[after, 1:] - self.image_px[before, :-1]).sum(axis=-1)
            density = -np.log(variance) - (TAIL / 2 + 1) * np.log1p(square / (TAIL * variance))
            steps[:, before, after] = density.sum(axis=-1)
        return steps


def _assignments_of(
    first_px: FloatArray,
    first: ReadingErrors,
    second_px: FloatArray,
    second: ReadingErrors,
    stature_px: float,
) -> _Assignments:
    """Fuse as read and with the first one's sides exchanged; the other two mirror these."""
    agreement, image, variance = [], [], []
    for side in (np.arange(6), _OTHER_SIDE):
        one_px = first_px[:, side]
        cases = cases_of(one_px, _of(first, side), second_px, second, stature_px)
        joints = fused(one_px, second_px, cases)
        agreement.append(cases.log_likelihood.sum(axis=-1))
        image.append(joints.image_px)
        variance.append(np.trace(joints.covariance_px2, axis1=-2, axis2=-1) / 2)

    def all_four(values: Sequence[FloatArray]) -> FloatArray:
        alike, crossed = values
        return np.stack([alike, crossed[:, _OTHER_SIDE], crossed, alike[:, _OTHER_SIDE]])

    alike, crossed = agreement
    return _Assignments(
        np.stack([alike, crossed, crossed, alike], axis=1), all_four(image), all_four(variance)
    )


def _likeliest(here: FloatArray, step: Callable[[int], FloatArray]) -> IntArray:
    """(N,) the likeliest sequence of states, of log likelihoods (N, S) and (S, S) a step."""
    came = np.zeros(here.shape, dtype=np.int64)
    score = here[0]
    for number in range(1, len(here)):
        reached = score[:, None] + step(number - 1)
        came[number] = reached.argmax(axis=0)
        score = reached.max(axis=0) + here[number]
    path = np.empty(len(here), dtype=np.int64)
    path[-1] = score.argmax()
    for number in range(len(here) - 1, 0, -1):
        path[number - 1] = came[number, path[number]]
    return path


def _of(errors: ReadingErrors, joints: slice | IntArray) -> ReadingErrors:
    return ReadingErrors(
        errors.right[:, joints], errors.wrong[:, joints], errors.chance_wrong[:, joints]
    )


def _put_right(read: Readings, exchanged: BoolArray) -> Readings:
    """Exchange the sides of (2, 2) networks' arms and legs."""
    for half in (0, 1):
        if exchanged[0, half]:
            own = _FIRST[half]
            read = replace(
                read,
                first_px=read.first_px[own],
                sharpness=read.sharpness[own],
                depth_px=read.depth_px[own],
                world_m=read.world_m[own],
                visibility=read.visibility[own],
            )
        if exchanged[1, half]:
            own = _SECOND[half]
            read = replace(read, second_px=read.second_px[own], peak=read.peak[own])
    return read
