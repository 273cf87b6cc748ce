"""Cost of a body against the film's evidence, and its normal equations, frame by frame.

The derivatives are written out, and only those elements of the normal matrix are formed that are
not zero by construction: a landmark knows its own joint, a limb its two ends. Arrays hold frames
along their last axis.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np

from counting.body.cameras import as_seen, bears_on, turned_by, unknown_count
from counting.body.constraints import DEPTH_JOINTS, Row, contact_rows, depth_rows, length_rows
from counting.body.evidence import LANDMARK_ERROR_M, Evidence, View, world_middle
from counting.body.skeleton import (
    FREE_WIDTH_OF,
    GLOBALS,
    PAIRED_POINTS,
    PER_FRAME,
    POINT_JOINT,
    POINT_SIDE,
    SHARED_WIDTH_OF,
    SHIFT,
    FloatArray,
    G,
    J,
    camera_axes,
    joint_widths,
)
from counting.body.solve import IntArray, Normal

_CAUCHY: Final = 9.0
"""Square of the distance, in standard errors, at which a landmark counts half."""
_NEAREST_M: Final = 0.2
"""Metres from the camera, nearer than which nothing is divided by."""


class _Seen(NamedTuple):
    """Points before the camera, (points, N) each, and what takes the body there."""

    axes: FloatArray
    ahead_by: FloatArray
    side_by: FloatArray
    ahead: FloatArray
    side: FloatArray
    place: FloatArray
    scale: FloatArray
    gain: FloatArray
    miss: FloatArray
    widths: FloatArray


class _Picture:
    """One camera's landmarks and its network's guess, ready to be compared with a body."""

    def __init__(self, view: View, pixel_per_m: FloatArray) -> None:
        self.place = np.nan_to_num(view.picture_px - view.centre_px).transpose(2, 1, 0)
        # the scale is not known of a picture without landmarks, which weigh nothing
        self.weight = np.nan_to_num(view.weight / (LANDMARK_ERROR_M * pixel_per_m[:, None])).T
        hip = world_middle(view.world_m, "hip")
        offset = [world_middle(view.world_m, joint) - hip for joint in DEPTH_JOINTS]
        self.offset = np.stack(offset).transpose(2, 0, 1)[[0, 2]]


class BodyTerms:
    """What a body costs in each frame of some evidence.

    Parameters
    ----------
    evidence
        What the cameras saw.
    pixel_per_m
        (N,) scale of the first picture at the athlete in each frame.
    free
        Places of the shared unknowns that are sought.
    """

    def __init__(self, evidence: Evidence, pixel_per_m: FloatArray, free: Sequence[int]) -> None:
        self._evidence = evidence
        self._free = sorted(free)
        self._pictures = [_Picture(evidence.view, pixel_per_m)]
        for other in evidence.others:
            self._pictures.append(_Picture(other, np.full(len(other.weight), other.pixel_per_m)))

    def landmark_misses(self, frames: FloatArray, shared: FloatArray, rows: IntArray) -> FloatArray:
        """(2, points, N) distances of landmarks from the body, in standard errors.

        Of several cameras the root mean square, each weighing as much as it has to say about where
        the body is: one before which a plate hides the hands says nothing of how well they are
        known from another.
        """
        seen = self._seen(frames.T, shared.T, rows)
        if len(seen) == 1:
            return seen[0].miss
        says = [one.gain**2 / (1 + (one.miss**2).sum(axis=0) / _CAUCHY) for one in seen]
        squares = sum(weight * one.miss**2 for weight, one in zip(says, seen, strict=True))
        return np.asarray(np.sqrt(squares / np.maximum(sum(says), 1e-9)))

    def cost(self, frames: FloatArray, shared: FloatArray, rows: IntArray) -> FloatArray:
        """(N,) costs of (N, K) frame unknowns and (N, g) shared ones in these rows."""
        seen = self._seen(frames.T, shared.T, rows)
        cost: FloatArray = _landmark_cost(seen[0])
        for one in seen[1:]:
            cost += _landmark_cost(one)
        for row in self._rows(frames.T, shared.T, rows, seen):
            cost += row.cost()
        return cost

    def _rows(
        self, frames: FloatArray, shared: FloatArray, rows: IntArray, seen: Sequence[_Seen]
    ) -> Iterator[Row]:
        proportions = self._evidence.proportions
        yield from length_rows(frames, shared, seen[0].widths, proportions)
        yield from contact_rows(frames, shared, self._evidence.base, proportions)
        for camera, picture in enumerate(self._pictures):
            for row in depth_rows(frames, as_seen(shared, camera), picture.offset[:, :, rows]):
                yield row._replace(by_shared=tuple(turned_by(row.by_shared, camera)))

    def _seen(self, frames: FloatArray, shared: FloatArray, rows: IntArray) -> list[_Seen]:
        return [
            self._see(frames, as_seen(shared, camera), picture, rows)
            for camera, picture in enumerate(self._pictures)
        ]

    def _see(
        self, frames: FloatArray, shared: FloatArray, picture: _Picture, rows: IntArray
    ) -> _Seen:
        axes = camera_axes(shared)
        sin, cos = np.sin(shared[G["yaw"]]), np.cos(shared[G["yaw"]])
        ahead_by = axes[:, 0] * sin - axes[:, 1] * cos
        side_by = -(axes[:, 0] * cos + axes[:, 1] * sin)
        from_camera = np.exp(shared[G["log_distance"]]) * axes[:, 1]
        from_camera = from_camera - shared[G["height"]] * axes[:, 2]
        widths = joint_widths(frames, shared, self._evidence.proportions)
        ahead = frames[2 * POINT_JOINT]
        side = frames[SHIFT] + POINT_SIDE[:, None] * widths[POINT_JOINT]
        place = (
            ahead_by[:, None] * ahead
            + side_by[:, None] * side
            + axes[:, 2][:, None] * frames[2 * POINT_JOINT + 1]
            + from_camera[:, None]
        )
        weight = picture.weight[:, rows]
        scale = weight * np.exp(shared[G["log_focal"]])
        gain = scale / np.maximum(place[2], _NEAREST_M)
        miss = place[:2] * gain - picture.place[:, :, rows] * weight
        return _Seen(axes, ahead_by, side_by, ahead, side, place, scale, gain, miss, widths)

    def normal(self, frames: FloatArray, shared: FloatArray, rows: IntArray) -> Normal:
        """Linearise at (N, K) frame unknowns and (N, g) shared ones in these rows."""
        seen = self._seen(frames.T, shared.T, rows)
        made = self._of_landmarks(shared.T, seen)
        for row in self._rows(frames.T, shared.T, rows, seen):
            made.add(row)
        return made.normal()

    def _of_landmarks(self, shared: FloatArray, seen: Sequence[_Seen]) -> "_Sums":
        made = _Sums(shared.shape[1], self._free, unknown_count(len(seen)))
        for camera, one in enumerate(seen):
            weight = 1 / (1 + one.miss**2 / _CAUCHY)
            changes = (one.ahead_by, one.axes[:, 2], one.side_by)
            slopes = [_slope(one, change[:, None]) for change in changes]
            weighted = [slope * weight for slope in slopes]
            _add_landmarks(made, slopes, weighted, one.miss)
            bearing = bears_on(self._free, camera)
            if bearing:
                own = as_seen(shared, camera)
                by_shared = np.stack([_shared_slope(s, own, one) for _, s in bearing])
                free = [index for index, _ in bearing]
                _add_shared_landmarks(made, free, by_shared, weighted, weight, one.miss)
        return made


def _landmark_cost(seen: _Seen) -> FloatArray:
    cost: FloatArray = _CAUCHY * np.log1p(seen.miss**2 / _CAUCHY).sum(axis=(0, 1))
    return cost


def _shared_slope(index: int, shared: FloatArray, seen: _Seen) -> FloatArray:
    """(2, points, N) change of the landmarks' misses with one shared unknown."""
    place, axes = seen.place, seen.axes
    name = GLOBALS[index]
    if name == "log_focal":
        slope: FloatArray = place[:2] * seen.gain
        return slope
    if name == "log_distance":
        change = (np.exp(shared[index]) * axes[:, 1])[:, None]
    elif name == "height":
        change = -axes[:, 2][:, None]
    elif name == "tilt":
        sin, cos = np.sin(shared[G["roll"]]), np.cos(shared[G["roll"]])
        change = np.stack([-sin * place[2], -cos * place[2], sin * place[0] + cos * place[1]])
    elif name == "roll":
        change = np.stack([place[1], -place[0], np.zeros_like(place[0])])
    elif name == "pan":
        sin, cos = np.sin(shared[G["yaw"]]), np.cos(shared[G["yaw"]])
        east = sin * seen.ahead - cos * seen.side
        north = np.exp(shared[G["log_distance"]]) - cos * seen.ahead - sin * seen.side
        change = axes[:, 1][:, None] * east - axes[:, 0][:, None] * north
    elif name == "yaw":
        change = seen.ahead_by[:, None] * seen.side - seen.side_by[:, None] * seen.ahead
    else:
        change = seen.side_by[:, None] * _widening(index, seen.widths)
    return _slope(seen, change)


