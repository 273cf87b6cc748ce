"""Joints of arms and legs, put where the body's outline and both networks' readings together say.

Both networks see the whole body in 256 pixels and guess each joint by itself, two hundredths of
stature off. The outline that the first one also draws shows both edges of a limb to a pixel, and
so its middle line and its bends. A small network looks along each limb: at the outline across it,
at where either network has its joints and how sure it is, and at the rest of the body. It says how
far, and which way, the limb's three joints are off, with an error of its own (Student's t).

It sees no colours, only what the two networks make of a picture, and these have seen many people.
It was learnt on rendered films by `counting.lab.limbs` (`limbs.npz`).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from vision.pose.fusion import Fused, peak_odds
from vision.pose.outline import Outline

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.floating[Any]]
Weights = Mapping[str, npt.NDArray[np.float32]]

LIMBS_FILE: Final = Path(__file__).with_name("limbs.npz")
FREEDOM: Final = 4.0
"""Degrees of freedom of Student's t: some joints are far off."""
_STATIONS: Final = 13
_ACROSS: Final = 15
_ALONG_FIRST: Final = np.linspace(-0.2, 1.0, _STATIONS)
_ALONG_SECOND: Final = np.linspace(0.0, 1.25, _STATIONS)
"""Where the outline is asked about along a limb's two parts, as a share of the part: from a little
before its root to beyond its end."""
OUTPUT_SCALE: Final = 0.05
_LOG_ERRORS: Final = (-7.0, 0.0)
_FURTHEST: Final = 3.0
_LEAST_ERROR: Final = 1e-3
CONTEXT: Final = (*range(4, 30), 53, 54)
"""Numbers of the readings that tell of the rest of the body and of what is down."""
_BODY: Final = (0, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16)
_MIRRORED_BODY: Final = (0, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15)


class Limb(NamedTuple):
    """One arm or leg, by the places of its joints among the 17 that both networks read.

    ``half_width`` is how far to either side the outline is asked about, in statures.
    """

    kind: str
    joints: tuple[int, int, int]
    mirrored: bool
    half_width: float


LIMBS: Final = (
    Limb("arm", (5, 7, 9), mirrored=False, half_width=0.10),
    Limb("arm", (6, 8, 10), mirrored=True, half_width=0.10),
    Limb("leg", (11, 13, 15), mirrored=False, half_width=0.13),
    Limb("leg", (12, 14, 16), mirrored=True, half_width=0.13),
)


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """What was read of some bodies, N of them.

    Attributes
    ----------
    fused
        (N, 17, 2) joints as both networks together have them, and their error covariances.
    first_px, second_px
        (N, 17, 2) where either network has them.
    sharpness, peak
        (N, 17) how high their heat maps are there.
    stature_px
        (N,) height of the standing body in the picture.
    """

    fused: Fused
    first_px: FloatArray
    second_px: FloatArray
    sharpness: FloatArray
    peak: FloatArray
    stature_px: FloatArray


def refined(bodies: Bodies, outline: Outline) -> Fused:
    """Put the limbs' joints of one body where its outline says.

    Returns
    -------
    Fused
        (1, 17, 2) joints and their covariances; those of the head are as they were.
    """
    image, covariance = bodies.fused.image_px.copy(), bodies.fused.covariance_px2.copy()
    asked = [points_across(limb, bodies.fused.image_px, bodies.stature_px) for limb in LIMBS]
    for limb, covered in zip(LIMBS, outline.at(np.stack(asked)), strict=True):
        frame = axes_of(limb, bodies.fused.image_px)
        inputs = inputs_of(limb, bodies, frame, covered)
        off, spread = _said(outputs_of(_learnt()[limb.kind], *inputs), limb.kind)
        scale = bodies.stature_px[:, None, None]
        joints = list(limb.joints)
        image[:, joints] += np.einsum("nji,nkj->nki", frame, off) * scale
        covariance[:, joints] = (
            np.einsum("nai,nkab,nbj->nkij", frame, spread, frame) * scale[..., None] ** 2
        )
    return Fused(image, covariance)


def axes_of(limb: Limb, joints_px: FloatArray) -> FloatArray:
    """(N, 2, 2) unit vectors along the limb's first part and across it.

    Right limbs are told as the mirror images of left ones.
    """
    root, middle, _ = limb.joints
    along = _unit(joints_px[:, middle] - joints_px[:, root])
    return np.stack([along, _across(along, limb)], axis=1)


def points_across(limb: Limb, joints_px: FloatArray, stature_px: FloatArray) -> FloatArray:
    """(N, points, 2) places in the picture where the outline is asked about."""
    root, middle, end = (joints_px[:, joint] for joint in limb.joints)
    across = np.linspace(-limb.half_width, limb.half_width, _ACROSS) * stature_px[:, None]
    parts = []
    for start, stop, along in ((root, middle, _ALONG_FIRST), (middle, end, _ALONG_SECOND)):
        step = stop - start
        normal = _across(_unit(step), limb)
        stations = start[:, None] + along[:, None] * step[:, None]
        points = stations[:, :, None] + across[:, None, :, None] * normal[:, None, None]
        parts.append(points.reshape(len(start), -1, 2))
    return np.concatenate(parts, axis=1)


