"""Figures of merit are computed from truth files that are read, not trusted."""

import json
import math

import pytest

from counting.lab.accuracy import Found, accuracy, accuracy_report, film_accuracy
from counting.lab.labels import labelled_films
from counting.lab.matching import match
from counting.lab.truth import TruthError
from counting.movements.loader import find_movement

TRUTH = {
    "movement": "c2b",
    "fps": 30,
    "camera": {"az": -87.0},
    "standard": {"chest_contact_cm": 1.5, "hang_elbow_deg": 165.0},
    "reps": [
        {
            "rep": 0,
            "start": 1.0,
            "end": 3.0,
            "criteria": {"chest_contact": {"margin": -4.5}, "start_full_hang": {"margin": 8.0}},
        },
        {"rep": 1, "start": 3.0, "end": 5.0, "criteria": {"chest_contact": {"margin": 1.0}}},
    ],
    "breaks": [{"start": 5.0, "end": 9.0}],
}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "truth.json").write_text(json.dumps(TRUTH), encoding="utf-8")
    (tmp_path / "two.truth.json").write_text(
        json.dumps(TRUTH | {"movement": "air_squat"}), encoding="utf-8"
    )
    return tmp_path


def test_both_ways_of_laying_out_labelled_films_are_read(folder):
    films, _ = labelled_films(folder)
    assert [(film.name, film.movement) for film in films] == [
        ("one", "chest-to-bar pull-up"),
        ("two", "air squat"),
    ]
    assert films[0].view_deg == 87.0
    assert films[0].film == folder / "one" / "clip.mp4"
    assert films[1].film == folder / "two.mp4"


def test_margins_are_turned_back_into_values_and_judged_by_our_own_limits(folder):
    checks = {check.name: check for check in find_movement("chest-to-bar pull-up").checks}
    first, second = labelled_films(folder)[0][0].reps
    assert first.margin(checks["contact"]) == pytest.approx(-4.5)
    assert first.margin(checks["hang"]) == pytest.approx(8.0)
    assert second.margin(checks["hang"]) is None


@pytest.mark.parametrize(
    ("movement", "reason"),
    [
        (None, "holds several movements"),
        ("juggling", "holds 'juggling', for which there is no standard"),
    ],
)
def test_a_film_that_no_one_standard_judges_is_left_out_with_the_reason(folder, movement, reason):
    (folder / "two.truth.json").write_text(
        json.dumps(TRUTH | {"movement": movement}), encoding="utf-8"
    )
    films, left_out = labelled_films(folder)
    assert [film.name for film in films] == ["one"]
    assert left_out == {"two": reason}


@pytest.mark.parametrize("key", ["reps", "breaks", "camera", "fps"])
def test_a_truth_file_that_lacks_what_is_counted_is_named_with_the_key(folder, key):
    lacking = {name: value for name, value in TRUTH.items() if name != key}
    (folder / "one" / "truth.json").write_text(json.dumps(lacking), encoding="utf-8")
    with pytest.raises(TruthError, match=rf"one/truth\.json.*{key}"):
        labelled_films(folder)


@pytest.mark.parametrize("text", ["", "[]", '{"fps": 30}', '{"fps": "fast"}', "\x00"])
def test_a_broken_truth_file_is_named(folder, text):
    (folder / "one" / "truth.json").write_text(text, encoding="utf-8")
    with pytest.raises(TruthError, match=r"one/truth\.json"):
        labelled_films(folder)


def test_a_folder_without_labelled_films_is_refused(tmp_path):
    with pytest.raises(TruthError, match="no labelled films"):
        labelled_films(tmp_path)


def test_intervals_are_paired_one_to_one_by_what_they_share():
    true = [(0.0, 2.0), (2.0, 4.0), (6.0, 8.0)]
    found = [(0.1, 1.9), (2.2, 4.1), (4.1, 6.0)]
    matching = match(true, found)
    assert matching.pairs == ((0, 0), (1, 1))
    assert matching.missed == (2,)
    assert matching.invented == (2,)


def test_two_halves_found_for_one_are_one_right_and_one_invented():
    matching = match([(0.0, 2.0)], [(0.0, 1.1), (1.1, 2.0)])
    assert len(matching.pairs) == 1
    assert len(matching.invented) == 1


def test_a_miss_and_an_invention_do_not_make_an_exact_count(folder):
    film = labelled_films(folder)[0][0]
    compared = film_accuracy(film, Found(reps=((1.0, 3.0), (10.0, 12.0)), breaks=()))
    assert compared.found_reps == compared.true_reps
    assert not compared.exact
    assert (compared.missed_reps, compared.invented_reps) == (1, 1)
    assert compared.missed_breaks == 1


def test_figures_over_films(folder):
    film = labelled_films(folder)[0][0]
    good = film_accuracy(film, Found(((1.0, 3.1), (3.1, 4.9)), ((4.9, 9.0),)))
    bad = film_accuracy(film, Found(((1.0, 3.0),), ((3.2, 3.4), (5.0, 9.0))))
    figures = accuracy([good, bad])
    assert (figures.films, figures.exact, figures.within_one) == (2, 1, 2)
    # Wilson 1927, as in Newcombe 1998: 1 of 2 at 95 % is 0.0945 to 0.9055.
    assert (figures.exact_low, figures.exact_high) == pytest.approx((0.0945, 0.9055), abs=1e-4)
    assert figures.end_median_frames == pytest.approx(3.0)
    assert (figures.missed_breaks, figures.invented_breaks) == (0, 1)
    report = accuracy_report([good, bad])
    assert "chest-to-bar pull-up" in report
    assert "side" in report
    assert "1 missed" in report


def test_no_films_give_no_figures():
    figures = accuracy([])
    assert math.isnan(figures.end_median_frames)
    assert (figures.exact_low, figures.exact_high) == (0.0, 1.0)