def _slope(seen: _Seen, change: FloatArray) -> FloatArray:
    """(2, points, N) change of the misses with the change (3, points, N) of places."""
    far = np.where(seen.place[2] > _NEAREST_M, seen.gain / seen.place[2], 0.0)
    slope: FloatArray = change[:2] * seen.gain - seen.place[:2] * (far * change[2])
    return slope


def _widening(index: int, widths: FloatArray) -> FloatArray:
    """(points, N) change of the points' sideways place with a shared width, else 0."""
    change = np.zeros((len(POINT_JOINT), widths.shape[1]))
    for joint, width in SHARED_WIDTH_OF.items():
        if width == index:
            points = joint == POINT_JOINT
            size = np.ones(widths.shape[1]) if joint == J["toe"] else widths[joint]
            change[points] = POINT_SIDE[points][:, None] * size
    return change


class _Sums:
    """Normal equations while they are added up."""

    def __init__(self, count: int, free: Sequence[int], unknowns: int) -> None:
        self.blocks: dict[tuple[int, int], FloatArray] = {}
        self.border = np.zeros((PER_FRAME, unknowns, count))
        self.gradient = np.zeros((PER_FRAME, count))
        self.shared = np.zeros((unknowns, unknowns, count))
        self.shared_gradient = np.zeros((unknowns, count))
        self.free = sorted(free)

    def block(self, i: int, j: int, values: FloatArray) -> None:
        """Add to the element of two frame unknowns."""
        key = (i, j) if i <= j else (j, i)
        self.blocks[key] = self.blocks[key] + values if key in self.blocks else values

    def add(self, row: Row) -> None:
        """Add a residual."""
        own, weight = row.by_frame, row.weight()
        for at, (i, slope) in enumerate(own):
            heavy = slope * weight
            self.gradient[i] += heavy * row.miss
            for j, other in own[at:]:
                self.block(i, j, heavy * other)
        shared = [(s, slope * weight) for s, slope in row.by_shared if s in self.free]
        for s, heavy in shared:
            self.shared_gradient[s] += heavy * row.miss
            for i, other in own:
                self.border[i, s] += heavy * other
            for t, other in row.by_shared:
                self.shared[s, t] += heavy * other

    def normal(self) -> Normal:
        """Return what has been added up."""
        return Normal(self.blocks, self.gradient, self.border, self.shared, self.shared_gradient)


