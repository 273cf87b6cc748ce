"""Make the plan that the kept pages show: ``python -m tests.cli.pages.plan``."""

from pathlib import Path

import msgspec

from counting.pacing.card.writing import document_of
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import unbroken_sets
from counting.pacing.search.advice import Target, advise
from counting.pacing.search.course import Course, Station

PLAN = Path(__file__).parent / "plan.json"


def main() -> None:
    """Advise on an invented workout. The file is kept, so that pages do not hang on arithmetic."""
    stations = (
        Station("thruster", 9, 1, 1, 1),
        Station("chest-to-bar pull-up", 6, 1, 1, 2),
        Station("thruster", 9, 1, 2, 1),
        Station("chest-to-bar pull-up", 6, 1, 2, 2),
        Station("bar muscle-up", 8, 2, 1, 1, fixed_rest_s=20.0),
    )
    course = Course("Boathouse steps", stations, 360.0, True, tie_break_rep=30)
    known = unbroken_sets({"bar muscle-up": 5.0})
    advice = advise(fit_athlete([], course.movements, known, draws=120), course, Target(36), seed=1)
    document = msgspec.json.encode(document_of(advice, [], [], seed=1))
    PLAN.write_bytes(msgspec.json.format(document, indent=1) + b"\n")


if __name__ == "__main__":
    main()
