"""True values of the reps of one film, from readings that share an error.

Two things are unknown about a film beyond its reps: the error common to all readings (this body,
this camera, these clothes) and what this athlete typically does. Both are known only as far as
labelled films tell, and both are met by every rep. Readings of the other reps therefore serve as
reference: an athlete who stands up nine times alike and once less has, that once, stood up less,
whatever the camera adds to all ten.

A miss that the film shows by half reads like half a miss: its error grows with how far it is from
the usual.

The model: reading = true value + common error + own error; true value = typical value + rep to rep
spread, or, in a share of reps, anything a miss can be. Own errors have a small share of gross ones.
The posterior is summed over a grid of the two film-wide unknowns, exactly given the model; its
reading is the prior knowledge of JCGM 106:2012, 6.2, made explicit. Cells of the grid that the reps
rule out are dropped on the way.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from counting.body.skeleton import FloatArray
from counting.checks.table import Calibration
from counting.decision.conformance import Relation

IntArray = npt.NDArray[np.int64]

GROSS_SHARE: Final = 0.02
"""On labelled films 10 of 636 readings of good reps lay over three own errors off, alike where the
body is seen well (4 of 344) and badly (3 of 114): two would do so of normal errors alone, and half
of the gross ones do."""
GROSS_FACTOR: Final = 5.0
FILM_GROSS_SHARE: Final = 0.08
FILM_GROSS_FACTOR: Final = 3.0
_GRID = 61
_REACH = 4.0
_IMPOSSIBLE = 60.0
_NEGLIGIBLE = 30.0
_AT_ONCE = 8
_BOUNDLESS = 1e9


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What is known of each rep's true value, (n,) each."""

    value: FloatArray
    uncertainty: FloatArray
    probability_met: FloatArray


def posterior_of_reps(
    readings: FloatArray,
    own_error: FloatArray,
    common_error: float,
    calibration: Calibration,
    limit: float,
    relation: Relation,
) -> Posterior:
    """Infer the true values of all reps of a film.

    Parameters
    ----------
    readings
        (n,) calibrated readings, NaN where a rep could not be read.
    own_error
        (n,) standard deviation of each reading's own error.
    common_error
        Standard deviation of the error common to the film.
    calibration
        Tells what athletes typically do.
    limit, relation
        The standard.
    """
    typical = calibration.typical + calibration.typical_spread * _nodes()
    common = common_error * FILM_GROSS_FACTOR * np.sinh(_nodes()) / np.sinh(_REACH) * _REACH
    t, b = (grid.ravel() for grid in np.meshgrid(typical, common, indexing="ij"))
    log_weight = -0.5 * ((t - calibration.typical) / calibration.typical_spread) ** 2
    log_weight = log_weight + np.log(_long_tailed(b / common_error, FILM_GROSS_SHARE))
    unread = ~np.isfinite(readings)
    reps = _Reps(
        np.where(unread, calibration.typical, readings),
        np.where(unread, _BOUNDLESS, own_error),
    )
    film = _Film(t, b, log_weight)
    for some in _spread_over(len(readings)):
        weights = [part.weight for part in _parts(reps.of(some), film, calibration)]
        film = film.after(np.sum(weights, axis=0))
    film = film.without(_NEGLIGIBLE)
    grid_weight = np.exp(film.log_weight)
    grid_weight /= grid_weight.sum()
    value, uncertainty, met = np.empty((3, len(readings)))
    sign = 1.0 if relation == "at least" else -1.0
    for some in _spread_over(len(readings)):
        parts = list(_parts(reps.of(some), film, calibration))
        weight = grid_weight / (np.sum([part.weight for part in parts], axis=0) + 1e-300)
        shares = [part.weight * weight for part in parts]
        moments = [part.moments() for part in parts]
        centre, square, held = np.zeros((3, len(some)))
        for share, (mean, _) in zip(shares, moments, strict=True):
            centre += (share * mean).sum(axis=1)
        for share, (mean, deviation) in zip(shares, moments, strict=True):
            square += (share * (deviation**2 + (mean - centre[:, None]) ** 2)).sum(axis=1)
            held += (share * ndtr(sign * (mean - limit) / deviation)).sum(axis=1)
        value[some], uncertainty[some], met[some] = centre, np.sqrt(square), held
    return Posterior(value, uncertainty, np.clip(met, 0.0, 1.0))


