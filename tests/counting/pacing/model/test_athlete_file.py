"""What an athlete knows before a first attempt: read, checked, and believed."""

import datetime

import numpy as np
import pytest

from counting.pacing.model.athlete_file import FilmEntry, load_athlete
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import Known, KnownMovement
from counting.pacing.model.loads import PacingError

WHOLE = """
name = "Bow seat"
age = 50
body_kg = 72
rest_s = 12
changeover_s = 9

[engine]
row_2000_m = "7:30"
efforts = [{ time = "3:00", watts = 300 }, { time = "12:00", watts = 240 }]

[movements.thruster]
unbroken = 25
at_kg = 43
maximum_kg = 85
rep_s = 2.0
sets = [{ reps = 8, kg = 60 }]

[[films]]
audit = "spring.audit"
date = 2026-03-01
"""


@pytest.fixture
def file(tmp_path):
    def make(text):
        path = tmp_path / "athlete.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return make


def test_a_whole_file_is_read(file):
    path = file(WHOLE)
    athlete = load_athlete(path)
    known = athlete.known
    assert known.movements["thruster"] == KnownMovement(
        unbroken=25.0, at_kg=43.0, maximum_kg=85.0, rep_s=2.0, heavier=((8.0, 60.0),)
    )
    assert (known.rest_s, known.changeover_s, known.age_years) == (12.0, 9.0, 50.0)
    # The usual row is 1; work 54 kJ in 180 s and 172.8 kJ in 720 s give 220 W for ever
    # (Monod and Scherrer 1965), 220 / 72 / 3 of the usual power by mass.
    assert known.engine == pytest.approx(np.sqrt(1.0 * 220.0 / 72.0 / 3.0))
    assert athlete.films[0].audit == str(path.parent / "spring.audit")


def test_an_empty_file_says_nothing(file):
    assert load_athlete(file("")).known == Known()


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("ages = 3", 1, "did you mean 'age'"),
        ("age = 'old'", 1, "has to be a number, not text"),
        ("[movements.'pull-ups']\nunbroken = 3", 1, "did you mean 'pull-up'"),
        ("[movements.pull-up]\nunbrokn = 3", 2, "did you mean 'unbroken'"),
        ("[movements.thruster]\nat_kg = 43", 1, "belongs to unbroken"),
        ("[engine]\nrow_2000_m = '7m'", 2, 'a time as in "7:25"'),
        ("[engine]\nefforts = [{ time = '3:00', watts = 300 }]", 2, "two of different length"),
    ],
)
def test_an_error_names_line_and_remedy(file, text, line, words):
    with pytest.raises(PacingError) as told:
        load_athlete(file(text))
    assert f"athlete.toml, line {line}: " in str(told.value)
    assert words in str(told.value)


def test_a_missing_file_and_no_toml_are_told(tmp_path, file):
    with pytest.raises(PacingError, match="cannot be read"):
        load_athlete(tmp_path / "none.toml")
    with pytest.raises(PacingError, match="not valid TOML"):
        load_athlete(file("age = = 3"))


def test_a_film_tells_half_as_much_after_120_days():
    film = FilmEntry(audit="a", date=datetime.date(2026, 1, 1))
    assert film.weight(datetime.date(2026, 5, 1)) == 0.5
    assert film.weight(datetime.date(2026, 1, 1)) == 1.0


def believed(known, movement="thruster", at_kg=None):
    fit = fit_athlete([], (movement,), known, draws=200, at_kg=at_kg)
    return fit.draws(400, 0)


def test_a_rep_time_typed_in_is_believed():
    draws = believed(Known({"thruster": KnownMovement(rep_s=3.0)}))
    assert np.median(draws.cycle_s[:, 0]) == pytest.approx(3.0, rel=0.1)


def test_a_one_rep_maximum_tells_the_unbroken_set_with_another_load():
    # Epley: w kg for r reps are as hard as w (1 + r / 30) / (1 + 1 / 30) for one: 60 kg, 21.7 reps.
    known = Known({"thruster": KnownMovement(maximum_kg=100.0)})
    light = believed(known, at_kg={"thruster": 60.0})
    heavy = believed(known, at_kg={"thruster": 95.0})
    assert np.median(light.unbroken[:, 0]) == pytest.approx(21.7, rel=0.1)
    assert np.median(heavy.unbroken[:, 0]) < 4.0


def test_a_better_engine_holds_pace_longer_and_age_refills_slower():
    strong, weak = (believed(Known(engine=share)) for share in (1.4, 0.7))
    assert np.median(strong.whole_work_s) > 1.3 * np.median(weak.whole_work_s)
    old, young = (believed(Known(age_years=age)) for age in (60.0, 25.0))
    assert np.median(old.local_refill_s) > np.median(young.local_refill_s)


def test_a_rest_habit_and_a_changeover_are_believed():
    draws = believed(Known(rest_s=8.0, changeover_s=20.0))
    assert np.median(draws.transition_s) == pytest.approx(20.0, rel=0.15)
    assert np.median(draws.shortest_break_s[:, 0]) < 8.5
