"""Learning where a limb's joints lie from the body's outline: `vision/pose/limbs.npz`.

    python -m counting.lab.limbs CLIPS [CLIPS ...] [--out FILE]

reads five pictures a second of labelled films as `counting.lab.reading_errors` does, and trains
the network of `vision.pose.limbs` by the likelihood of Student's t (Adam: Kingma and Ba 2015;
dropout: Srivastava et al. 2014). Outlines are grown and shrunk at random, as clothes do, joints
are moved, and the rest of the body is often somebody else's: a limb is not to be guessed from what
people usually do with it. The last films by name are kept aside: how often ellipses hold the truth
there says how much they have to be widened.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.lab.reading_errors import CHI_SQUARE_95, INSIDE, labelled_folders, read_pictures
from vision.athlete.reading import Readers, Readings, fused_bodies
from vision.files import write_whole
from vision.pose.bundle import load_bundle
from vision.pose.limbs import (
    CONTEXT,
    FREEDOM,
    LIMBS,
    LIMBS_FILE,
    OUTPUT_SCALE,
    Bodies,
    Limb,
    Numbers,
    Weights,
    axes_of,
    inputs_of,
    outputs_of,
    points_across,
    scales_of,
)

FloatArray = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]

EVERY_S: Final = 0.2
_UNITS: Final = (96, 128, 64)
_OUTPUTS: Final = 15
_DROPPED: Final = 0.25
_DECAY: Final = 0.02
_RATE: Final = 4e-3
_BATCH: Final = 512
_MOVED: Final = 0.006
"""How far joints are moved at random in training, over stature; in three of five pictures."""
_GROWN: Final = 1.0
"""How far outlines are grown and shrunk: log odds of a pixel."""
_NOISE: Final = 0.05
_OTHERS_BODY: Final = 0.4
"""How often the rest of the body is that of another lesson. Without it arms stretched out sideways,
which nobody does in the films, came out worse than they went in."""
_KEPT_ASIDE: Final = 4
"""Films that the printed errors are measured on and nothing is learnt from."""


@dataclass(frozen=True, slots=True, eq=False)
class Lessons:
    """Limbs of one kind: (N, points) outlines, (N, numbers) readings, (N, 3, 2) true offsets."""

    covered: Single
    scalars: Single
    off: Single


def lessons_of(
    limb: Limb,
    bodies: Bodies,
    true_px: FloatArray,
    reads: Sequence[Readings],
    rng: np.random.Generator | None = None,
) -> Lessons:
    """Say what the network is told of some bodies, and what it should answer.

    Parameters
    ----------
    true_px
        (N, 17, 2) where the joints truly are.
    rng
        If given, joints are moved a little first.
    """
    if rng is not None:
        moved = rng.random((len(true_px), 1, 1)) < 0.6
        noise = rng.normal(0.0, _MOVED, true_px.shape) * bodies.stature_px[:, None, None]
        placed = bodies.fused.image_px + noise * moved
        bodies = replace(bodies, fused=replace(bodies.fused, image_px=placed))
    fused_px = bodies.fused.image_px
    frame = axes_of(limb, fused_px)
    points = points_across(limb, fused_px, bodies.stature_px)
    outlines = [read.outline for read in reads if read.outline is not None]
    covered = np.array([one.at(place) for one, place in zip(outlines, points, strict=True)])
    told = inputs_of(limb, bodies, frame, covered)
    joints = list(limb.joints)
    off = np.einsum("nij,nkj->nki", frame, true_px[:, joints] - fused_px[:, joints])
    off /= bodies.stature_px[:, None, None]
    return Lessons(*(values.astype(np.float32) for values in (*told, off)))


def surprise(outputs: FloatArray, off: Numbers) -> tuple[float, FloatArray]:
    """Mean negative log likelihood of true offsets, and its gradient by the outputs."""
    said, error, slope = scales_of(outputs)
    one, two = np.moveaxis((off - said) / error, -1, 0)
    rest = two - slope * one
    square = one**2 + rest**2
    half = (FREEDOM + 2.0) / 2.0
    count = square.size
    loss = (np.log(error).sum() + half * np.log1p(square / FREEDOM).sum()) / count
    weight = half * 2.0 / (FREEDOM + square) / count
    by_one, by_two = weight * (one - slope * rest), weight * rest
    gradient = np.empty_like(outputs)
    by_place = np.stack([by_one, by_two], axis=-1)
    gradient[:, :6] = (-by_place / error * OUTPUT_SCALE).reshape(-1, 6)
    by_log = 1.0 / count - by_place * np.stack([one, two], axis=-1)
    free = (outputs[:, 6:12] > -7.0) & (outputs[:, 6:12] < 0.0)
    gradient[:, 6:12] = np.where(free, by_log.reshape(-1, 6), 0.0)
    gradient[:, 12:] = -by_two * one
    return float(loss), gradient


def train(lessons: Lessons, rounds: int, rng: np.random.Generator) -> dict[str, Single]:
    """Train a network from nothing; its weights by name, as `vision.pose.limbs` reads them."""
    weights = _fresh(lessons, rng)
    names = [name for name in weights if name[0] in "wb"]
    mean = {name: np.zeros_like(weights[name]) for name in names}
    square = {name: np.zeros_like(weights[name]) for name in names}
    count = len(lessons.off)
    steps = rounds * (count // _BATCH)
    for step in range(steps):
        if step % (count // _BATCH) == 0:
            order = rng.permutation(count)
        place = step % (count // _BATCH) * _BATCH
        gradient = _gradient(weights, lessons, order[place : place + _BATCH], rng)
        rate = _RATE * _one_cycle((step + 1) / steps)
        for name in names:
            mean[name] += 0.1 * (gradient[name] - mean[name])
            square[name] += 0.001 * (gradient[name] ** 2 - square[name])
            first = mean[name] / (1.0 - 0.9 ** (step + 1))
            second = square[name] / (1.0 - 0.999 ** (step + 1))
            weights[name] -= rate * (first / (np.sqrt(second) + 1e-8) + _DECAY * weights[name])
    return weights


def _one_cycle(done: float) -> float:
    """Share of the highest rate: up over a third of the training, then down to nothing."""
    rising = 0.3
    at = done / rising if done < rising else 1.0 - (done - rising) / (1.0 - rising)
    return 0.5 - 0.5 * float(np.cos(np.pi * at)) + 1e-4


def _fresh(lessons: Lessons, rng: np.random.Generator) -> dict[str, Single]:
    scalars = lessons.scalars.shape[1]
    sizes = [
        (lessons.covered.shape[1], _UNITS[0]),
        (_UNITS[0] + scalars, _UNITS[1]),
        (_UNITS[1], _UNITS[2]),
        (_UNITS[2], _OUTPUTS),
    ]
    weights = {
        "mean": lessons.scalars.mean(axis=0),
        "spread": np.maximum(lessons.scalars.std(axis=0), 0.05),
    }
    for number, (coming, going) in enumerate(sizes):
        bound = 1.0 / np.sqrt(coming)
        for name, shape in ((f"w{number}", (coming, going)), (f"b{number}", (going,))):
            weights[name] = rng.uniform(-bound, bound, shape).astype(np.float32)
    weights["w3"] *= np.float32(0.1)
    weights["b3"][:] = 0.0
    weights["b3"][6:12] = np.log(0.012)
    return weights


def _gradient(
    weights: dict[str, Single],
    lessons: Lessons,
    rows: npt.NDArray[np.int64],
    rng: np.random.Generator,
) -> dict[str, Single]:
    """Gradient of the mean surprise of some lessons, disturbed at random."""
    covered = np.clip(lessons.covered[rows], 0.02, 0.98)
    grown = rng.uniform(-_GROWN, _GROWN, (len(rows), 1))
    covered = 1.0 / (1.0 + (1.0 - covered) / covered * np.exp(-grown))
    covered = _some(covered - 0.3, rng)
    scalars = (lessons.scalars[rows] - weights["mean"]) / weights["spread"]
    context = list(CONTEXT)
    exchanged = np.flatnonzero(rng.random(len(rows)) < _OTHERS_BODY)
    scalars[np.ix_(exchanged, context)] = scalars[np.ix_(rng.permutation(exchanged), context)]
    scalars = scalars + rng.normal(0.0, _NOISE, scalars.shape)
    seen = np.maximum(covered @ weights["w0"] + weights["b0"], 0.0)
    joined = np.concatenate([seen, scalars], axis=1).astype(np.float32)
    both = np.maximum(joined @ weights["w1"] + weights["b1"], 0.0)
    kept = _some(np.ones_like(both), rng)
    last = np.maximum((both * kept) @ weights["w2"] + weights["b2"], 0.0)
    outputs = last @ weights["w3"] + weights["b3"]
    back = surprise(outputs.astype(np.float64), lessons.off[rows])[1].astype(np.float32)
    found: dict[str, Single] = {}
    for number, (coming, made) in reversed(
        list(enumerate(((covered, seen), (joined, both), (both * kept, last), (last, outputs))))
    ):
        if number < 3:
            back = back * (made > 0.0)
        found[f"w{number}"], found[f"b{number}"] = coming.T @ back, back.sum(axis=0)
        back = back @ weights[f"w{number}"].T
        back = back * kept if number == 2 else back[:, : _UNITS[0]] if number == 1 else back
    return found


def _some(values: Single, rng: np.random.Generator) -> Single:
    """Drop some values, and grow the others to the same sum."""
    kept = rng.random(values.shape) >= _DROPPED
    return np.asarray(values * kept / (1.0 - _DROPPED), dtype=np.float32)


def widening(weights: Weights, lessons: Lessons) -> float:
    """By how much covariances have to be widened for 95 % ellipses to hold 95 % of the offsets."""
    said, error, slope = scales_of(outputs_of(weights, lessons.covered, lessons.scalars))
    one, two = np.moveaxis((lessons.off - said) / error, -1, 0)
    square = one**2 + (two - slope * one) ** 2
    return float(np.quantile(square, INSIDE)) / CHI_SQUARE_95


def _read(folders: Sequence[Path], rng: np.random.Generator) -> Iterator[tuple[Limb, Lessons]]:
    readers = Readers(load_bundle())
    for folder in folders:
        pictures = list(read_pictures(folder, readers, rng, EVERY_S))
        true, stature, reads = zip(*pictures, strict=True)
        bodies = fused_bodies(reads, stature)
        for limb in LIMBS:
            yield limb, lessons_of(limb, bodies, np.array(true), reads, rng)


def together(lessons: Sequence[Lessons]) -> Lessons:
    """Put lessons together."""
    columns = [[getattr(one, name) for one in lessons] for name in ("covered", "scalars", "off")]
    return Lessons(*(np.concatenate(column) for column in columns))


def learn(
    kinds: dict[str, tuple[Lessons, Lessons]], rounds: int, seed: int = 0
) -> dict[str, npt.NDArray[np.generic]]:
    """Train a network a kind on its first lessons, and measure it on its second ones."""
    kept: dict[str, npt.NDArray[np.generic]] = {}
    for kind, (shown, aside) in kinds.items():
        weights = train(shown, rounds, np.random.default_rng(seed))
        kept[f"{kind}_widened"] = np.array(widening(weights, aside))
        kept.update(
            {f"{kind}_{name}": values.astype(np.float16) for name, values in weights.items()}
        )
    return kept


def main() -> None:
    """Learn from the folders that the command names."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clips", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--out", type=Path, default=LIMBS_FILE)
    parser.add_argument("--rounds", type=int, default=26)
    asked = parser.parse_args()
    folders = labelled_folders(asked.clips)
    if len(folders) <= _KEPT_ASIDE:
        parser.error(f"{len(folders)} labelled films are too few: {_KEPT_ASIDE} are kept aside")
    rng = np.random.default_rng(0)
    parts = (folders[:-_KEPT_ASIDE], folders[-_KEPT_ASIDE:])
    read = [list(_read(part, rng)) for part in parts]
    kinds = {
        kind: (
            together([one for limb, one in read[0] if limb.kind == kind]),
            together([one for limb, one in read[1] if limb.kind == kind]),
        )
        for kind in ("arm", "leg")
    }
    content = BytesIO()
    np.savez(content, **learn(kinds, asked.rounds))  # type: ignore[arg-type]
    write_whole(asked.out, content.getvalue())
    print(f"{asked.out}: {len(kinds['arm'][0].off)} arms of {len(parts[0])} films")


if __name__ == "__main__":
    main()