class _Reps(NamedTuple):
    """Readings of some reps and their own errors, (reps,) each.

    A rep that was not read is one read with a boundless error.
    """

    reading: FloatArray
    own: FloatArray

    def of(self, some: IntArray) -> "_Reps":
        return _Reps(*(values[some] for values in self))


class _Film(NamedTuple):
    """What may be true of a film: typical value, common error and log of the weight, (cells,)."""

    typical: FloatArray
    common: FloatArray
    log_weight: FloatArray

    def after(self, likelihood: FloatArray) -> "_Film":
        """Weigh by what some reps have shown, (reps, cells), and drop what became impossible.

        No rep can speak for a cell by more than a few of the tens of powers of e that it is
        behind, and those still to come are spread over the film like those that have spoken.
        """
        log_weight = self.log_weight + np.log(likelihood + 1e-300).sum(axis=0)
        return self._replace(log_weight=log_weight).without(_IMPOSSIBLE)

    def without(self, behind: float) -> "_Film":
        """Leave out cells so many powers of e behind the best, whose weight becomes 1."""
        log_weight = self.log_weight - self.log_weight.max()
        kept = log_weight > -behind
        return _Film(self.typical[kept], self.common[kept], log_weight[kept])


def _spread_over(count: int) -> list[IntArray]:
    """Split the indices of reps into groups, each of them spread over the whole film."""
    groups = -(-count // _AT_ONCE)
    return [np.arange(first, count, groups) for first in range(groups)]


def _nodes() -> FloatArray:
    nodes: FloatArray = np.linspace(-_REACH, _REACH, _GRID)
    return nodes


def _long_tailed(z: FloatArray, gross: float) -> FloatArray:
    """Density of a normal error with a small share of gross ones, times the grid's spacing."""
    density = (1 - gross) * np.exp(-0.5 * z**2)
    density = density + gross / FILM_GROSS_FACTOR * np.exp(-0.5 * (z / FILM_GROSS_FACTOR) ** 2)
    spacing = np.sqrt(1 + (z * np.sinh(_REACH) / (FILM_GROSS_FACTOR * _REACH)) ** 2)
    weight: FloatArray = density * spacing
    return weight


class _Part(NamedTuple):
    """One component of reps given the film, (reps, cells), and what its moments follow from."""

    weight: FloatArray
    centre: FloatArray | float
    miss: FloatArray
    width: float
    variance: FloatArray
    total: FloatArray

    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Mean and deviation of the true value."""
        mean: FloatArray = self.centre + self.miss * (self.width**2 / self.total)
        return mean, self.width * np.sqrt(self.variance / self.total)


def _parts(reps: _Reps, film: _Film, calibration: Calibration) -> Iterator[_Part]:
    """Components of reps given the film: what they may be, times how they may be misread."""
    reading, own = (values[:, None] for values in reps)
    kinds: list[tuple[float, FloatArray | float, float, FloatArray | float]]
    errors = ((1 - GROSS_SHARE, own), (GROSS_SHARE, GROSS_FACTOR * own))
    kinds = [(1 - calibration.miss_share, film.typical, calibration.rep_spread, 0.0)]
    for share, centre, width in calibration.misses:
        further = (calibration.slope_error * (centre - film.typical)) ** 2
        kinds.append((calibration.miss_share * share, centre, width, further))
    off = reading - film.common
    for kind_share, middle, width, more in kinds:
        miss = off - middle
        half_square = -0.5 * miss**2
        for error_share, error in errors:
            variance = error**2 + more
            total = width**2 + variance
            weight = kind_share * error_share * (np.exp(half_square / total) / np.sqrt(total))
            yield _Part(weight, middle, miss, width, variance, total)
