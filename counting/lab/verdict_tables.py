"""How far verdicts can be trusted: the figures of merit of judged reps against the truth."""

import math
from collections.abc import Mapping, Sequence
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

CLEAR_MARGIN: Final = {"cm": 5.0, "deg": 12.0}
WIDE_MARGIN: Final = {"cm": 8.0, "deg": 20.0}
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
    covered = [c for c in readable if abs(c.value - c.true_value) <= 1.96 * c.uncertainty]
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


def verdict_report(reps: Sequence[JudgedRep]) -> str:
    """Tables as text: all verdicts, each movement, reliability, and each quantity by view."""
    parts = [_overall(verdict_figures(reps)), _by_movement(reps), _reliability(reps)]
    parts.append(_quantities(reps))
    return "\n\n".join(parts) + "\n"


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


def _by_movement(reps: Sequence[JudgedRep]) -> str:
    lines = ["Truth against verdict (good and bad reps: called good/close/only counted/no-rep)"]
    for movement in sorted({r.movement for r in reps}):
        cells = []
        for truth in (True, False):
            chosen = [r for r in reps if r.movement == movement and r.truly_good is truth]
            cells.append(
                "/".join(
                    str(sum(r.verdict == v for r in chosen))
                    for v in ("good", "too close", "only counted", "no-rep")
                )
            )
        lines.append(f"  {movement:<24}{cells[0]:>14}{cells[1]:>14}")
    return "\n".join(lines)


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
            held = np.mean([abs(c.value - c.true_value) <= 1.96 * c.uncertainty for c in pairs])
            lines.append(
                f"  {quantity:<28}{view:<9}{b.n:>5}{b.bias:>8.1f}{b.sd:>7.1f}"
                f"{f'{b.lower:.1f} to {b.upper:.1f}':>18}{100 * held:>6.0f}%"
            )
    return "\n".join(lines)
