"""Fits kept from an earlier audit of the same landmarks.

A fit is known by the digest of all that it is made from: the evidence and the rows. Whoever keeps
fits also knows the code that made them, so that one that is found is the one that would be made, to
the last bit.
"""

import hashlib
from collections.abc import Callable, Collection, Mapping
from dataclasses import fields
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from counting.body.cameras import unknown_count
from counting.body.evidence import Evidence
from counting.body.film_fit import FilmFit, IntArray, fit_film, fit_frames
from counting.body.skeleton import JOINT_COUNT, PER_FRAME, POINT_LANDMARKS, FloatArray

_KEY_LENGTH: Final = 32
"""Hexadecimal digits: 128 bits, so that no two keys meet by chance."""
_GUESSES: Final = 3 * len(POINT_LANDMARKS)
"""Numbers of the network's own guess a frame: three for each landmark of the body."""


def _film_shapes(evidence: Evidence) -> dict[str, tuple[int, ...]]:
    """Shapes of what is kept of a film's fit; -1 stands for the frames of its sample."""
    unknowns = unknown_count(1 + len(evidence.others))
    return {
        "shared": (unknowns,),
        "covariance": (unknowns, unknowns),
        "frames": (-1, PER_FRAME),
        "hands_up_m": (),
        "misfit": (-1,),
        "network": (-1, _GUESSES),
        "correction": (-1, PER_FRAME),
    }


class KeptFits(Protocol):
    """Where arrays are kept between audits, by what they and today's code make of it."""

    def take(self, made_from: str, names: Collection[str]) -> Mapping[str, npt.NDArray[Any]] | None:
        """Give what is kept, None where there is nothing or nothing readable."""

    def put(self, made_from: str, arrays: Mapping[str, FloatArray]) -> object:
        """Keep arrays."""


def fit_key(evidence: Evidence, rows: IntArray) -> str:
    """Name the fit of a film from its evidence in these rows."""
    content = hashlib.blake2b()
    part = evidence.of(rows)
    views = (part.view, *part.others)
    sizes = [view.long_side_px for view in views]
    content.update(repr((part.base, sizes, part.proportions)).encode())
    of_views = (getattr(view, field.name) for view in views for field in fields(view))
    for values in (rows, part.time_s, *of_views):
        if isinstance(values, np.ndarray):
            content.update(repr(values.shape).encode())
            content.update(np.ascontiguousarray(values).data)
    return content.hexdigest()[:_KEY_LENGTH]


def film_fit(evidence: Evidence, rows: IntArray, key: str, kept: KeptFits | None) -> FilmFit:
    """`fit_film`, or what is kept of it."""

    def made() -> dict[str, FloatArray]:
        fit = fit_film(evidence, rows)
        return {name: np.asarray(getattr(fit, name)) for name in shapes}

    shapes = _film_shapes(evidence)
    found = _taken_or_made(kept, key, shapes, made)
    return FilmFit(**{**found, "hands_up_m": float(found["hands_up_m"])})  # type: ignore[arg-type]


def frames_fit(
    evidence: Evidence,
    whole: FilmFit,
    rows: IntArray,
    wanted: npt.NDArray[np.bool_],
    kept: tuple[str, KeptFits | None],
) -> tuple[FloatArray, FloatArray]:
    """`fit_frames`, or what is kept of it, for a film's fit of this key."""
    fitted = rows[wanted[rows]]
    shapes = {"joints_m": (len(fitted), JOINT_COUNT, 3), "joint_misfit": (len(fitted), JOINT_COUNT)}

    def made() -> dict[str, FloatArray]:
        every = fit_frames(evidence, whole, rows, wanted)
        return {name: values[fitted] for name, values in zip(shapes, every, strict=True)}

    key, place = kept
    of_frames = hashlib.blake2b(key.encode())
    of_frames.update(fitted.data)
    found = _taken_or_made(place, of_frames.hexdigest()[:_KEY_LENGTH], shapes, made)
    count = len(evidence.time_s)
    joints = np.full((count, JOINT_COUNT, 3), np.nan)
    misfit = np.full((count, JOINT_COUNT), np.nan)
    joints[fitted], misfit[fitted] = found["joints_m"], found["joint_misfit"]
    return joints, misfit


def _taken_or_made(
    kept: KeptFits | None,
    key: str,
    shapes: Mapping[str, tuple[int, ...]],
    make: Callable[[], dict[str, FloatArray]],
) -> Mapping[str, FloatArray]:
    """Take kept arrays of these shapes, or make and keep them."""
    found = None if kept is None else kept.take(key, shapes)
    if found is not None and _are(found, shapes):
        return found
    made = make()
    if kept is not None:
        kept.put(key, made)
    return made


def _are(arrays: Mapping[str, npt.NDArray[Any]], shapes: Mapping[str, tuple[int, ...]]) -> bool:
    """Whether all arrays are there, of numbers, and of their shapes with one count for each -1."""
    if arrays.keys() != shapes.keys():
        return False
    counts = set()
    for name, shape in shapes.items():
        array = arrays[name]
        if array.dtype != np.float64 or array.ndim != len(shape):
            return False
        counts |= {got for got, asked in zip(array.shape, shape, strict=True) if asked < 0}
        if any(got != asked for got, asked in zip(array.shape, shape, strict=True) if asked >= 0):
            return False
    return len(counts) <= 1
