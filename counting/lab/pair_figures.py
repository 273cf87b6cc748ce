"""Figures of merit of pairs of films: their clocks, the body in space, the verdicts."""

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final

import numpy as np

from counting.body.motion import BodyMotion, find_body
from counting.body.sides import settled_sides
from counting.body.skeleton import FloatArray, J
from counting.body.views import view_at
from counting.checks.films import FilmsReading
from counting.checks.judge import judge_reading
from counting.checks.phases import rep_rows
from counting.checks.stature import given
from counting.decision.conformance import Risk
from counting.decision.normal import NORMAL_95
from counting.lab.body_truth import BodyTruth
from counting.lab.labelled_pairs import Pair
from counting.lab.readings import margin_of
from counting.quantities.scene import inner_angle_deg
from vision.synchrony.sound import sound_line
from vision.synchrony.types import SynchronyError

_MOST_WRONG: Final = 20
"""Pairs of films that do not belong together that are tried: a bound on the time it takes."""
_JOINTS: Final = ("hip", "shoulder", "elbow", "wrist", "knee", "ankle")
_ANGLES: Final = {
    "knee": ("hip", "knee", "ankle"),
    "hip": ("shoulder", "hip", "knee"),
    "elbow": ("shoulder", "elbow", "wrist"),
}


def report(pairs: "Sequence[Pair]") -> str:
    """Lay all figures out in lines."""
    return "\n".join([*_of_clocks(pairs), "", *_of_bodies(pairs), "", *_of_verdicts(pairs)])


def _of_clocks(pairs: "Sequence[Pair]") -> Iterator[str]:
    offsets, drifts, covered = [], [], []
    for pair in pairs:
        second = pair.tracks[1].time_s
        middle_s = np.array([(second[0] + second[-1]) / 2])
        off = float((pair.clock.first_s(middle_s) - pair.true_clock.first_s(middle_s))[0])
        offsets.append(abs(off) * 1e3)
        covered.append(abs(off) <= NORMAL_95 * pair.clock.offset_u_s)
        drifts.append(abs(pair.clock.drift_ppm - pair.true_clock.drift_ppm))
    yield f"clocks of {len(pairs)} pairs"
    yield f"  offset: median {np.median(offsets):.1f} ms, 95 % {np.percentile(offsets, 95):.1f} ms"
    yield f"  within its stated 95 % interval: {100 * np.mean(covered):.0f} %"
    yield f"  drift: median {np.median(drifts):.0f} ppm, 95 % {np.percentile(drifts, 95):.0f} ppm"
    wrong = [
        (one.sounds[0], other.sounds[1])
        for one, other in product(pairs, pairs)
        if one is not other and one.sounds[0] is not None and other.sounds[1] is not None
    ]
    refused = 0
    for here, there in wrong[:_MOST_WRONG]:
        try:
            sound_line(here, there)
        except SynchronyError:
            refused += 1
    yield f"  wrong pairs refused: {refused} of {len(wrong[:_MOST_WRONG])}"


def _of_bodies(pairs: "Sequence[Pair]") -> Iterator[str]:
    """Joints and angles of the whole body in all frames of the reps, one film and both."""
    for words, both in (("one film", False), ("both", True)):
        misses: dict[str, list[FloatArray]] = {}
        angles = {name: np.zeros(0) for name in _ANGLES}
        for pair in pairs:
            motion, rows = _fitted(pair, both=both)
            found, true = _joints(motion, rows, pair.truth)
            known = np.isfinite(found).all(axis=(1, 2))
            found, true = found[known], true[known]
            for said, scale in _scales(pair, both=both).items():
                misses.setdefault(said, []).append(_apart_cm(found, true, scale))
            for name, limb in _ANGLES.items():
                off = _angles(found, limb) - _angles(true, limb)
                angles[name] = np.append(angles[name], off)
        for said, of in misses.items():
            every = np.concatenate(of)
            yield (
                f"joints, {words}{said}: median {np.median(every):.1f} cm, "
                f"95 % {np.percentile(every, 95):.1f} cm"
            )
        told = ", ".join(f"{name} {np.sqrt(np.mean(off**2)):.1f}" for name, off in angles.items())
        yield f"angles, {words}: {told} degrees (root mean square)"


