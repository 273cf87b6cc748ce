import pytest
from msgspec.structs import replace

from counting.record.types import AuditRecord, UnexplainedPart
from counting.review.agreement import agreement
from counting.review.decisions import Decision
from counting.review.sheet import reviewed_sheet, triage_of


def decision(record: AuditRecord, number: int, rep: int, reviewer: str, call: str) -> Decision:
    part = record.reps[rep - 1]
    return Decision(
        number,
        record.film.sha256,
        rep,
        part.movement,
        part.turn_s,
        reviewer,
        call,  # type: ignore[arg-type]
        "",
        "2026-11-25T09:00:00.000+00:00",
    )


def both(record: AuditRecord, calls: dict[int, tuple[str, str]]) -> list[Decision]:
    return [
        decision(record, 2 * rep + which, rep, reviewer, call)
        for rep, pair in calls.items()
        for which, (reviewer, call) in enumerate(zip(("Ama", "Bo"), pair, strict=True))
    ]


def test_kappa_of_a_hand_worked_table(attempt: AuditRecord) -> None:
    """Cohen (1960): both good 4, both no-rep 3, apart 1 and 2; 0.7 observed, 0.5 by chance."""
    calls = dict.fromkeys(range(1, 5), ("good", "good"))
    calls |= dict.fromkeys(range(5, 8), ("no-rep", "no-rep"))
    calls |= {8: ("good", "no-rep"), 9: ("no-rep", "good"), 10: ("no-rep", "good")}
    (pair,) = agreement([attempt], both(attempt, calls))
    assert pair.table == ((4, 1), (2, 3))
    assert pair.common == 10
    assert pair.kappa.observed == pytest.approx(0.7)
    assert pair.kappa.kappa == pytest.approx((0.7 - 0.5) / 0.5)
    assert [item.rep for item in pair.disagreements] == [8, 9, 10]


def test_skipped_reps_are_not_compared(attempt: AuditRecord) -> None:
    assert agreement([attempt], both(attempt, {1: ("good", "skip")})) == []


def test_a_film_that_was_audited_twice_counts_once(attempt: AuditRecord) -> None:
    (pair,) = agreement([attempt, attempt], both(attempt, {1: ("good", "good")}))
    assert pair.common == 1


def test_three_reviewers_make_three_pairs(attempt: AuditRecord) -> None:
    rows = [decision(attempt, n, 1, name, "good") for n, name in enumerate(("C", "A", "B"), 1)]
    pairs = [(pair.first, pair.second) for pair in agreement([attempt], rows)]
    assert pairs == [("A", "B"), ("A", "C"), ("B", "C")]


def test_doubt_is_four_times_the_variance_of_the_count_plus_unseen_no_reps(
    attempt: AuditRecord,
) -> None:
    triage = triage_of(reviewed_sheet(attempt, []), film_in_doubt=False)
    assert (triage.open_reps, triage.unseen_no_reps) == (3, 2)
    assert triage.doubt == pytest.approx(3 * 4 * 0.31 * 0.69 + 2 * 0.05)


def test_a_film_in_doubt_stands_before_any_doubtful_count(attempt: AuditRecord) -> None:
    settled = [decision(attempt, n, n, "A", "good") for n in (4, 7, 12, 17, 18)]
    doubtful_film = triage_of(reviewed_sheet(attempt, settled), film_in_doubt=True)
    doubtful_count = triage_of(reviewed_sheet(attempt, []), film_in_doubt=False)
    assert doubtful_film.rank > doubtful_count.rank


def test_a_reviewed_attempt_is_worth_nothing_more(attempt: AuditRecord) -> None:
    settled = [decision(attempt, n, n, "A", "good") for n in (4, 7, 12, 17, 18)]
    triage = triage_of(reviewed_sheet(attempt, settled), film_in_doubt=False)
    assert triage.rank == (False, 0.0)


def with_hidden(record: AuditRecord) -> AuditRecord:
    stretch = UnexplainedPart(start_s=2.0, end_s=8.0, most=2, why="not read")
    return replace(record, unexplained=[stretch])


def test_stretches_that_may_hide_reps_are_in_the_queue_in_film_order(attempt: AuditRecord) -> None:
    queue = reviewed_sheet(with_hidden(attempt), []).queue
    assert [place.start_s for place in queue] == sorted(place.start_s for place in queue)
    assert [place.rep is None for place in queue] == [True, False, False, False]
    assert [place.rep.measured.number for place in queue if place.rep] == [7, 12, 18]


def test_doubt_of_a_hidden_stretch_is_four_times_the_variance_of_its_good_reps(
    attempt: AuditRecord,
) -> None:
    """By hand: none 0.75, one 0.2, two 0.05, each an even bet, so good none 0.8625, one 0.125."""
    mean = 0.2 * 0.5 + 0.05 * 1.0
    square = 0.2 * 0.5 + 0.05 * (0.5 * 1 + 0.25 * 4)
    plain = triage_of(reviewed_sheet(attempt, []), film_in_doubt=False)
    hidden = triage_of(reviewed_sheet(with_hidden(attempt), []), film_in_doubt=False)
    assert hidden.doubt - plain.doubt == pytest.approx(4 * (square - mean**2))
