"""A workout in a film that tells no time: reps are judged, nothing is scored."""

from dataclasses import replace
from pathlib import Path

import pytest
from msgspec import UNSET

from cli.audit.assess import record_of
from cli.audit.request import Asked, AuditRequest
from cli.audit.seen import Seen
from counting.movements.loader import built_in_movements
from counting.pacing.model.attempt import attempt_of
from counting.pacing.model.loads import PacingError
from counting.record.types import AuditRecord
from counting.workout.file import load_workout
from tests.golden.compact import unpack
from tests.golden.reference import LANDMARKS, film_of
from tests.records import continuity
from vision.film.clock import ClockSource

BURPEES = next(path for path in LANDMARKS if path.stem.startswith("burpee_1"))
WORKOUT = """
name = "Dusk at the boathouse"
scoring = "for time"
missing_reps = "deducted"

[[blocks]]
[[blocks.stations]]
movement = "burpee"
reps = 2
"""


def audited(folder: Path, clock: ClockSource) -> AuditRecord:
    track, _ = unpack(BURPEES)
    file = folder / "workout.toml"
    file.write_text(WORKOUT)
    movements = {movement.name: movement for movement in built_in_movements()}
    request = AuditRequest(folder / "film.avi", None, file, (), folder)
    film = replace(film_of(track), clock=clock)
    whole = continuity("looks continuous", continuous=True)
    seen = Seen(film, track, "landmarks-0.npz", "full", "0" * 64, {}, whole)
    asked = Asked(movements, load_workout(file, movements), None, barbell=False)
    return record_of(seen, asked, request)


def test_reps_are_judged_and_nothing_is_scored(tmp_path: Path) -> None:
    timed, untimed = (audited(tmp_path, clock) for clock in ("stored", "counted"))
    assert timed.workout is not None
    assert timed.second_views is UNSET, "a record of one film does not speak of others"
    assert untimed.workout is None
    assert len(untimed.reps) == len(timed.reps) > 0
    assert [rep.verdict for rep in untimed.reps] == [rep.verdict for rep in timed.reps]
    assert untimed.counts == timed.counts
    with pytest.raises(PacingError, match="nothing in it can be timed"):
        attempt_of(untimed)
