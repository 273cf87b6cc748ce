"""True values of the reps of one film, from readings that share an error.

    reading = true value + error common to the film + own error of the rep

Before looking, a rep is as likely as not done as asked: then each true value is where bodies end
that do what is asked (a straight leg is a straight leg with everybody), and else it is anything
that bodies show. No other share of faults is presumed, and what the film's other reps do says
nothing of this one: each rep is inferred alone, so equal readings are equal verdicts, and who
always does the same wrong gains nothing by it.

The common error (this body, this camera, these clothes) raises or lowers all reps of a film
together: who always stops short looks like one whom the camera shows so, and only the size of
that error, learnt on films of other bodies, tells them apart. It hides in the count, too: all reps
of a film may be good together or bad together. So what is known of each rep is kept for each size
that the common error may have (`Posterior.given_film`).

Both errors have the long tails of Student's t: now and then a film or a frame is misread. The
posterior is summed over a grid of true values and cases of the common error (JCGM 106:2012, 6.2).
"""

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from counting.body.skeleton import FloatArray
from counting.decision.conformance import UNDECIDED, Relation
from counting.decision.normal import NORMAL_95

COMMON_FREEDOM: Final = 15.0
"""Degrees of freedom of the error common to a film."""
OWN_FREEDOM: Final = 8.0
"""Degrees of freedom of the error of a rep. Films and frames that are misread show it by features
that do not go together and are given larger errors; tails of the rest are little longer than
normal."""
CASES: Final = 80
"""Equally likely cases of the common error over which is summed."""

_CELLS: Final = 300
"""Cells that the range of true values is divided into."""
_AS_ASKED: Final = 0.5
"""Share of reps that meet all checks, before looking: an even bet."""
_BEYOND: Final = 2.0
"""A reading that lies further beyond anything labelled than so many of its errors is no reading: it
comes from a posture that was never filmed, such as a chest far over the bar and behind it."""
_TAIL: Final = 0.025
"""On either side of the interval that is stated: it holds 95 %."""
_AT_ONCE: Final = 16
"""Reps worked out together: memory, not the result, depends on it."""


@dataclass(frozen=True, slots=True)
class TrueValues:
    """What true values there are, before looking.

    Attributes
    ----------
    usual, usual_spread
        Where bodies end that do what is asked, and the standard deviation over films.
    lowest, highest
        The range of anything else.
    """

    usual: float
    usual_spread: float
    lowest: float
    highest: float

    def grid(self, limit: float, usual_share: float) -> tuple[FloatArray, FloatArray]:
        """Values and their shares, (cells,) each, with the limit between two cells."""
        low = min(self.lowest, self.usual - 4 * self.usual_spread, limit)
        high = max(self.highest, self.usual + 4 * self.usual_spread, limit)
        step = (high - low) / _CELLS
        cells = int(np.ceil((limit - low) / step)), int(np.ceil((high - limit) / step))
        values = np.asarray(limit + step * (np.arange(-cells[0], cells[1]) + 0.5), np.float64)
        usual = np.exp(-0.5 * ((values - self.usual) / self.usual_spread) ** 2)
        anything = ((values >= self.lowest) & (values <= self.highest)).astype(np.float64)
        shares = usual_share * usual / usual.sum()
        shares += (1.0 - usual_share) * anything / max(anything.sum(), 1.0)
        return values, shares


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What is known of each rep's true value.

    Attributes
    ----------
    value
        (n,) middle of the interval that holds 95 % of the true values that remain, 2.5 % on
        either side of it; NaN where nothing was read.
    uncertainty
        (n,) standard uncertainty: that interval reaches 1.96 of it to both sides. It comes from
        the same distribution as ``probability_met``.
    probability_met
        (n,) probability that the limit is met; a half where nothing was read.
    given_film
        (cases, n) the same for each of the equally likely cases of the common error; for reps of
        which nothing was read `unread_share`.
    reading, own_error, film_error
        (n,) what was inferred from: the calibrated readings, and the scales of each one's own error
        and of the film's, before anything that people's calls say of them.
    true, share
        (cells,) possible true values, and (n, cells) how much of each rep's lie there.
    """

    value: FloatArray
    uncertainty: FloatArray
    probability_met: FloatArray
    given_film: FloatArray
    reading: FloatArray
    own_error: FloatArray
    film_error: FloatArray
    true: FloatArray
    share: FloatArray

    def interval(self, index: int, tails: tuple[float, float]) -> tuple[float, float]:
        """Give the values below which these shares of one rep's true values lie."""
        low, high = _interval(self.share[index : index + 1], self.true, tails)
        return float(low[0]), float(high[0])


@dataclass(frozen=True, slots=True)
class FilmError:
    """What people's calls say of the error common to a film.

    Attributes
    ----------
    offset
        By how much readings are too high, in their unit.
    size
        Its scale about that offset, over the one learnt on labelled films.
    """

    offset: float = 0.0
    size: float = 1.0


AS_LABELLED: Final = FilmError()


