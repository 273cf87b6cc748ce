"""What differs from one attempt to the next."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes

PACE_OF_FORM: Final = 0.3
OWN_PACE: Final = 0.6
"""How far pace follows the form of the day, and the spread of its own part against the form's
(common practice, no source)."""


@dataclass(frozen=True)
class Noise:
    """What differs from one attempt to the next: rhythm, rests, and the athlete's form of the day.

    ``scale`` multiplies all; 0 plays the plan without any chance, failures included.
    """

    scale: float = 1.0
    form_of_day: float = 0.05


def on_the_day(athletes: Athletes, random: np.random.Generator, spread: float) -> Athletes:
    """Shift every athlete's capacity by a form of the day of a spread (log scale).

    Pace follows the form a little, and has a part of its own: the rhythm of a day.
    """
    if spread == 0:
        return athletes
    pace = np.exp(OWN_PACE * spread * random.standard_normal(len(athletes)))
    form = np.exp(spread * random.standard_normal(len(athletes)))
    return replace(
        athletes,
        unbroken=athletes.unbroken * form[:, None],
        whole_work_s=athletes.whole_work_s * form,
        cycle_s=athletes.cycle_s * pace[:, None] / form[:, None] ** PACE_OF_FORM,
    )
