"""A warm-up for the card: what, how many, with what weight, and how long before the start."""

from typing import Final

from counting.pacing.model.loads import load_of
from counting.pacing.search.course import Course
from counting.pacing.search.plan import plural
from counting.pacing.search.schemes import Limits

STEPS: Final = ((15, 0.4, 6), (11, 0.6, 4), (8, 0.8, 3), (5, 1.0, 2))
"""Minutes before the start, share of the load, reps (common practice, no source)."""

BODY_STEPS: Final = ((10, 5), (5, 3))
"""The same for movements without a bar."""

BODY_SHARE: Final = 0.3
"""Most of an unbroken set that a warm-up set asks for."""

PLATE_STEP_KG: Final = 2.5
"""Two plates of 1.25 kg (common practice, no source)."""


def warm_up_words(course: Course, limits: Limits) -> list[str]:
    """Tell the warm-up minute by minute; the last five minutes are for breath and chalk.

    It goes up to the heaviest load of a workout; to the first one where the load is the score.
    """
    minutes: dict[int, list[str]] = {20: ["5 minutes of easy movement, joints and shoulders"]}
    heaviest: dict[str, float] = {}
    for movement, load_kg in course.kinds:
        if load_of(movement).usual_kg is not None and load_kg is not None:
            before_kg = heaviest.get(movement, load_kg)
            heaviest[movement] = (min if course.one_try else max)(before_kg, load_kg)
    for movement in course.movements:
        if movement in heaviest:
            for minute, share, reps in STEPS:
                full_kg = heaviest[movement]
                lighter_kg = PLATE_STEP_KG * round(share * full_kg / PLATE_STEP_KG)
                kg = full_kg if share == 1.0 else lighter_kg
                minutes.setdefault(minute, []).append(
                    f"{reps} {plural(movement, reps)} with {kg:g} kg"
                )
        else:
            able = min(limits.able[kind] for kind in course.kinds if kind[0] == movement)
            for minute, most in BODY_STEPS:
                reps = max(1, min(most, int(BODY_SHARE * able)))
                minutes.setdefault(minute, []).append(f"{reps} {plural(movement, reps)}")
    minutes[3] = ["chalk, breathe, look once more at the first round"]
    return [
        f"{minute} min before: {', '.join(items)}"
        for minute, items in sorted(minutes.items())[::-1]
    ]