def posterior_of_reps(
    readings: FloatArray,
    own_error: FloatArray,
    common_error: FloatArray,
    before: TrueValues,
    limit: float,
    relation: Relation,
    column: int = 0,
    checks: int = 1,
    tuned: FilmError = AS_LABELLED,
) -> Posterior:
    """Infer the true values of all reps of a film.

    Parameters
    ----------
    readings
        (n,) calibrated readings, NaN where a rep could not be read.
    own_error, common_error
        (n,) scale of each reading's own error, and of the film's as it shows in each reading.
    before
        What true values there are.
    limit, relation
        The standard.
    column
        Number of the check: errors of two checks of a film are independent of each other.
    checks
        How many checks a rep has to meet: the more, the likelier is each before looking.
    tuned
        What people's calls say of the film's error.
    """
    n = len(readings)
    errors = tuned.offset + tuned.size * common_error[:, None] * _errors()
    value, uncertainty = np.full((2, n), np.nan)
    met = np.full(n, UNDECIDED)
    given = np.full((CASES, n), UNDECIDED)
    cases = np.zeros(CASES)
    true, share, meets = _before(before, limit, relation, checks)
    shares = np.full((n, len(true)), np.nan)
    beyond = np.maximum(true[0] - readings, readings - true[-1])
    error = np.hypot(own_error, tuned.size * common_error)
    readings = np.where(beyond > _BEYOND * error, np.nan, readings)
    read = np.flatnonzero(np.isfinite(readings))
    for some in np.array_split(read, -(-len(read) // _AT_ONCE) or 1):
        if not len(some):
            continue
        weight = _weights(readings[some], own_error[some], errors[some], true, share)
        of_case = weight.sum(axis=1)
        given[:, some] = (weight[:, meets].sum(axis=1) / of_case).T
        whole = of_case.sum(axis=1, keepdims=True)
        cases += (of_case / whole).sum(axis=0)
        of_value = weight.sum(axis=2) / whole
        met[some] = of_value[:, meets].sum(axis=1)
        shares[some] = of_value
        low, high = _interval(of_value, true, (_TAIL, 1 - _TAIL))
        value[some], uncertainty[some] = (low + high) / 2, (high - low) / (2 * NORMAL_95)
    met = np.clip(met, 0.0, 1.0)
    given = given[_drawn(cases, column)]
    given[:, ~np.isfinite(readings)] = unread_share(column)[:, None]
    return Posterior(
        value, uncertainty, met, given, readings, own_error, common_error, true, shares
    )


def met_given_error(
    readings: FloatArray,
    own_error: FloatArray,
    errors: FloatArray,
    before: TrueValues,
    limit: float,
    relation: Relation,
    checks: int,
) -> FloatArray:
    """Probability that each rep meets a limit if the film's error were known.

    Parameters
    ----------
    readings, own_error
        (n,) readings, none of them NaN, and the scale of each one's own error.
    errors
        (cases,) what the film's error may be.
    before, limit, relation, checks
        As `posterior_of_reps`.

    Returns
    -------
    ndarray
        (n, cases).
    """
    true, share, meets = _before(before, limit, relation, checks)
    met = np.empty((len(readings), len(errors)))
    for row in range(len(readings)):
        one = slice(row, row + 1)
        weight = _weights(readings[one], own_error[one], errors[None], true, share)[0]
        met[row] = weight[meets].sum(axis=0) / weight.sum(axis=0)
    return met


def _before(
    before: TrueValues, limit: float, relation: Relation, checks: int
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Lay out true values, their shares, and which of them meet the limit, (cells,) each."""
    true, share = before.grid(limit, _AS_ASKED ** (1.0 / max(checks, 1)))
    return true, share, true >= limit if relation == "at least" else true <= limit


def _weights(
    readings: FloatArray,
    own_error: FloatArray,
    errors: FloatArray,
    true: FloatArray,
    share: FloatArray,
) -> FloatArray:
    """Weigh each true value and each case of the film's error by a rep's reading.

    ``errors`` are (n, cases); returns (n, cells, cases).
    """
    off = (readings[:, None] - true)[:, :, None] - errors[:, None, :]
    weight: FloatArray = share[:, None] * _density(off / own_error[:, None, None], OWN_FREEDOM)
    return weight


def unread_share(column: int) -> FloatArray:
    """(cases,) shares of reps that meet a check which was not read, all equally likely.

    Each rep alone is an even bet. But who locks out one rep out of sight most likely locks out the
    others, too: any share of them is as likely as any other (Bayes 1763), not about half.
    """
    shares: FloatArray = (np.arange(CASES) + 0.5) / CASES
    return np.random.default_rng([column, 1]).permutation(shares)


@cache
def _errors() -> FloatArray:
    """(cases,) equally likely common errors of scale one: midpoints of equal shares."""
    errors: FloatArray = stdtrit(COMMON_FREEDOM, (np.arange(CASES) + 0.5) / CASES)
    return errors


def _density(z: FloatArray, freedom: float) -> FloatArray:
    """Density of Student's t, but for a constant."""
    density: FloatArray = (1.0 + z * z / freedom) ** (-0.5 * (freedom + 1.0))
    return density


def _interval(
    share: FloatArray, true: FloatArray, tails: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Find the ends (n,) of what lies between the tails of (n, cells) shares."""
    passed = np.cumsum(share, axis=1)
    rows = np.arange(len(share))
    step = true[1] - true[0]
    ends = []
    for tail in tails:
        cell = np.minimum((passed < tail).sum(axis=1), len(true) - 1)
        inside = share[rows, cell]
        part = (tail - passed[rows, cell] + inside) / np.maximum(inside, 1e-300)
        ends.append(true[cell] + step * (np.clip(part, 0.0, 1.0) - 0.5))
    return ends[0], ends[1]


def _drawn(cases: FloatArray, column: int) -> npt.NDArray[np.int64]:
    """Cases in proportion to their weight, in another order for each column.

    So no two checks' errors rise together.
    """
    total = float(cases.sum())
    passed = np.cumsum(cases) / total if total > 0 else (np.arange(CASES) + 1.0) / CASES
    drawn = np.searchsorted(passed, (np.arange(CASES) + 0.5) / CASES).clip(0, CASES - 1)
    order: npt.NDArray[np.int64] = drawn[np.random.default_rng(column).permutation(CASES)]
    return order