def inputs_of(
    limb: Limb, bodies: Bodies, frame: FloatArray, covered: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give what the network is told.

    Returns
    -------
    covered, scalars
        (N, points) the outline, and (N, numbers) the readings, lengths over stature along the axes
        of the limb.
    """
    joints = bodies.fused.image_px
    own = list(limb.joints)
    root, middle, end = (joints[:, joint] for joint in own)

    def told(vectors_px: FloatArray) -> FloatArray:
        along: FloatArray = np.einsum("nij,n...j->n...i", frame, vectors_px)
        flat = along.reshape(len(joints), -1)
        return np.asarray(flat / bodies.stature_px[:, None])

    body = list(_MIRRORED_BODY if limb.mirrored else _BODY)
    apart = [
        np.clip(10.0 * told(read[:, own] - joints[:, own]), -_FURTHEST, _FURTHEST)
        for read in (bodies.first_px, bodies.second_px)
    ]
    error = np.sqrt(np.trace(bodies.fused.covariance_px2[:, own], axis1=2, axis2=3) / 2)
    clear = [peak_odds(peak) for peak in (bodies.sharpness, bodies.peak)]
    down = np.zeros((len(joints), 2))
    down[:, 1] = bodies.stature_px
    return covered, np.concatenate(
        [
            np.linalg.norm(middle - root, axis=1, keepdims=True) / bodies.stature_px[:, None],
            np.linalg.norm(end - middle, axis=1, keepdims=True) / bodies.stature_px[:, None],
            told(end - middle),
            told(joints[:, body] - middle[:, None]),
            *apart,
            clear[0][:, own],
            clear[1][:, own],
            np.log(np.maximum(error / bodies.stature_px[:, None], _LEAST_ERROR)),
            clear[0][:, 5:].mean(axis=1, keepdims=True),
            clear[1][:, 5:].mean(axis=1, keepdims=True),
            told(down),
        ],
        axis=1,
    )


def outputs_of(weights: Weights, covered: Numbers, scalars: Numbers) -> FloatArray:
    """Run the network: (N, 15) numbers."""
    known = (scalars - weights["mean"]) / weights["spread"]
    seen = _positive((covered - 0.3) @ weights["w0"] + weights["b0"])
    both = _positive(np.concatenate([seen, known], axis=1) @ weights["w1"] + weights["b1"])
    return np.asarray(
        _positive(both @ weights["w2"] + weights["b2"]) @ weights["w3"] + weights["b3"]
    )


def scales_of(outputs: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Tell the network's numbers apart.

    Returns
    -------
    off, error, slope
        (N, 3, 2) how far each joint is from where it was fused along the limb's axes, in statures;
        (N, 3, 2) scales of Student's t along the first axis, and along the second given the first;
        (N, 3) how much an error along the first goes with one along the second.
    """
    pairs = outputs.reshape(len(outputs), -1)
    off = pairs[:, :6].reshape(-1, 3, 2) * OUTPUT_SCALE
    error = np.exp(np.clip(pairs[:, 6:12], *_LOG_ERRORS)).reshape(-1, 3, 2)
    return off, error, pairs[:, 12:15]


def _said(outputs: FloatArray, kind: str) -> tuple[FloatArray, FloatArray]:
    """(N, 3, 2) offsets and (N, 3, 2, 2) covariances whose 95 % ellipses hold 95 % of errors."""
    off, error, slope = scales_of(outputs)
    covariance = np.empty((*error.shape, 2))
    one, two = error[..., 0], error[..., 1]
    covariance[..., 0, 0] = one**2
    covariance[..., 0, 1] = covariance[..., 1, 0] = slope * one * two
    covariance[..., 1, 1] = (1.0 + slope**2) * two**2
    return off, covariance * float(_learnt()[kind]["widened"])


def _across(along: FloatArray, limb: Limb) -> FloatArray:
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return -normal if limb.mirrored else normal


def _unit(vectors: FloatArray) -> FloatArray:
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit: FloatArray = np.where(length > 0.0, vectors / np.maximum(length, 1e-9), (0.0, 1.0))
    return unit


def _positive(values: Numbers) -> Numbers:
    return np.asarray(np.maximum(values, 0.0))


@cache
def _learnt() -> dict[str, Weights]:
    with np.load(LIMBS_FILE) as kept:
        return {
            kind: {
                name.removeprefix(f"{kind}_"): kept[name].astype(np.float32)
                for name in kept.files
                if name.startswith(f"{kind}_")
            }
            for kind in ("arm", "leg")
        }
