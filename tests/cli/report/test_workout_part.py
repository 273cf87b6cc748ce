from typing import Any

import msgspec
import pytest

from cli.report.page import report_html
from cli.report.workout import headline, outcome_words, split_rows, time_shares
from counting.record.types import AuditRecord
from counting.workout.record import OutcomePart, WorkoutPart


def split(level: str, start_s: float, end_s: float, **place: Any) -> dict[str, Any]:
    return {
        "level": level,
        "start_s": start_s,
        "end_s": end_s,
        "reps": 5,
        "good": 4,
        "work_s": 0.5 * (end_s - start_s),
        "pause_s": 0.0,
        "break_s": 0.3 * (end_s - start_s),
        "transition_s": 0.2 * (end_s - start_s),
        "rest_s": 0.0,
        "cycle_s": 2.1,
        "work_to_rest": 1.0,
        **place,
    }


def stations(block: int, rounds: int) -> list[dict[str, Any]]:
    rows = [split("block", 0, 60, block=block)]
    for number in range(1, rounds + 1):
        rows.append(split("round", 0, 30, block=block, round=number))
        rows += [
            split("station", 0, 15, block=block, round=number, station=n, movement=movement)
            for n, movement in enumerate(("thruster", "pull-up"), start=1)
        ]
    return rows


def part_of(splits: list[dict[str, Any]], **score: Any) -> WorkoutPart:
    likely = {"finished": False, "reps": 14}
    document = {
        "definition": {
            "name": "Two ladders at the boathouse",
            "scoring": "for time",
            "missing_reps": "stop the count",
            "blocks": [{"rounds": 1, "stations": [{"movement": "thruster", "reps": 16}]}],
        },
        "clock": {
            "zero_s": 5.0,
            "uncertainty_s": 0.01,
            "source": "start signal",
            "confidence": 0.99,
            "words": "start signal in the sound",
            "event_uncertainty_s": 0.06,
        },
        "score": {
            "likely": likely,
            "worst": {"finished": False, "reps": 13},
            "best": {"finished": True, "reps": 16, "time_s": 95.26},
            "within": 0.98,
            "distribution": [],
            "counting": "reps in turn",
            "reps_asked": 16,
            "rounds_done": 0,
            "reps_in_round": 14,
            "good_reps": 14,
            "missing_reps": 0,
            "penalties_s": 0.0,
            "time_uncertainty_s": 0.1,
            "tie_break": None,
            "undecided": [],
            **score,
        },
        "stations": [],
        "flags": [{"kind": "short rest", "at_s": 84.2, "words": "rested 8.1 s of 10 s"}],
        "splits": splits,
    }
    return msgspec.convert(document, WorkoutPart)


@pytest.fixture
def workout(attempt: AuditRecord) -> AuditRecord:
    """The invented attempt as a workout of two blocks, the first of two rounds."""
    rows = [split("workout", 0, 120), *stations(1, 2), *stations(2, 1)]
    return msgspec.structs.replace(attempt, workout=part_of(rows))


def read(record: AuditRecord) -> WorkoutPart:
    part = record.workout
    assert part is not None
    return part


def test_the_score_heads_the_report_with_its_interval(workout: AuditRecord) -> None:
    head = headline(read(workout))
    assert head.value == "14 reps"
    assert head.words == "most likely; between 13 reps and a finish in 1:35.3 (98 % sure)"
    assert "14 of 16 reps done" in head.details


def test_a_finished_workout_is_a_time_and_an_unfinished_one_reps() -> None:
    assert outcome_words(OutcomePart(finished=True, reps=16, time_s=95.26)) == "1:35.3"
    assert outcome_words(OutcomePart(finished=False, reps=1)) == "1 rep"


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ({}, "1:10.0"),
        ({"earliest_end_s": 67.95, "latest_end_s": 72.0}, "1:10.0 (1:08.0 to 1:12.0)"),
    ],
)
def test_a_split_that_hangs_on_an_open_call_tells_its_range(
    attempt: AuditRecord, ends: dict[str, float], words: str
) -> None:
    lines = stations(1, 1)
    lines[-1] |= {"end_s": 70.0, **ends}
    record = msgspec.structs.replace(attempt, workout=part_of(lines))
    assert split_rows(read(record))[-1].cells[1] == words


def test_splits_stand_under_what_they_are_part_of(workout: AuditRecord) -> None:
    assert [(row.level, row.name) for row in split_rows(read(workout))] == [
        ("block", "block 1"),
        ("round", "round 1"),
        ("station", "thruster"),
        ("station", "pull-up"),
        ("round", "round 2"),
        ("station", "thruster"),
        ("station", "pull-up"),
        ("block", "block 2"),
        ("station", "thruster"),
        ("station", "pull-up"),
    ]


def test_where_the_time_went_is_told_by_the_workouts_clock(workout: AuditRecord) -> None:
    shares = {part.what: part.duration_s for part in time_shares(workout, read(workout))}
    assert shares == pytest.approx(
        {"moving": 60.0, "breaks between sets": 36.0, "changing over": 24.0}
    )


def test_the_page_shows_score_splits_and_what_a_judge_would_stop_at(workout: AuditRecord) -> None:
    html = report_html(workout)
    assert "14 reps" in html
    assert "1:24.2: rested 8.1 s of 10 s" in html
    assert html.count('class="split-station"') == 6


def test_a_tie_break_that_was_not_reached_is_said_so(attempt: AuditRecord) -> None:
    tie = {
        "words": "end of block 1",
        "time_s": None,
        "earliest_s": None,
        "latest_s": None,
        "uncertainty_s": 0.1,
        "reached": 0.0,
    }
    record = msgspec.structs.replace(attempt, workout=part_of([], tie_break=tie))
    assert "tie-break not reached" in headline(read(record)).details
