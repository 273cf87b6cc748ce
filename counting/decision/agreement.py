"""Agreement of verdicts and of values with a reference."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri, stdtrit

from counting.decision.normal import NORMAL_95


def wilson_interval(hits: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Wilson score interval of a proportion (Wilson 1927; method 3 of Newcombe 1998).

    Returns
    -------
    tuple of float
        Clamped to 0 and 1; (0, 1) without trials.
    """
    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} hits of {trials} trials")
    if trials == 0:
        return 0.0, 1.0
    z = float(ndtri(0.5 + confidence / 2))
    share = hits / trials
    centre = share + z * z / (2 * trials)
    spread = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    low, high = (centre - spread) / scale, (centre + spread) / scale
    return (0.0 if hits == 0 else max(0.0, low)), (1.0 if hits == trials else min(1.0, high))


@dataclass(frozen=True, slots=True)
class Kappa:
    """Chance-corrected agreement beside what it hides.

    Attributes
    ----------
    kappa
        (observed - expected) / (1 - expected); NaN where chance alone agrees always.
    observed, expected
        Raw agreement and that expected by chance.
    """

    kappa: float
    observed: float
    expected: float


def cohen_kappa(table: npt.ArrayLike) -> Kappa:
    """Agreement of two raters (Cohen 1960) from their square table of counts."""
    counts = np.asarray(table, float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise ValueError(f"table has shape {counts.shape}, must be square")
    total = counts.sum()
    observed = float(np.trace(counts) / total) if total else math.nan
    expected = float(counts.sum(0) @ counts.sum(1) / total**2) if total else math.nan
    return Kappa(_chance_corrected(observed, expected), observed, expected)


def _chance_corrected(observed: float, expected: float) -> float:
    return (observed - expected) / (1 - expected) if expected < 1 else math.nan


@dataclass(frozen=True, slots=True)
class BlandAltman:
    """Limits of agreement of two methods (Bland and Altman 1986).

    Attributes
    ----------
    n
        Pairs used; pairs with a NaN are left out.
    bias, sd
        Mean and standard deviation (n - 1) of the differences.
    lower, upper
        bias -+ 1.96 sd.
    bias_se, limit_se
        Standard errors of the bias, and of each limit (sqrt(3 sd^2 / n)).
    t
        95 % point of Student's t with n - 1 degrees of freedom, for intervals of these.
    """

    n: int
    bias: float
    sd: float
    lower: float
    upper: float
    bias_se: float
    limit_se: float
    t: float


def bland_altman(measured: npt.ArrayLike, reference: npt.ArrayLike) -> BlandAltman:
    """Compare two methods pair by pair; differences are measured minus reference."""
    difference = np.asarray(measured, float) - np.asarray(reference, float)
    difference = difference[np.isfinite(difference)]
    n = int(difference.size)
    if n < 2:
        raise ValueError(f"{n} pairs, at least two are needed")
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    return BlandAltman(
        n=n,
        bias=bias,
        sd=sd,
        lower=bias - NORMAL_95 * sd,
        upper=bias + NORMAL_95 * sd,
        bias_se=sd / math.sqrt(n),
        limit_se=math.sqrt(3 * sd * sd / n),
        t=float(stdtrit(n - 1, 0.975)),
    )


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Reps whose stated probability fell into one bin."""

    lower: float
    upper: float
    n: int
    stated: float
    observed: float


def reliability(
    probabilities: Sequence[float], outcomes: Sequence[bool], bins: int = 10
) -> list[ReliabilityBin]:
    """Stated probability against observed frequency, in equal bins; empty bins are left out."""
    stated = np.asarray(probabilities, float)
    happened = np.asarray(outcomes, float)
    index = np.minimum((stated * bins).astype(int), bins - 1)
    return [
        ReliabilityBin(
            k / bins,
            (k + 1) / bins,
            int(chosen.sum()),
            float(stated[chosen].mean()),
            float(happened[chosen].mean()),
        )
        for k in range(bins)
        if (chosen := index == k).any()
    ]


def expected_calibration_error(
    probabilities: Sequence[float], outcomes: Sequence[bool], bins: int = 10
) -> float:
    """Mean distance of stated and observed frequency, weighted by the bins' sizes."""
    if not len(probabilities):
        return math.nan
    rows = reliability(probabilities, outcomes, bins)
    return sum(row.n * abs(row.stated - row.observed) for row in rows) / len(probabilities)
