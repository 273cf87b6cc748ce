"""Learning how far each pose network is off: `vision/pose/reading_errors.json`.

    python -m counting.lab.reading_errors CLIPS [CLIPS ...] [--out FILE]

reads two pictures a second of labelled films, NAME/clip.mp4 with NAME/frames.npz (``t``, ``px`` in
the film's pixels and ``joint_names``), in squares around where the body truly is, moved a little as
a tracker would. Then it finds the numbers under which the errors are likeliest, and writes them
with what they were learnt from. Films in which others come near the athlete are better left out.
"""

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize

from vision.athlete.reading import JOINT_PARTS, Readers, Readings, errors_of
from vision.athlete.whereabouts import standing_px
from vision.files import write_whole
from vision.film.frames import LONG_SIDE_PX, frames
from vision.film.reading import read_film
from vision.pose.bundle import load_bundle
from vision.pose.fusion import (
    ERRORS_FILE,
    NETWORKS,
    PARTS,
    FloatArray,
    cases_of,
    errors_from,
    fused,
    log_odds_of,
    sideness_of,
)
from vision.pose.landmarks import Landmark
from vision.pose.movenet import JOINTS, MODELS_SHA256

EVERY_S: Final = 0.5
_MOVED: Final = 0.03
"""How far squares are moved at random, over stature: as detections are off."""
_START: Final = (-3.8, -0.4, -1.5, -1.2, -2.4, 0.0, -0.5, 0.0)
_SPREAD: Final = 1.0
"""How far from there numbers are expected to be: a few films say little of some of them."""
_SHARED_START: Final = (0.3, 0.4, 0.6)
INSIDE: Final = 0.95
CHI_SQUARE_95: Final = 5.991
"""95 % quantile of chi square with two degrees of freedom (Abramowitz and Stegun 1964, 26.4)."""


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """What both networks read of true joints: (N, 17, 2) places over stature, (N, 17) peaks."""

    true: FloatArray
    place: Mapping[str, FloatArray]
    peak: Mapping[str, FloatArray]


def read_films(folders: Sequence[Path]) -> Read:
    """Read labelled films around where the body truly is."""
    rng = np.random.default_rng(0)
    bundle = load_bundle()
    readers = Readers(bundle)
    rows = [row for folder in folders for row in _read(folder, readers, rng)]
    true, first, second, sharpness, peak = (np.array(values) for values in zip(*rows, strict=True))
    return Read(
        true,
        dict(zip(NETWORKS, (first, second), strict=True)),
        dict(zip(NETWORKS, (sharpness, peak), strict=True)),
    )


def _read(
    folder: Path, readers: Readers, rng: np.random.Generator
) -> Iterator[tuple[FloatArray, ...]]:
    shared = list(JOINTS)
    for true_px, here_px, read in read_pictures(folder, readers, rng, EVERY_S):
        yield (
            true_px / here_px,
            read.first_px[shared] / here_px,
            read.second_px / here_px,
            read.sharpness[shared],
            read.peak,
        )


def read_pictures(
    folder: Path, readers: Readers, rng: np.random.Generator, every_s: float
) -> Iterator[tuple[FloatArray, float, Readings]]:
    """Read pictures of a labelled film around where the body truly is, moved a little.

    Yields
    ------
    tuple
        (17, 2) true joints and the body's stature in the picture, pixels, and what was read.
    """
    with np.load(folder / "frames.npz") as labels:
        names = [str(name) for name in labels["joint_names"]]
        columns = [names.index(Landmark(joint).name.lower()) for joint in JOINTS]
        px, time_s = labels["px"][:, columns].astype(np.float64), labels["t"]
    stature_px = standing_px(px)
    film = read_film(folder / "clip.mp4")
    for frame in frames(film, every_s=every_s, long_side_px=LONG_SIDE_PX):
        true_px = px[int(np.abs(time_s - frame.time_s).argmin())] * frame.scale
        here_px = stature_px * frame.scale
        expected = true_px + rng.normal(0.0, _MOVED * here_px, 2)
        yield true_px, here_px, readers.read(frame.picture, expected, here_px).read


def labelled_folders(tops: Sequence[Path]) -> list[Path]:
    """Find labelled films, NAME/clip.mp4 with NAME/frames.npz, in some folders."""
    return sorted(
        file.parent for top in tops for file in [*top.glob("frames.npz"), *top.glob("*/frames.npz")]
    )


