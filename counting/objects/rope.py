"""How often the rope passes under the feet in a jump, by its sound on the floor.

A rope that passes under the feet clicks on the floor; feet that land thud. Where the rope is heard
well in the film's jumps, one that is not heard did not pass; how well it is heard, and how often
something else sounds like it, the film's own jumps and the time beside them tell.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.special import ndtr

from counting.movements.types import ObjectCheck
from counting.objects.readings import Counted, Found, Unseen
from counting.reps.types import Rep
from vision.sound.clicks import RISE_DB, Click

_SLOWER: Final = 1.5
"""How much longer than usual a jump lasts at most: what lies between two that are farther apart is
none of either's."""
_AROUND_S: Final = 5.0
"""Before and after the jumps, in which other clicks are counted (chosen, not measured)."""
_FEWEST: Final = 5
"""Jumps in a row from which the rope's sound can be learnt (chosen, not measured)."""
_HEARD_IN: Final = 0.6
"""Share of a film's jumps in which the rope is heard at least, where it is heard at all."""
_LEAST_SPREAD_DB: Final = 4.0
"""Passes differ in loudness by more than those that are heard do: the quiet ones are not among
them. With 2 dB, 6 % of doubles were refused on made sound with the rope 18 dB over the noise."""
_NEVER: Final = 1e-3
"""Least probability that a pass is not heard, or that something else is: more jumps than a film
holds would have to tell of rarer ones."""


def rope_passes(clicks: Sequence[Click], reps: Sequence[Rep], check: ObjectCheck) -> list[Found]:
    """Count the rope's passes in each jump.

    Parameters
    ----------
    clicks
        Short sounds of the film.
    reps
        Jumps, whose turning phase is in the air.
    check
        What is asked of them.
    """
    ticks = [click for click in clicks if click.bright]
    jumps = _jumps(reps)
    heard = [[tick for tick in ticks if start <= tick.time_s < end] for start, end in jumps]
    share = np.mean([bool(own) for own in heard])
    if len(jumps) < _FEWEST or share < _HEARD_IN:
        return [Unseen("the rope was not heard") for _ in reps]
    missed = _missed([tick for own in heard for tick in own])
    other = _others(ticks, jumps)
    return [
        Counted(rep.turn_s, len(own), _enough(len(own), jump, missed, other, check))
        for rep, own, jump in zip(reps, heard, jumps, strict=True)
    ]


def _jumps(reps: Sequence[Rep]) -> list[tuple[float, float]]:
    """From when to when a pass is one of each jump: from floor to floor, its middle in the air."""
    middles = [_middle_s(rep) for rep in reps]
    usual_s = float(np.median([rep.end_s - rep.start_s for rep in reps]))
    halves = [min(later - earlier, usual_s * _SLOWER) / 2 for earlier, later in pairwise(middles)]
    before, after = [usual_s / 2, *halves], [*halves, usual_s / 2]
    return [
        (middle - earlier, middle + later)
        for middle, earlier, later in zip(middles, before, after, strict=True)
    ]


def _middle_s(rep: Rep) -> float:
    for phase in rep.phases:
        if phase.first_s is not None and phase.last_s is not None:
            return (phase.first_s + phase.last_s) / 2
    return rep.turn_s


def _missed(heard: Sequence[Click]) -> float:
    """Probability that a pass is too quiet to be heard, by how loud those are that were."""
    rises = np.array([click.rise_db for click in heard])
    spread = max(_LEAST_SPREAD_DB, 1.4826 * float(np.median(np.abs(rises - np.median(rises)))))
    return max(_NEVER, float(ndtr((RISE_DB - np.median(rises)) / spread)))


def _others(ticks: Sequence[Click], jumps: Sequence[tuple[float, float]]) -> float:
    """How many clicks a second are heard beside the jumps, just before, between and after them."""
    start_s, end_s = jumps[0][0] - _AROUND_S, jumps[-1][1] + _AROUND_S
    apart = [
        tick
        for tick in ticks
        if start_s <= tick.time_s < end_s
        and not any(start <= tick.time_s < end for start, end in jumps)
    ]
    beside_s = end_s - start_s - sum(end - start for start, end in jumps)
    return len(apart) / max(beside_s, 1.0)


def _enough(
    heard: int, jump: tuple[float, float], missed: float, other: float, check: ObjectCheck
) -> float:
    """Probability that a jump has as many passes as are asked.

    With even odds of a jump with enough passes and one with a pass too few, and passes heard with
    ``1 - missed`` and other sounds at a rate of ``other`` (Poisson).
    """
    asked = round(check.limit)
    false = max(_NEVER, 1.0 - float(np.exp(-other * (jump[1] - jump[0]))))
    short = asked - heard if check.relation == "at least" else heard - asked
    unlikely = (missed if check.relation == "at least" else false) ** max(short, 0)
    doubt = false if check.relation == "at least" else missed
    if short > 0:
        return float(unlikely / (1.0 + unlikely))
    return 1.0 / (1.0 + doubt)
