"""What differs from one attempt to the next."""

from dataclasses import dataclass, replace

import numpy as np

from counting.pacing.model.athlete import Athletes


@dataclass(frozen=True)
class Noise:
    """What differs from one attempt to the next: rhythm, rests, and the athlete's form of the day.

    ``scale`` multiplies all; 0 plays the plan without any chance, failures included.
    """

    scale: float = 1.0
    form_of_day: float = 0.05


def on_the_day(athletes: Athletes, random: np.random.Generator, spread: float) -> Athletes:
    """Shift every athlete's capacity by a form of the day of a spread (log scale)."""
    if spread == 0:
        return athletes
    form = np.exp(spread * random.standard_normal(len(athletes)))
    return replace(
        athletes,
        unbroken=athletes.unbroken * form[:, None],
        whole_work_s=athletes.whole_work_s * form,
        cycle_s=athletes.cycle_s / form[:, None] ** 0.3,
    )
