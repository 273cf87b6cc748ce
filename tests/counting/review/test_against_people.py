import math

import pytest
from msgspec.structs import replace
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

from counting.record.types import AuditRecord
from counting.review.against_people import against_people
from counting.review.decisions import Decision
from counting.review.sheet import reviewed_sheet
from tests.conftest import make_attempt
from tests.counting.review.test_agreement_and_triage import both, decision


def called(record: AuditRecord, calls: dict[int, str]) -> list[Decision]:
    return [decision(record, rep, rep, "Ama", call) for rep, call in calls.items()]


@pytest.fixture
def attempt_called() -> tuple[AuditRecord, list[Decision]]:
    """Nineteen thrusters: 14 measured good, 4 and 17 no-reps, 7, 12 and 18 too close."""
    record = make_attempt()
    calls = dict.fromkeys(range(1, 20), "good") | dict.fromkeys((1, 2, 4, 12), "no-rep")
    return record, called(record, calls)


def test_counts_of_a_hand_worked_film(
    attempt_called: tuple[AuditRecord, list[Decision]],
) -> None:
    record, calls = attempt_called
    whole, one = against_people([reviewed_sheet(record, calls)])
    assert (whole.movement, one.movement, one.view) == (None, "thruster", "oblique")
    # People's good: 12 measured good, rep 17 refused, 7 and 18 open; no-reps: 1, 2 passed, 4, 12.
    assert one.table == ((12, 1, 2), (2, 1, 1))
    assert (one.agreed.hits, one.agreed.of) == (13, 16)
    assert (one.passed_wrongly.hits, one.passed_wrongly.of) == (2, 4)
    assert (one.refused_wrongly.hits, one.refused_wrongly.of) == (1, 15)
    assert (one.undecided.hits, one.undecided.of) == (3, 19)
    stated = (14 * 0.9999 + 2 * 0.0002 + 3 * 0.31) / 19
    assert one.stated == pytest.approx(stated)
    assert one.happened.hits == 15


def test_kappa_and_intervals_are_those_of_a_reference_library(
    attempt_called: tuple[AuditRecord, list[Decision]],
) -> None:
    record, calls = attempt_called
    one = against_people([reviewed_sheet(record, calls)])[0]
    theirs = cohens_kappa([row[:2] for row in one.table])
    assert one.kappa.kappa == pytest.approx(theirs.kappa)
    assert one.agreed.interval == pytest.approx(proportion_confint(13, 16, method="wilson"))


def test_a_disputed_rep_is_counted_and_compared_with_nothing() -> None:
    record = make_attempt()
    sheet = reviewed_sheet(record, both(record, {1: ("good", "no-rep"), 2: ("good", "good")}))
    one = against_people([sheet])[0]
    assert (one.reps, one.disputed) == (1, 1)


def test_a_film_audited_twice_is_compared_once() -> None:
    record = make_attempt()
    sheet = reviewed_sheet(record, called(record, {1: "good"}))
    assert against_people([sheet, sheet])[0].reps == 1


def test_reps_that_are_only_counted_have_no_stated_share() -> None:
    record = make_attempt(sets=(2,), no_reps=(), too_close=())
    counted = [replace(rep, verdict="only counted") for rep in record.reps]
    sheet = reviewed_sheet(replace(record, reps=counted), called(record, {1: "good", 2: "good"}))
    one = against_people([sheet])[0]
    assert math.isnan(one.stated)
    assert one.happened.of == 0
    assert one.undecided.hits == 2


def test_without_calls_there_is_nothing_to_compare() -> None:
    assert against_people([reviewed_sheet(make_attempt(), [])]) == []
