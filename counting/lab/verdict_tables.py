"""How far verdicts can be trusted: the figures of merit of judged reps against the truth."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.decision.agreement import (
    bland_altman,
    cohen_kappa,
    expected_calibration_error,
    reliability,
    wilson_interval,
)
from counting.decision.combination import RepState
from counting.decision.normal import NORMAL_95

CLEAR_MARGIN: Final = {"cm": 5.0, "deg": 12.0}
WIDE_MARGIN: Final = {"cm": 8.0, "deg": 20.0}
"""Beyond the limit: what an eye beside the athlete calls without doubt, and what a film has to
decide (chosen, not measured)."""
VIEWS: Final = (("front", 0.0, 20.0), ("oblique", 20.0, 65.0), ("side", 65.0, 115.0),
                ("rear", 115.0, 180.1))  # fmt: skip


@dataclass(frozen=True, slots=True)
class JudgedCheck:
    """One check on one rep beside its true value.

    ``value`` and ``uncertainty`` are NaN where nothing could be read; ``true_margin`` is positive
    where the standard is met; ``probability_met`` is what was stated of it.
    """

    quantity: str
    unit: str
    value: float
    uncertainty: float
    true_value: float
    true_margin: float
    probability_met: float


@dataclass(frozen=True, slots=True)
class JudgedRep:
    """One judged rep beside the truth.

    ``view_suits`` says whether the film's view is one from which the movement can be judged.
    """

    film: str
    movement: str
    view_deg: float
    verdict: RepState
    probability_good: float
    truly_good: bool
    checks: tuple[JudgedCheck, ...]
    view_suits: bool = True

    def beyond(self, margins: Mapping[str, float]) -> bool:
        """Whether the truth is further than these margins, by unit, from the other verdict.

        A good rep is as clear as its closest check, a bad one as its worst.
        """
        shares = [c.true_margin / margins[c.unit] for c in self.checks]
        closest = min(shares, default=math.inf)
        return closest > 1 if self.truly_good else closest < -1


@dataclass(frozen=True, slots=True)
class JudgedFilm:
    """One judged film beside the truth.

    Attributes
    ----------
    name, movement
        The film, and what is done.
    true_reps, true_good
        How many reps it truly has, and how many of them meet the standard.
    found
        How many reps were found.
    distribution
        ``distribution[k]`` is the stated probability that exactly k reps stand.
    reps
        Reps found that are truly there.
    """

    name: str
    movement: str
    true_reps: int
    true_good: int
    found: int
    distribution: tuple[float, ...]
    reps: tuple[JudgedRep, ...]

    @property
    def faults(self) -> str:
        """Share of its reps that truly fall short, in words."""
        short = 1.0 - self.true_good / self.true_reps if self.true_reps else 0.0
        if short in (0.0, 1.0):
            return "none short" if short == 0.0 else "every rep short"
        return "most short" if short >= 0.5 else "some short"

    def count_held(self, coverage: float) -> float:
        """Whether the interval of the count holds the true number of good reps, 0 or 1.

        A count is a whole number: the likeliest counts are taken until they hold ``coverage``, and
        the last one taken counts for the part of it that is needed.
        """
        taken = 0.0
        for k in np.argsort(self.distribution)[::-1]:
            share = self.distribution[k]
            needed = min(1.0, (coverage - taken) / share) if share > 0 else 0.0
            if k == self.true_good:
                return max(needed, 0.0)
            taken += share
        return 0.0


@dataclass(frozen=True, slots=True)
class VerdictFigures:
    """Shares of wrong and undecided verdicts, each as (count, of how many)."""

    false_good: tuple[int, int]
    false_no_rep: tuple[int, int]
    wrong_though_clear: tuple[int, int]
    too_close: tuple[int, int]
    too_close_though_wide: tuple[int, int]
    covered: tuple[int, int]
    calibration_error: float
    kappa: float
    agreement: float
    good_share: float


def verdict_figures(reps: Sequence[JudgedRep]) -> VerdictFigures:
    """Count wrong, undecided and covered verdicts.

    Notes
    -----
    Coverage is the share of readable checks whose 95 % interval (value -+ 1.96 uncertainty) holds
    the true value. Kappa compares definite verdicts with the truth.
    """
    false_good = [r for r in reps if r.verdict == "good" and not r.truly_good]
    false_no_rep = [r for r in reps if r.verdict == "no-rep" and r.truly_good]
    clear = [r for r in reps if r.beyond(CLEAR_MARGIN)]
    wide = [r for r in reps if r.beyond(WIDE_MARGIN) and r.view_suits]
    readable = [c for r in reps for c in r.checks if math.isfinite(c.value)]
    covered = [c for c in readable if abs(c.value - c.true_value) <= NORMAL_95 * c.uncertainty]
    definite = [r for r in reps if r.verdict in ("good", "no-rep")]
    table = np.zeros((2, 2))
    for rep in definite:
        table[int(rep.truly_good), int(rep.verdict == "good")] += 1
    kappa = cohen_kappa(table)
    wrong = [r for r in clear if r in false_good or r in false_no_rep]
    return VerdictFigures(
        false_good=(len(false_good), len(reps)),
        false_no_rep=(len(false_no_rep), len(reps)),
        wrong_though_clear=(len(wrong), len(clear)),
        too_close=(len(reps) - len(definite), len(reps)),
        too_close_though_wide=(sum(r.verdict == "too close" for r in wide), len(wide)),
        covered=(len(covered), len(readable)),
        calibration_error=expected_calibration_error(
            [r.probability_good for r in reps], [r.truly_good for r in reps]
        ),
        kappa=kappa.kappa,
        agreement=kappa.observed,
        good_share=sum(r.truly_good for r in reps) / len(reps) if reps else math.nan,
    )


FAULTS: Final = ("every rep short", "most short", "some short", "none short")


def verdict_report(films: Sequence[JudgedFilm]) -> str:
    """Tables as text.

    All verdicts, then by share of faults, margin, movement and view, counts, reliability, and each
    quantity by view.
    """
    reps = [rep for film in films for rep in film.reps]
    groups: list[tuple[str, list[JudgedRep]]] = [("all", reps)]
    groups += [(name, [r for f in films if f.faults == name for r in f.reps]) for name in FAULTS]
    groups += [(f"margin {name}", [r for r in reps if holds(r)]) for name, holds in _MARGINS]
    groups += [
        (m, [r for r in reps if r.movement == m]) for m in sorted({r.movement for r in reps})
    ]
    groups += [(name, [r for r in reps if low <= r.view_deg < high]) for name, low, high in VIEWS]
    lines = ["Verdicts on reps found", _GROUP_HEAD]
    lines += [_group(name, some) for name, some in groups if some]
    parts = ["\n".join(lines), _overall(verdict_figures(reps)), counts_report(films)]
    return "\n\n".join([*parts, _reliability(reps), _quantities(reps)]) + "\n"


_MARGINS: Final[tuple[tuple[str, Callable[[JudgedRep], bool]], ...]] = (
    ("missed by > 5 cm, 12 deg", lambda r: not r.truly_good and r.beyond(CLEAR_MARGIN)),
    ("missed by less", lambda r: not r.truly_good and not r.beyond(CLEAR_MARGIN)),
    ("met", lambda r: r.truly_good),
)

_GROUP_HEAD: Final = (
    f"  {'':<32}{'reps':>5}{'bad':>5}{'called good':>13}{'refused':>9}{'good refused':>14}"
    f"{'too close':>11}{'held':>6}{'calibration':>13}"
)


def _group(name: str, reps: Sequence[JudgedRep]) -> str:
    """One line: bad reps called good and refused, good reps refused, all reps too close.

    Then how many 95 % intervals hold the truth, and the calibration error of `probability_good`.
    """
    f = verdict_figures(reps)
    bad = [r for r in reps if not r.truly_good]
    refused = sum(r.verdict == "no-rep" for r in bad)
    held, of = f.covered
    return (
        f"  {name:<32}{len(reps):>5}{len(bad):>5}{f.false_good[0]:>13}{refused:>9}"
        f"{f.false_no_rep[0]:>14}{f.too_close[0]:>5}{100 * f.too_close[0] / len(reps):>4.0f} %"
        f"{100 * held / of if of else math.nan:>5.0f}%{f.calibration_error:>13.3f}"
    )


def counts_report(films: Sequence[JudgedFilm]) -> str:
    """How often the stated 90 % interval of the count holds the true number of good reps."""
    lines = ["90 % interval of the count of good reps"]
    groups = [("all", list(films))]
    groups += [(name, [f for f in films if f.faults == name]) for name in FAULTS]
    for name, some in groups:
        if some:
            held = 100 * float(np.mean([film.count_held(0.9) for film in some]))
            lines.append(f"  {name:<32}{len(some):>5} films{held:>7.0f} % hold it")
    return "\n".join(lines)


def _share(pair: tuple[int, int]) -> str:
    hits, of = pair
    if not of:
        return "none"
    low, high = wilson_interval(hits, of)
    return f"{hits} of {of} ({100 * hits / of:.1f} %, 95 % {100 * low:.1f} to {100 * high:.1f})"


def _overall(f: VerdictFigures) -> str:
    rows = [
        ("false good (consumer's risk)", _share(f.false_good)),
        ("false no-rep (producer's risk)", _share(f.false_no_rep)),
        ("wrong beyond 5 cm or 12 deg", _share(f.wrong_though_clear)),
        ("too close", _share(f.too_close)),
        ("too close beyond 8 cm or 20 deg", _share(f.too_close_though_wide)),
        ("95 % intervals that hold the truth", _share(f.covered)),
        ("calibration error of probability_good", f"{f.calibration_error:.3f}"),
        ("kappa, raw agreement, share of good reps",
         f"{f.kappa:.2f}, {f.agreement:.3f}, {f.good_share:.3f}"),
    ]  # fmt: skip
    return "Verdicts\n" + "\n".join(f"  {name:<42}{value}" for name, value in rows)


def _reliability(reps: Sequence[JudgedRep]) -> str:
    """Draw the reliability diagram in text: stated beside observed, a mark a rep share."""
    lines = ["Reliability of probability_good", "  stated      n   observed"]
    rows = reliability([r.probability_good for r in reps], [r.truly_good for r in reps])
    for row in rows:
        bar = "#" * round(40 * row.observed)
        lines.append(f"  {row.stated:6.3f} {row.n:6d}   {row.observed:6.3f} |{bar:<40}|")
    return "\n".join(lines)


def _quantities(reps: Sequence[JudgedRep]) -> str:
    lines = [
        "Readings minus truth, by view (limits of agreement after Bland and Altman 1986)",
        f"  {'quantity':<28}{'view':<9}{'n':>5}{'bias':>8}{'SD':>7}{'limits':>18}{'held':>7}",
    ]
    for quantity in sorted({c.quantity for r in reps for c in r.checks}):
        for view, low, high in VIEWS:
            pairs = [
                c
                for r in reps
                if low <= r.view_deg < high
                for c in r.checks
                if c.quantity == quantity and math.isfinite(c.value)
            ]
            if len(pairs) < 2:
                continue
            b = bland_altman([c.value for c in pairs], [c.true_value for c in pairs])
            held = np.mean(
                [abs(c.value - c.true_value) <= NORMAL_95 * c.uncertainty for c in pairs]
            )
            lines.append(
                f"  {quantity:<28}{view:<9}{b.n:>5}{b.bias:>8.1f}{b.sd:>7.1f}"
                f"{f'{b.lower:.1f} to {b.upper:.1f}':>18}{100 * held:>6.0f}%"
            )
    return "\n".join(lines)
