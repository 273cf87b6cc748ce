"""Two networks' readings of one body, fused joint by joint with a stated covariance.

Each network is right or wrong about a joint: right with a normal error, wrong with a much wider
one. How likely and how large these are follows from the height of the network's own heat map there
and over the whole body, and from how much the body is seen from the side, as learnt on labelled
films (`reading_errors.json`). Four cases follow for two networks. Each says how far apart the two
readings should lie, so their distance tells the cases apart; the fused position and covariance are
the moments of the mixture. Where the networks agree the joint is surer than either of them; where
they do not, its covariance spans both.

On 55 rendered films 5.1 % of the second network's joints are over a tenth of stature off, and 2.5 %
of the fused ones; of those with a stated error under 4 % of stature (91 in 100), 0.4 %.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

PARTS: Final = ("head", "shoulder", "elbow", "wrist", "hip", "knee", "ankle")
NETWORKS: Final = ("blazepose", "movenet")
ERRORS_FILE: Final = Path(__file__).with_name("reading_errors.json")
_LEAST_PEAK: Final = 0.01
"""Heights of peaks are held this far from 0 and 1, where log odds would be infinite."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadingErrors:
    """Errors of one network at some joints, as shares of stature, from its heat maps' peaks.

    Attributes
    ----------
    right
        (..., J) standard error along each axis where the network is right.
    wrong
        (..., J) the same where it is wrong.
    chance_wrong
        (..., J) probability that it is.
    """

    right: FloatArray
    wrong: FloatArray
    chance_wrong: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Fused:
    """Joints of one body in the picture.

    Attributes
    ----------
    image_px
        (..., J, 2) positions, pixels.
    covariance_px2
        (..., J, 2, 2) their error covariances, square pixels.
    """

    image_px: FloatArray
    covariance_px2: FloatArray


def reading_errors(
    network: str,
    parts: tuple[str, ...],
    peak: FloatArray,
    sideness: FloatArray | float,
    errors: Mapping[str, Sequence[float]] | None = None,
) -> ReadingErrors:
    """Say how far a network may be off.

    Parameters
    ----------
    network
        "blazepose" or "movenet".
    parts
        (J) part of the body of each joint, of `PARTS`.
    peak
        (..., J) height of the network's heat map at each joint, 0 to 1.
    sideness
        (...) or scalar, 0 for a body seen from the front or behind, 1 for one from the side, see
        `sideness_of`.
    errors
        Numbers to take in place of those learnt, as the file has them.
    """
    learnt = _learnt() if errors is None else errors
    rows = np.array([learnt[f"{part}/{network}"] for part in parts])
    log_odds, whole = log_odds_of(peak, parts)
    side = np.asarray(sideness, dtype=np.float64)[..., None]
    return errors_from(rows.T, log_odds, side, whole)


def peak_odds(peak: FloatArray) -> FloatArray:
    """Log odds of heat maps' peaks, none of them taken for certain."""
    clear = np.clip(peak, _LEAST_PEAK, 1.0 - _LEAST_PEAK)
    odds: FloatArray = np.log(clear / (1.0 - clear))
    return odds


