"""Calibration finds lines and errors that were put into made-up films."""

import numpy as np
import pytest

from counting.lab.calibrate import build_table, describe, fit_entry
from counting.lab.samples import Sample
from counting.movements.loader import find_movement

DEPTH = next(c for c in find_movement("air squat").checks if c.name == "depth")
COMMON, OWN = 2.0, 0.7


def film(rng, name, body, view_deg, missed=False):
    """Clues: value plus 6 and value times 0.6 minus 2, both with errors of film and rep."""
    truth = rng.normal(rng.normal(-4.0, 1.0), 0.6, 8)
    if missed:
        truth[0] = 6.0
    ramp = np.linspace(-10.0, 10.0, 24)
    common = rng.normal(0, COMMON)

    def clues(values):
        seen = values + common + rng.normal(0, OWN, len(values))
        return np.stack([seen + 6.0, 0.6 * seen - 2.0 + rng.normal(0, 0.2, len(values))], axis=1)

    return Sample(
        key="hip crease above knee top / standing",
        check=DEPTH,
        film=name,
        body=body,
        view_deg=view_deg,
        rep_clues=clues(truth),
        rep_truth=truth,
        rep_factors=np.ones((8, 2)),
        frame_clues=clues(ramp),
        frame_truth=ramp,
    )


@pytest.fixture(scope="module")
def samples():
    rng = np.random.default_rng(5)
    views = (0.0, 45.0, 90.0)
    return [
        film(rng, f"film {i}", f"body {i % 6}", views[i % 3], missed=i % 4 == 0) for i in range(36)
    ]


def test_lines_of_the_clues_are_found(samples):
    entry = fit_entry(samples).calibration
    slope = np.array(entry.slope) + 0.5 * np.array(entry.slope_front)
    assert slope == pytest.approx([1.0, 0.6], abs=0.05)
    at_zero = np.array([6.0, -2.0]) + slope * entry.reference
    assert np.array(entry.level) == pytest.approx(at_zero, abs=1.5)


def test_errors_of_film_and_rep_are_told_apart(samples):
    entry = fit_entry(samples).calibration
    for view in ("front", "oblique", "side"):
        assert entry.between[view] == pytest.approx(COMMON, rel=0.45)
        assert entry.within[view] == pytest.approx(OWN, rel=0.45)
        assert entry.films[view] == 12


def test_habits_are_those_of_the_films(samples):
    entry = fit_entry(samples).calibration
    assert entry.typical == pytest.approx(-4.0, abs=0.5)
    assert entry.met_share == pytest.approx(1 - 9 / 288, abs=0.03)
    assert entry.miss_share >= 0.12


def test_misfitted_reps_teach_nothing(samples):
    from dataclasses import replace

    wild = [
        replace(
            s,
            rep_clues=np.where(np.arange(8)[:, None] == 3, 500.0, s.rep_clues),
            rep_factors=np.where(np.arange(8)[:, None] == 3, 20.0, s.rep_factors),
        )
        for s in samples
    ]
    assert fit_entry(wild).calibration.within["side"] == pytest.approx(
        fit_entry(samples).calibration.within["side"], rel=0.25
    )


def test_what_a_clue_that_is_often_hidden_shows_is_learnt_from_where_it_is_seen(samples):
    from dataclasses import replace

    hidden = [
        replace(
            s,
            rep_clues=s.rep_clues * np.array([[1.0, np.nan]]) if i % 2 else s.rep_clues,
            frame_clues=s.frame_clues * np.array([[1.0, np.nan]]) if i % 2 else s.frame_clues,
        )
        for i, s in enumerate(samples)
    ]
    entry = fit_entry(hidden).calibration
    assert np.array(entry.slope) + 0.5 * np.array(entry.slope_front) == pytest.approx(
        [1.0, 0.6], abs=0.05
    )
    assert entry.within["side"] == pytest.approx(OWN, rel=0.45)


def test_a_table_has_each_context_and_each_quantity(samples):
    table = build_table(samples, "made up")
    assert set(table.entries) == {
        "hip crease above knee top / standing",
        "hip crease above knee top",
    }
    assert "side" in describe(table)


def test_odds_that_were_too_careful_on_bodies_left_out_are_raised(samples):
    # one rep in eight is held to be amiss before looking, one in 32 was
    table = build_table(samples, "made up")
    assert table.reliability.shift > 0.2
    assert f"{table.reliability.shift:+.2f}" in describe(table)
