from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from counting.checks.errors import infer_readings, with_errors
from counting.checks.inference import (
    AS_LABELLED,
    FilmError,
    Posterior,
    met_given_error,
    posterior_of_reps,
)
from counting.checks.table import Calibration, Values, packaged_digest, packaged_table
from counting.checks.tuning import (
    TunedError,
    TunedGroup,
    Tuning,
    TuningError,
    decided_reps,
    load_tuning,
    tuned_table,
    write_tuning,
)
from counting.movements.loader import find_movement

SQUAT = find_movement("air squat")
DEPTH = SQUAT.checks[0]
ENTRY = "hip crease above knee top / standing"
TUNING = Tuning(
    calibration=packaged_digest(),
    groups=(TunedGroup("air squat", "side", 212, 31, 0.03, (TunedError(ENTRY, 1.5, 0.6),)),),
)


def inferred(entry: Calibration, *readings: float) -> Posterior:
    """What depths read from the side tell of their reps."""
    ones = np.ones(len(readings))
    values = Values(np.array(readings), 0.0 * ones, 0.0, ones, 1.0)
    return infer_readings(with_errors(values, entry, "side"), entry.before, DEPTH)


def test_a_tuning_reads_as_it_was_written(tmp_path: Path) -> None:
    file = tmp_path / "calls.json"
    write_tuning(TUNING, file)
    read = load_tuning(file)
    assert read.tuning == TUNING
    assert len(read.sha256) == 64


@pytest.mark.parametrize("content", [b"", b"{}", b"[1]", b"\xff"])
def test_what_is_no_tuning_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "calls.json"
    file.write_bytes(content)
    with pytest.raises(TuningError, match="repwitness agreement FOLDER --tune FILE") as caught:
        load_tuning(file)
    assert "\n" not in str(caught.value)


def test_a_tuning_of_another_table_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "calls.json"
    write_tuning(replace(TUNING, calibration="0" * 64), file)
    with pytest.raises(TuningError, match="another calibration"):
        load_tuning(file)


def test_an_offset_moves_the_reading_and_nothing_else() -> None:
    """A reading 1.5 too high, tuned by 1.5, is the reading without it, with the same error."""
    table = tuned_table(packaged_table(), replace(TUNING, groups=(_sized(1.0),)), SQUAT)
    tuned = inferred(table.entries[ENTRY], 2.5, -1.0)
    plain = inferred(packaged_table().entries[ENTRY], 1.0, -2.5)
    # Lengths of the fit scale with a stature that is assumed: by 0.05 cm at most here.
    np.testing.assert_allclose(tuned.value, plain.value, atol=0.1)
    np.testing.assert_allclose(tuned.uncertainty, plain.uncertainty, atol=0.05)


def _sized(size: float) -> TunedGroup:
    return TunedGroup("air squat", "side", 212, 31, 0.03, (TunedError(ENTRY, 1.5, size),))


def test_a_smaller_film_error_narrows_the_interval() -> None:
    tuned = tuned_table(packaged_table(), TUNING, SQUAT).entries[ENTRY]
    narrow, plain = (
        inferred(entry, 6.0).uncertainty[0] for entry in (tuned, packaged_table().entries[ENTRY])
    )
    assert narrow < 0.9 * plain


def test_other_views_and_movements_are_left_as_they_are() -> None:
    tuned = tuned_table(packaged_table(), TUNING, SQUAT).entries[ENTRY]
    assert tuned.tuned.get("front", AS_LABELLED) == AS_LABELLED
    assert tuned.tuned["side"] == FilmError(1.5, 0.6)
    thruster = find_movement("thruster")
    assert tuned_table(packaged_table(), TUNING, thruster).entries[ENTRY].tuned == {}


@pytest.mark.parametrize(("view_deg", "reps"), [(90.0, 212), (5.0, 0), (None, 0)])
def test_decided_reps_are_those_of_movement_and_view(view_deg: float | None, reps: int) -> None:
    assert decided_reps(TUNING, {"air squat": view_deg, "thruster": 90.0}) == reps


def test_the_probability_is_the_mean_over_film_errors() -> None:
    """Learning and judging share one distribution: equally likely errors give the posterior."""
    entry = packaged_table().entries[ENTRY]
    readings, own, common = np.array([0.5, -2.0]), np.full(2, 0.6), np.full(2, 1e-9)
    whole = posterior_of_reps(readings, own, common, entry.before, 0.0, "at most", 0, 3)
    known = met_given_error(readings, own, np.zeros(1), entry.before, 0.0, "at most", 3)
    np.testing.assert_allclose(known[:, 0], whole.probability_met, atol=1e-6)