def log_odds_of(peak: FloatArray, parts: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Log odds of (..., J) peaks, and (..., 1) their mean over the limbs."""
    log_odds = peak_odds(peak)
    limbs = np.array([part != "head" for part in parts])
    return log_odds, log_odds[..., limbs].mean(axis=-1, keepdims=True)


def errors_from(
    numbers: FloatArray, log_odds: FloatArray, side: FloatArray, whole: FloatArray
) -> ReadingErrors:
    """Errors by the eight numbers of each joint, (8, J), or of one part, (8,)."""
    right, right_by_peak, chance, chance_by_peak, wrong, by_side, by_whole, right_by_side = numbers
    chance = chance + chance_by_peak * log_odds + by_side * side + by_whole * whole
    return ReadingErrors(
        right=np.exp(right + right_by_peak * log_odds + right_by_side * side),
        wrong=np.broadcast_to(np.exp(wrong), log_odds.shape).copy(),
        chance_wrong=1.0 / (1.0 + np.exp(-np.clip(chance, -30.0, 30.0))),
    )


_BROAD: Final = 0.75
"""Width of hips and shoulders seen from the front over the trunk's length: (0.191 + 0.259) / 2 over
0.288 of stature (Drillis and Contini 1966 in Winter 2009)."""


def sideness_of(shoulders_px: FloatArray, hips_px: FloatArray) -> FloatArray:
    """Tell from (..., 2, 2) left and right shoulders and hips how much a side view they show."""
    trunk = np.linalg.norm(shoulders_px.mean(axis=-2) - hips_px.mean(axis=-2), axis=-1)
    widths = [
        np.linalg.norm(pair[..., 0, :] - pair[..., 1, :], axis=-1)
        for pair in (shoulders_px, hips_px)
    ]
    sideness: FloatArray = np.clip(1.0 - sum(widths) / 2.0 / (_BROAD * (trunk + 1.0)), 0.0, 1.0)
    return sideness


@dataclass(frozen=True, slots=True, eq=False)
class Cases:
    """The four cases in which either of two networks is right or wrong about a joint.

    Attributes
    ----------
    log_density
        (4, ..., J) logarithm of each case's chance times the density that it gives to the distance
        between the readings, one over square pixels.
    share
        (4, ..., J) how far from the first towards the second reading the joint lies, 0 to 1.
    variance_px2
        (4, ..., J) its error variance along an axis, square pixels.
    """

    log_density: FloatArray
    share: FloatArray
    variance_px2: FloatArray

    @property
    def log_likelihood(self) -> FloatArray:
        """(..., J) log density of the two readings of a joint."""
        total: FloatArray = np.logaddexp.reduce(self.log_density, axis=0)
        return total


def cases_of(
    first_px: FloatArray,
    first: ReadingErrors,
    second_px: FloatArray,
    second: ReadingErrors,
    stature_px: FloatArray | float,
    shared: Sequence[float] | FloatArray | None = None,
) -> Cases:
    """Weigh the four cases of two readings of the same joints.

    Parameters
    ----------
    first_px, second_px
        (..., J, 2) the two readings, pixels.
    first, second
        Their errors, (..., J).
    stature_px
        Height of the standing body in pixels at the athlete's distance, scalar or (..., 1).
    shared
        How errors go together, in place of what was learnt, as the file has it.
    """
    numbers = _learnt()["shared"] if shared is None else shared
    wrong_together, right_alike, wrong_alike, widened = numbers
    square = ((second_px - first_px) ** 2).sum(axis=-1)
    scale = np.square(stature_px)
    together = wrong_together * np.sqrt(
        first.chance_wrong
        * (1 - first.chance_wrong)
        * second.chance_wrong
        * (1 - second.chance_wrong)
    )
    both = first.chance_wrong * second.chance_wrong + together
    cases = (
        (1 - first.chance_wrong - second.chance_wrong + both, first.right, second.right),
        (second.chance_wrong - both, first.right, second.wrong),
        (first.chance_wrong - both, first.wrong, second.right),
        (both, first.wrong, second.wrong),
    )
    densities, shares, variances = [], [], []
    for number, (chance, one, other) in enumerate(cases):
        a, b = one**2 * scale, other**2 * scale
        # Errors of one crop and one body go together, so two readings are not worth two.
        correlated = right_alike if number == 0 else wrong_alike if number == 3 else 0.0
        between = correlated * np.sqrt(a * b)
        spread = np.maximum(a + b - 2 * between, 1e-9)
        densities.append(np.log(np.maximum(chance, 1e-6) / spread) - 0.5 * square / spread)
        shares.append(np.clip((a - between) / spread, 0.0, 1.0))
        variances.append((a * b - between**2) / spread * widened)
    return Cases(np.stack(densities), np.stack(shares), np.stack(variances))


def fused(first_px: FloatArray, second_px: FloatArray, cases: Cases) -> Fused:
    """Take the moments of the mixture of cases: (..., J, 2) readings in, as `cases_of`."""
    apart = second_px - first_px
    weight = np.exp(cases.log_density - cases.log_likelihood)
    toward_second = (weight * cases.share).sum(axis=0)
    between_cases = (weight * (cases.share - toward_second) ** 2).sum(axis=0)
    within = (weight * cases.variance_px2).sum(axis=0)
    covariance = between_cases[..., None, None] * apart[..., :, None] * apart[
        ..., None, :
    ] + within[..., None, None] * np.eye(2)
    return Fused(first_px + toward_second[..., None] * apart, covariance)


def fuse(
    first_px: FloatArray,
    first: ReadingErrors,
    second_px: FloatArray,
    second: ReadingErrors,
    stature_px: FloatArray | float,
) -> Fused:
    """Fuse two readings of the same joints; parameters as of `cases_of`."""
    cases = cases_of(first_px, first, second_px, second, stature_px)
    return fused(first_px, second_px, cases)


@cache
def _learnt() -> dict[str, list[float]]:
    learnt: dict[str, list[float]] = json.loads(ERRORS_FILE.read_text(encoding="utf-8"))["errors"]
    return learnt
