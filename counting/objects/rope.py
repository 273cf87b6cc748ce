"""How often the rope passes under the feet in a jump, by its sound on the floor.

A rope that passes under the feet strikes the floor while they are off it, or just before. Where
the rope is heard well in the film's jumps, one that is not heard did not pass; how well it is
heard, and how often something else sounds like it, the film's own jumps and the time between them
tell.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.special import ndtr

from counting.movements.types import ObjectCheck
from counting.objects.readings import Counted, Found, Unseen
from counting.reps.types import Rep
from vision.sound.clicks import RISE_DB, Click

_LEAD_S: Final = 0.04
"""The rope strikes the floor before the feet when it comes down ahead of them, and a phone's sound
is within this of its pictures (common practice, no source)."""
_LANDING_S: Final = (0.06, 0.1)
"""Before and after the body is seen to land: shoes click on the floor, too."""
_FEWEST: Final = 5
_HEARD_IN: Final = 0.6
"""Share of a film's jumps in which the rope is heard at least, where it is heard at all."""
_LEAST_SPREAD_DB: Final = 2.0
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
    airs = [_air(rep) for rep in reps]
    heard = [
        [click for click in clicks if air is not None and air[0] <= click.time_s <= air[1]]
        for air in airs
    ]
    jumps = [own for own, air in zip(heard, airs, strict=True) if air is not None]
    share = np.mean([bool(own) for own in jumps]) if jumps else 0.0
    if len(jumps) < _FEWEST or share < _HEARD_IN:
        return [Unseen("the rope was not heard") for _ in reps]
    missed = _missed([click for own in jumps for click in own])
    other = _others(clicks, reps, airs)
    return [
        Unseen("the jump was not seen")
        if air is None
        else Counted(rep.turn_s, len(own), _enough(len(own), air, missed, other, check))
        for rep, own, air in zip(reps, heard, airs, strict=True)
    ]


def _air(rep: Rep) -> tuple[float, float] | None:
    for phase in rep.phases:
        if phase.first_s is not None and phase.last_s is not None:
            return phase.first_s - _LEAD_S, phase.last_s - _LANDING_S[0]
    return None


def _missed(heard: Sequence[Click]) -> float:
    """Probability that a pass is too quiet to be heard, by how loud those are that were."""
    rises = np.array([click.rise_db for click in heard])
    spread = max(_LEAST_SPREAD_DB, 1.4826 * float(np.median(np.abs(rises - np.median(rises)))))
    return max(_NEVER, float(ndtr((RISE_DB - np.median(rises)) / spread)))


def _others(
    clicks: Sequence[Click], reps: Sequence[Rep], airs: Sequence[tuple[float, float] | None]
) -> float:
    """How many clicks a second are heard that are neither in a jump nor its landing."""
    known = [air for air in airs if air is not None]
    start_s, end_s = reps[0].start_s, reps[-1].end_s
    landing_s = sum(_LANDING_S)
    taken = sum(min(end, end_s) + landing_s - start for start, end in known)
    apart = [
        click
        for click in clicks
        if start_s <= click.time_s <= end_s
        and not any(start <= click.time_s <= end + landing_s for start, end in known)
    ]
    return len(apart) / max(end_s - start_s - taken, 1.0)


def _enough(
    heard: int, air: tuple[float, float], missed: float, other: float, check: ObjectCheck
) -> float:
    """Probability that a jump has as many passes as are asked.

    With even odds of a jump with enough passes and one with a pass too few, and passes heard with
    ``1 - missed`` and other sounds at a rate of ``other`` (Poisson).
    """
    asked = round(check.limit)
    false = max(_NEVER, 1.0 - float(np.exp(-other * (air[1] - air[0]))))
    short = asked - heard if check.relation == "at least" else heard - asked
    unlikely = (missed if check.relation == "at least" else false) ** max(short, 0)
    doubt = false if check.relation == "at least" else missed
    if short > 0:
        return float(unlikely / (1.0 + unlikely))
    return 1.0 / (1.0 + doubt)
