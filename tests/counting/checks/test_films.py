"""Reps judged from two films: what they say together, and what one says when the other is gone."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.checks.errors import Readings
from counting.checks.films import FilmsReading, OtherFilm, read_films, reps_in
from counting.checks.judge import judge
from counting.checks.table import Provenance, packaged_table
from counting.checks.together import FilmsTable, Fitted, together
from counting.decision.conformance import Risk
from counting.longest_film import find_reps_in_films
from counting.movements.loader import find_movement
from counting.timeline import find_reps
from vision.synchrony.types import ClockFit
from vision.track import PoseTrack

SQUAT = find_movement("air squat")
TABLE = FilmsTable(
    alike_common=0.3,
    alike_own=0.2,
    fitted_alike_common=0.4,
    fitted_alike_own=0.5,
    fitted={},
    growth={"deg": 1.0, "cm": 1.0},
    made_from=Provenance("a test"),
)
CLOCK = ClockFit(offset_s=0.5, drift_ppm=20.0, offset_u_s=0.002, drift_u_ppm=5.0, told_by="sound")


def told(value, own, common):
    one = np.atleast_1d(np.asarray(value, float))
    return Readings(one, np.full(len(one), own), np.full(len(one), common))


def cut(track: PoseTrack, end_s: float) -> PoseTrack:
    rows = track.time_s < end_s
    parts = {
        name: getattr(track, name)[rows]
        for name in track.__slots__
        if isinstance(getattr(track, name), np.ndarray)
    }
    return replace(track, **parts)


@pytest.fixture(scope="module")
def filmed():
    script = Script(standing())
    for _ in range(4):
        script.move(squat(1.0), 1.0).move(standing(), 1.0)
    first = play_in_metres(script, Camera(view_deg=30.0), rate_hz=20.0, noise=0.003)
    second = play_in_metres(script, Camera(view_deg=-45.0), rate_hz=25.0, noise=0.003)
    return first, OtherFilm(replace(second, time_s=CLOCK.second_s(second.time_s)), CLOCK)


@pytest.fixture(scope="module")
def reps(filmed):
    return find_reps(filmed[0], SQUAT).reps


@pytest.fixture(scope="module")
def alone(filmed, reps):
    """What the first film says without the other."""
    return judge(filmed[0], reps, SQUAT, Risk())


def test_values_together_are_the_mean_of_generalised_least_squares():
    """Reference library: statsmodels.GLS."""
    from statsmodels.api import GLS

    values, own, common = np.array([10.0, 13.0, 11.5]), [2.0, 3.0, 2.5], [4.0, 5.0, 3.0]
    alone = [told(values[0], own[0], common[0]), told(values[1], own[1], common[1])]
    found = together(alone, [Fitted(told(values[2], own[2], common[2]), "deg")], TABLE)
    of_common = np.array([[1, 0.3, 0.4], [0.3, 1, 0.4], [0.4, 0.4, 1]]) * np.outer(common, common)
    of_own = np.array([[1, 0.2, 0.5], [0.2, 1, 0.5], [0.5, 0.5, 1]]) * np.outer(own, own)
    reference = GLS(values, np.ones(3), sigma=of_common + of_own).fit(scale=1.0)
    assert found.value[0] == pytest.approx(reference.params[0])
    whole = np.hypot(found.own_error[0], found.common_error[0])
    assert whole == pytest.approx(np.sqrt(reference.normalized_cov_params.item()))


def test_no_value_is_taken_away_by_a_better_one():
    found = together(
        [told(0.0, 0.1, 0.1), told(10.0, 5.0, 5.0)],
        [],
        replace(TABLE, alike_common=0.9, alike_own=0.9),
    )
    assert 0.0 <= found.value[0] <= 10.0


def test_a_rep_that_one_film_shows_has_that_films_value_and_errors():
    found = together([told([10.0, np.nan], 2.0, 4.0), told([np.nan, 12.0], 3.0, 5.0)], [], TABLE)
    assert found.value == pytest.approx([10.0, 12.0])
    assert found.own_error == pytest.approx([2.0, 3.0])
    assert found.common_error == pytest.approx([4.0, 5.0])


@pytest.mark.slow
def test_two_films_state_smaller_errors_than_either(filmed, reps):
    first, other = filmed
    both = read_films(first, [other], reps, SQUAT)
    assert len(both.views_deg) == 2
    for column, check in enumerate(SQUAT.checks):
        entry = packaged_table().find(check.quantity, SQUAT.base, check.phase)
        stated = [
            np.median(np.hypot(values.own_error, values.common_error))
            for values in (
                both.values(column, entry, TABLE),
                *(FilmsReading((one,)).values(column, entry) for one in both.alone),
            )
        ]
        assert stated[0] < min(stated[1:])


@pytest.mark.slow
def test_the_other_film_carries_on_where_the_first_stops(filmed, reps):
    first, other = filmed
    stopped = cut(first, reps[1].end_s + 0.1)
    timeline = find_reps_in_films(stopped, [other], SQUAT)
    assert len(timeline.reps) == len(reps)
    for found, true in zip(timeline.reps, reps, strict=True):
        assert found.turn_s == pytest.approx(true.turn_s, abs=0.15)
    judged = judge(stopped, timeline.reps, SQUAT, Risk(), others=[other])
    late = judge(other.track, reps_in(other, timeline.reps), SQUAT, Risk())
    assert judged.verdicts[-1].checks[0].value == pytest.approx(
        late.verdicts[-1].checks[0].value, abs=0.5
    )
    assert judged.verdicts[-1].checks[0].at_s > stopped.time_s[-1]


def test_without_further_films_nothing_changes(filmed, reps, alone):
    assert alone == judge(filmed[0], reps, SQUAT, Risk(), others=())


@pytest.mark.slow
def test_the_first_film_carries_on_with_its_own_errors_where_the_other_stops(filmed, reps, alone):
    first, other = filmed
    end_s = float(CLOCK.second_s(np.array([reps[1].end_s + 0.1]))[0])
    stopped = OtherFilm(cut(other.track, end_s), CLOCK)
    both, part = (
        judge(first, reps, SQUAT, Risk(), others=others).verdicts[-1].checks[0]
        for others in ([other], [stopped])
    )
    own = alone.verdicts[-1].checks[0]
    assert part.value == pytest.approx(own.value, abs=0.05)
    assert part.uncertainty == pytest.approx(own.uncertainty, rel=0.05)
    assert both.uncertainty < part.uncertainty