def _of_joints(values: FloatArray) -> FloatArray:
    """Sum (..., points, N) over the one or two points of each joint, (joints, ..., N)."""
    by_point = np.moveaxis(values, -2, 0)
    sums: FloatArray = np.concatenate(
        [by_point[:PAIRED_POINTS:2] + by_point[1:PAIRED_POINTS:2], by_point[PAIRED_POINTS:]]
    )
    return sums


_PAIR_SIGN: Final = POINT_SIDE[:, None]
_JOINT_ORDER: Final = [
    *POINT_JOINT[:PAIRED_POINTS:2].tolist(),
    *POINT_JOINT[PAIRED_POINTS:].tolist(),
]
"""The joint of each row that `_of_joints` gives."""


def _add_landmarks(
    made: _Sums, slopes: Sequence[FloatArray], weighted: Sequence[FloatArray], miss: FloatArray
) -> None:
    """Add all landmarks: each depends on its joint's place, the shift and maybe a free width."""
    ahead, up, side = slopes
    products = {}
    for name, one, other in (
        ("aa", weighted[0], ahead),
        ("au", weighted[0], up),
        ("as", weighted[0], side),
        ("uu", weighted[1], up),
        ("us", weighted[1], side),
        ("ss", weighted[2], side),
    ):
        product = (one * other).sum(axis=0)
        products[name] = _of_joints(product)
        if name in ("as", "us", "ss"):
            products[name + "signed"] = _of_joints(product * _PAIR_SIGN)
    pull = [(slope * miss).sum(axis=0) for slope in weighted]
    pulls = [_of_joints(one) for one in pull]
    signed = _of_joints(pull[2] * _PAIR_SIGN)
    for row, joint in enumerate(_JOINT_ORDER):
        a, u = 2 * joint, 2 * joint + 1
        made.block(a, a, products["aa"][row])
        made.block(a, u, products["au"][row])
        made.block(u, u, products["uu"][row])
        made.block(a, SHIFT, products["as"][row])
        made.block(u, SHIFT, products["us"][row])
        made.gradient[a] += pulls[0][row]
        made.gradient[u] += pulls[1][row]
        width = FREE_WIDTH_OF.get(joint)
        if width is not None:
            made.block(a, width, products["assigned"][row])
            made.block(u, width, products["ussigned"][row])
            made.block(SHIFT, width, products["sssigned"][row])
            made.block(width, width, products["ss"][row])
            made.gradient[width] += signed[row]
    made.block(SHIFT, SHIFT, products["ss"].sum(axis=0))
    made.gradient[SHIFT] += pulls[2].sum(axis=0)