def _scales(pair: Pair, *, both: bool) -> dict[str, float | None]:
    """Factors of the fitted body's size by what is known of it; None for the best there is."""
    told = given(pair.height_m)
    scales: dict[str, float | None] = {"": 1.0}
    if both and pair.stature.source == "plates":
        scales[", where plates tell the size, assumed"] = 1.0
        scales[", where plates tell the size, told"] = pair.stature.scale
    return {**scales, ", the height being told": told.scale, ", the size being known": None}


def _fitted(pair: Pair, *, both: bool) -> tuple[BodyMotion, np.ndarray]:
    first, second = (settled_sides(track) for track in pair.tracks)
    rows = rep_rows(first.time_s, pair.reps)
    views = [view_at(second, pair.clock.second_s(first.time_s))] if both else []
    return find_body(first, rows, pair.movement.base, others=views).fitted(), rows


def _joints(
    motion: BodyMotion, rows: np.ndarray, truth: BodyTruth
) -> tuple[FloatArray, FloatArray]:
    """(n, joints, 3) found and true joints of both sides, left ones first."""
    at = np.clip(
        np.searchsorted(truth.time_s, motion.time_s[rows] - 1e-3), 0, len(truth.time_s) - 1
    )
    own = motion.joints_m[rows][:, [J[name] for name in _JOINTS]]
    ahead, width, up = own[..., 0], own[..., 1], own[..., 2]
    found = [np.stack([side * width, ahead, up], axis=-1) for side in (-1.0, 1.0)]
    true = [
        np.stack([truth.joints_m[f"{side}_{name}"][at] for name in _JOINTS], axis=1)
        for side in ("left", "right")
    ]
    return np.concatenate(found, axis=1), np.concatenate(true, axis=1)


def _apart_cm(found: FloatArray, true: FloatArray, scale: float | None) -> FloatArray:
    """Distances after the one rigid motion of the whole film that fits best (Kabsch 1976)."""
    one, other = found.reshape(-1, 3), true.reshape(-1, 3)
    a, b = one - one.mean(axis=0), other - other.mean(axis=0)
    u, s, v = np.linalg.svd(a.T @ b)
    flip = np.array([1.0, 1.0, np.sign(np.linalg.det(u @ v))])
    size = float((s * flip).sum() / (a**2).sum()) if scale is None else scale
    return np.asarray(100 * np.linalg.norm(size * a @ (u * flip) @ v - b, axis=1))


def _angles(joints: FloatArray, limb: tuple[str, str, str]) -> FloatArray:
    places = [_JOINTS.index(name) for name in limb]
    sides = [
        inner_angle_deg(*(joints[:, place + side] for place in places))
        for side in (0, len(_JOINTS))
    ]
    return np.concatenate(sides)


def _of_verdicts(pairs: "Sequence[Pair]") -> Iterator[str]:
    alone = [
        (pair, FilmsReading((one,), base=pair.movement.base))
        for pair in pairs
        for one in pair.reading.alone
        if one is not None
    ]
    for words, judged in (("one film", alone), ("both", [(pair, pair.reading) for pair in pairs])):
        reps = close = wrong = 0
        off: list[float] = []
        for pair, reading in judged:
            verdicts = judge_reading(reading, pair.reps, pair.movement, Risk()).verdicts
            for index, verdict in enumerate(verdicts):
                true = [float(values[index]) for values in pair.values]
                if not np.isfinite(true).all():
                    continue
                checks = pair.movement.checks
                good = all(margin_of(t, c) >= 0 for t, c in zip(true, checks, strict=True))
                reps += 1
                close += verdict.verdict == "too close"
                wrong += verdict.verdict == ("no-rep" if good else "good")
                off += [
                    abs(read.value - t) / read.uncertainty
                    for read, t in zip(verdict.checks, true, strict=True)
                    if read.value is not None and read.uncertainty
                ]
        yield (
            f"verdicts, {words}: of {reps} reps too close {100 * close / reps:.1f} %, false "
            f"definite {100 * wrong / reps:.1f} %; 95 % intervals hold "
            f"{100 * np.mean(np.array(off) <= NORMAL_95):.1f} % of {len(off)} values"
        )
