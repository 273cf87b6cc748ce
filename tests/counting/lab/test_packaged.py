"""The packaged table is the one that its kept readings make, and holds for the code as it is."""

import pytest

from counting.checks.table import packaged_table
from counting.lab.calibrate import READINGS, build_table, provenance
from counting.lab.reading_code import landmark_digest, reading_digest
from counting.lab.readings import load_readings

REMEDY = "read the labelled films anew: see counting/checks/DECISIONS.md"


def test_the_table_was_made_with_landmarks_as_they_are_found_now():
    assert packaged_table().made_from.landmarks == landmark_digest(), REMEDY


def test_the_table_was_made_with_the_code_that_reads_now():
    assert packaged_table().made_from.reading == reading_digest(), REMEDY


def test_the_kept_readings_are_those_of_the_tables_films():
    """Films of which no check was kept only tell what a movement looks like."""
    kept = [film for film in load_readings(READINGS) if film.samples]
    assert {film.name: film.digest for film in kept} == dict(packaged_table().made_from.films)


@pytest.mark.slow
def test_the_kept_readings_make_the_table_again():
    table = packaged_table()
    again = build_table(load_readings(READINGS), table.made_from)
    assert provenance(load_readings(READINGS), "", "").words == table.made_from.words
    for name, entry in table.entries.items():
        assert again.entries[name].between == pytest.approx(entry.between, rel=1e-6), name
        assert again.entries[name].level == pytest.approx(entry.level, rel=1e-4, abs=1e-9), name
        for view, weight in entry.weight.items():
            found = again.entries[name].weight[view]
            assert found == pytest.approx(weight, rel=1e-4, abs=1e-9), (name, view)