def _add_shared_landmarks(
    made: _Sums,
    free: Sequence[int],
    by_shared: FloatArray,
    weighted: Sequence[FloatArray],
    weight: FloatArray,
    miss: FloatArray,
) -> None:
    """Add what landmarks say of the shared unknowns, (shared, 2, points, N)."""
    ahead, up, side = ((one * by_shared).sum(axis=1) for one in weighted)
    place = 2 * np.array(_JOINT_ORDER)[:, None]
    made.border[place, free] += _of_joints(ahead)
    made.border[place + 1, free] += _of_joints(up)
    signed = _of_joints(side * _PAIR_SIGN)
    for row, joint in enumerate(_JOINT_ORDER):
        width = FREE_WIDTH_OF.get(joint)
        if width is not None:
            made.border[width, free] += signed[row]
    made.border[SHIFT, free] += side.sum(axis=1)
    flat = by_shared.reshape(len(free), -1, by_shared.shape[-1]).transpose(2, 0, 1)
    heavy = weight.reshape(1, -1, weight.shape[-1]).transpose(2, 0, 1)
    square = np.matmul(flat * heavy, flat.transpose(0, 2, 1))
    made.shared[np.ix_(free, free)] += square.transpose(1, 2, 0)
    pulls = np.matmul(flat * heavy, miss.reshape(-1, miss.shape[-1]).T[:, :, None])[..., 0]
    made.shared_gradient[free] += pulls.T
