from collections.abc import Callable
from dataclasses import replace

import msgspec
import pytest

from counting.record.types import AuditRecord
from counting.review.decisions import Decision, latest_calls, standing, without_rep
from counting.review.sheet import reviewed_sheet

Maker = Callable[..., Decision]


@pytest.fixture
def called(attempt: AuditRecord) -> Maker:
    """A maker of decisions on the invented attempt, numbered as they are made."""
    made = iter(range(1, 1000))

    def call(
        rep: int, verdict: str, reviewer: str = "R. Osei", undoes: int | None = None, note: str = ""
    ) -> Decision:
        part = attempt.reps[rep - 1]
        return Decision(
            id=next(made),
            film_sha256=attempt.film.sha256,
            rep=rep,
            movement=part.movement,
            turn_s=part.turn_s,
            reviewer=reviewer,
            call=verdict,  # type: ignore[arg-type]
            note=note,
            at="2026-11-25T09:00:00.000+00:00",
            undoes=undoes,
        )

    return call


def test_the_latest_call_of_each_reviewer_stands(attempt: AuditRecord, called: Maker) -> None:
    rows = [called(7, "good"), called(7, "no-rep"), called(7, "good", "M. Lind")]
    calls = latest_calls(attempt, rows)[7]
    assert {name: row.call for name, row in calls.items()} == {
        "R. Osei": "no-rep",
        "M. Lind": "good",
    }


def test_undoing_brings_the_earlier_call_back(attempt: AuditRecord, called: Maker) -> None:
    first, second = called(7, "good"), called(7, "no-rep")
    rows = [first, second, called(7, "no-rep", undoes=second.id)]
    assert standing(rows) == [first]
    assert latest_calls(attempt, rows)[7]["R. Osei"].call == "good"


def test_calls_follow_their_rep_into_a_new_audit_of_the_film(
    attempt: AuditRecord, called: Maker
) -> None:
    rows = [called(7, "good")]
    renumbered = msgspec.structs.replace(
        attempt,
        reps=[
            msgspec.structs.replace(rep, number=rep.number - 1, turn_s=rep.turn_s + 0.05)
            for rep in attempt.reps[1:]
        ],
    )
    assert list(latest_calls(renumbered, rows)) == [6]


@pytest.mark.parametrize(("later_s", "same"), [(0.34, True), (-0.34, True), (0.5, False)])
def test_a_turn_found_a_third_of_a_second_elsewhere_is_of_the_same_rep_half_a_second_of_another(
    attempt: AuditRecord, called: Maker, later_s: float, same: bool
) -> None:
    rows = [called(7, "good")]
    (rep,) = (rep for rep in attempt.reps if rep.number == 7)
    moved = msgspec.structs.replace(rep, turn_s=rep.turn_s + later_s)
    again = msgspec.structs.replace(attempt, reps=[moved])
    assert (list(latest_calls(again, rows)) == [7]) == same
    assert (without_rep(again, rows) == []) == same


def test_a_call_whose_rep_is_gone_is_reported_not_moved_to_a_neighbour(
    attempt: AuditRecord, called: Maker
) -> None:
    rows = [called(7, "good")]
    gone = msgspec.structs.replace(attempt, reps=[r for r in attempt.reps if r.number != 7])
    assert latest_calls(gone, rows) == {}
    assert without_rep(gone, rows) == rows


def test_a_call_on_another_film_does_not_count(attempt: AuditRecord, called: Maker) -> None:
    other = replace(called(7, "good"), film_sha256="6" * 64)
    assert latest_calls(attempt, [other]) == {}


def test_a_hand_worked_sheet(attempt: AuditRecord, called: Maker) -> None:
    """14 good, 2 no-reps (4, 17), 3 too close (7, 12, 18); then 7 good, 12 no-rep, 4 good."""
    sheet = reviewed_sheet(attempt, [called(7, "good"), called(12, "no-rep"), called(4, "good")])
    counts = sheet.record.counts
    assert (counts.good, counts.no_rep, counts.too_close) == (16, 2, 1)
    assert (counts.lowest, counts.highest) == (16, 17)
    assert {part.good: round(part.probability, 6) for part in counts.distribution} == {
        16: 0.69,
        17: 0.31,
    }


def test_a_disputed_rep_stays_open_until_reviewers_agree(
    attempt: AuditRecord, called: Maker
) -> None:
    rows = [called(4, "good"), called(4, "no-rep", "M. Lind")]
    sheet = reviewed_sheet(attempt, rows)
    assert [rep.measured.number for rep in sheet.disputed] == [4]
    assert sheet.reps[3].verdict == "too close"
    settled = reviewed_sheet(attempt, [*rows, called(4, "good", "M. Lind")])
    assert settled.reps[3].verdict == "good"
    assert settled.disputed == []


def test_skipping_leaves_a_rep_as_it_was_measured(attempt: AuditRecord, called: Maker) -> None:
    sheet = reviewed_sheet(attempt, [called(7, "skip")])
    assert sheet.reps[6].state == "as measured"
    assert sheet.record.counts == reviewed_sheet(attempt, []).record.counts


def test_a_no_rep_called_good_counts_at_the_end_of_its_cycle_and_says_who_called_it(
    attempt: AuditRecord, called: Maker
) -> None:
    part = reviewed_sheet(attempt, [called(4, "good", note="clear from the side")]).record.reps[3]
    assert part.counted_s == attempt.reps[3].end_s
    assert part.reason == "called good by R. Osei: clear from the side"
    assert part.probability_good == 1.0


def test_a_good_rep_called_no_rep_counts_at_no_time(attempt: AuditRecord, called: Maker) -> None:
    part = reviewed_sheet(attempt, [called(1, "no-rep")]).record.reps[0]
    assert part.counted_s is None
    assert part.verdict == "no-rep"
