"""Calibration finds weights and errors that were put into made-up films."""

from dataclasses import replace

import numpy as np
import pytest

from counting.checks.table import Provenance, load_table
from counting.lab.calibrate import build_table, describe, fit_entry, main, provenance
from counting.lab.reading_code import reading_digest
from counting.lab.readings import FilmSamples, Sample, load_readings, write_readings
from counting.movements.loader import find_movement

DEPTH = next(c for c in find_movement("air squat").checks if c.name == "depth")
COMMON, OWN = 2.0, 0.7
REPS = 8


def sample(rng, name, body, view_deg, short):
    """Features: value plus 6 and value times 0.6 minus 2, both with errors of film and rep."""
    truth = np.where(np.arange(REPS) < short, rng.uniform(2, 20), rng.normal(-4, 1))
    truth = truth + rng.normal(0, 0.6, REPS)
    ramp = np.linspace(-10.0, 20.0, 24)
    common = rng.normal(0, COMMON)

    def features(values):
        seen = values + common + rng.normal(0, OWN, len(values))
        return np.stack([seen + 6.0, 0.6 * seen - 2.0 + rng.normal(0, 0.2, len(values))], axis=1)

    return Sample(
        key="hip crease above knee top / standing",
        check=DEPTH,
        film=name,
        body=body,
        view_deg=view_deg,
        rep_features=features(truth),
        rep_shown=truth,
        rep_truth=truth,
        rep_factors=np.ones((REPS, 2)),
        frame_features=features(ramp),
        frame_truth=ramp,
    )


@pytest.fixture(scope="module")
def films():
    """Films of every share of faults: none of eight reps short, two, six, or all."""
    rng = np.random.default_rng(5)
    views, shares = (0.0, 45.0, 90.0), (0, 2, 6, 8)
    made = []
    for i in range(48):
        one = sample(rng, f"film {i:02}", f"body {i % 6}", views[i % 3], shares[i // 3 % 4])
        good = tuple(bool(value <= 0) for value in one.rep_truth)
        made.append(FilmSamples(one.film, one.body, "air squat", f"{i:04x}", 0.0, good, (one,)))
    return made


@pytest.fixture(scope="module")
def samples(films):
    return [film.samples[0] for film in films]


def test_levels_are_right_over_the_whole_range_of_margins(samples):
    """Regressing the reading on the truth gives slope 1 and no bias from -25 to +7 cm."""
    entry = fit_entry(samples)
    read, true = [], []
    for one in samples:
        values = entry.combine(one.rep_features, one.rep_factors, one.view_deg).value
        read += list(values)
        true += list(one.rep_truth)
    slope, level = np.polyfit(true, read, 1)
    assert slope == pytest.approx(1.0, abs=0.07)
    assert level == pytest.approx(0.0, abs=0.7)


def test_errors_of_film_and_rep_are_told_apart(samples):
    entry = fit_entry(samples)
    for view in ("front", "oblique", "side"):
        assert entry.between[view] == pytest.approx(COMMON, rel=0.5)
        assert entry.within[view] == pytest.approx(OWN, rel=0.5)
        assert entry.films[view] == 16


def test_the_share_of_faults_does_not_change_what_is_read(samples):
    """Calibrated on films without a fault and on films of nothing else, a rep reads alike."""
    good = [s for s in samples if (s.rep_truth <= 0).all()]
    short = [s for s in samples if (s.rep_truth > 0).all()]
    features = np.array([[11.0, 1.0], [2.0, -4.4]])
    read = [
        fit_entry(some).combine(features, np.ones((2, 2)), 45.0).value for some in (good, short)
    ]
    assert read[0] == pytest.approx(read[1], abs=3.0)


def test_before_looking_values_are_the_usual_ones_or_any_that_were_filmed(samples):
    before = fit_entry(samples).before
    assert before.usual == pytest.approx(-4.0, abs=0.6)
    assert before.lowest == pytest.approx(-10.0, abs=0.5)
    assert before.highest == pytest.approx(20.0, abs=2.0)


def test_what_a_feature_that_is_often_hidden_shows_is_learnt_from_where_it_is_seen(samples):
    hidden = [
        replace(s, rep_features=s.rep_features * np.array([[1.0, np.nan]])) if i % 2 else s
        for i, s in enumerate(samples)
    ]
    assert fit_entry(hidden).between["side"] == pytest.approx(COMMON, rel=0.5)


@pytest.mark.slow
def test_readings_are_kept_and_make_the_same_table_again(films, tmp_path):
    file, table, again = (tmp_path / name for name in ("kept.xz", "table.json", "again.json"))
    write_readings(films, file)
    kept = load_readings(file)
    assert [film.name for film in kept] == [film.name for film in films]
    assert kept[3].samples[0].rep_features == pytest.approx(
        films[3].samples[0].rep_features, abs=0.051
    )
    made_from = provenance(kept, "9", "cafe")
    from counting.checks.table import write_table

    write_table(build_table(kept, made_from), table)
    again.write_bytes(table.read_bytes())
    main(["--readings", str(file), "--out", str(again)])
    assert load_table(again) == load_table(table)


def test_a_table_says_what_it_was_made_from(films):
    made = provenance(films, "9", "cafe")
    assert made.words == "48 rendered films of 6 bodies"
    assert made.films["film 07"] == "0007"
    assert "side" in describe(build_table(films, made))


def test_the_digest_of_the_code_that_reads_is_that_of_what_it_does():
    from counting.lab.reading_code import digest_of

    plain = digest_of(['"""One."""\nx = 1 + 2\n'])
    assert plain == digest_of(['# a comment\n"""Two."""\nx = 1 + 2  # because\n'])
    assert plain != digest_of(['"""One."""\nx = 1 + 3\n'])
    assert len(reading_digest()) == 16


def test_unknown_provenance_is_empty():
    assert Provenance("by hand").films == {}