def learn(read: Read) -> dict[str, list[float]]:
    """Find the numbers under which the errors of both networks are likeliest."""
    second = read.place["movenet"]
    side = sideness_of(second[:, 5:7], second[:, 11:13])
    found: dict[str, list[float]] = {}
    for network in NETWORKS:
        square = ((read.place[network] - read.true) ** 2).sum(axis=-1)
        log_odds, whole = log_odds_of(read.peak[network], JOINT_PARTS)
        for part in PARTS:
            own = [number for number, name in enumerate(JOINT_PARTS) if name == part]

            def surprise(
                numbers: FloatArray,
                square: FloatArray = square[:, own],
                log_odds: FloatArray = log_odds[:, own],
                whole: FloatArray = whole,
            ) -> float:
                errors = errors_from(numbers, log_odds, side[:, None], whole)
                right = (1 - errors.chance_wrong) * _normal(square, errors.right)
                wrong = errors.chance_wrong * _normal(square, errors.wrong)
                strange = 0.5 * float(np.sum(np.square((numbers - _START) / _SPREAD)))
                return -float(np.log(right + wrong + 1e-12).mean()) + strange / square.size

            best = minimize(surprise, _START, method="L-BFGS-B", bounds=[(-8.0, 3.0)] * 8)
            found[f"{part}/{network}"] = [round(float(value), 3) for value in best.x]
    return found


def learn_shared(read: Read, errors: Mapping[str, list[float]]) -> list[float]:
    """Find how errors of the two networks go together, and how much ellipses have to be widened."""
    first_px, second_px = (read.place[network] for network in NETWORKS)
    told = errors_of(
        read.peak["blazepose"], second_px, read.peak["movenet"], errors={**errors, "shared": []}
    )

    def ellipses(numbers: FloatArray) -> tuple[FloatArray, FloatArray]:
        cases = cases_of(first_px, told[0], second_px, told[1], 1.0, shared=numbers)
        joints = fused(first_px, second_px, cases)
        off = joints.image_px - read.true
        square = np.einsum("...i,...ij,...j->...", off, np.linalg.inv(joints.covariance_px2), off)
        return square, np.linalg.slogdet(joints.covariance_px2)[1]

    def surprise(numbers: FloatArray) -> float:
        # Student's density with three degrees of freedom: a few joints are far off.
        square, log_size = ellipses(np.append(np.clip(numbers, 0.0, 0.95), 1.0))
        return float((2.5 * np.log1p(square / 3.0) + 0.5 * log_size).mean())

    best = np.clip(minimize(surprise, _SHARED_START, method="Nelder-Mead").x, 0.0, 0.95)
    widths = np.arange(1.0, 3.01, 0.05)
    inside = [float((ellipses(np.append(best, w))[0] < CHI_SQUARE_95).mean()) for w in widths]
    nearest = float(widths[int(np.abs(np.array(inside) - INSIDE).argmin())])
    return [round(float(value), 3) for value in (*best, nearest)]


def document(
    errors: Mapping[str, list[float]], films: Sequence[str], pictures: int
) -> dict[str, Any]:
    """Give the file's content: the numbers, and what they hold for and come from."""
    return {
        "networks": {"blazepose": load_bundle().sha256, "movenet": MODELS_SHA256["thunder"]},
        "films": sorted(films),
        "pictures": pictures,
        "learnt_by": "counting.lab.reading_errors",
        "errors": dict(errors),
    }


def _normal(square: FloatArray, deviation: FloatArray) -> FloatArray:
    density: FloatArray = np.exp(-0.5 * square / deviation**2) / (2 * np.pi * deviation**2)
    return density


def main() -> None:
    """Learn from the folders that the command names."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clips", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--out", type=Path, default=ERRORS_FILE)
    asked = parser.parse_args()
    folders = labelled_folders(asked.clips)
    if not folders:
        parser.error("no labelled film: NAME/clip.mp4 with NAME/frames.npz")
    read = read_films(folders)
    errors = learn(read)
    errors["shared"] = learn_shared(read, errors)
    told = document(errors, [folder.name for folder in folders], len(read.true))
    write_whole(asked.out, (json.dumps(told, indent=1) + "\n").encode())
    print(f"{asked.out}: {len(read.true)} pictures of {len(folders)} films")


if __name__ == "__main__":
    main()
