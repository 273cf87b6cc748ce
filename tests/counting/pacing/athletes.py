"""An athlete of whom nothing but some unbroken sets is told."""

from dataclasses import replace

import numpy as np

from counting.pacing.model.athlete import Athletes, Form, athletes_at, space_for


def usual_athlete(movements: tuple[str, ...], form: Form, **unbroken: float) -> Athletes:
    """Make one usual athlete.

    Unbroken sets of movements given by name, blanks written as underscores, replace the usual.
    """
    space = space_for(movements)
    athlete = athletes_at(space, np.zeros((1, space.size)), form)
    sets = athlete.unbroken.copy()
    for name, reps in unbroken.items():
        wanted = name.replace("_", " ")
        column = next(
            i for i, load in enumerate(space.loads) if load.movement.replace("-", " ") == wanted
        )
        sets[:, column] = reps
    return replace(athlete, unbroken=sets)
