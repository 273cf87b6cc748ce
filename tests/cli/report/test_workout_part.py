from typing import Any

import msgspec
import pytest

from cli.answer import answer_of
from cli.report.page import report_html
from cli.report.workout import score_details, split_rows, time_shares
from cli.scores import clock_stop_s, outcome_words, range_words, tie_break_words
from counting.record.types import AuditRecord
from counting.workout.record import OutcomePart, TieBreakPart, WorkoutPart


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
            "distribution": [
                {"finished": False, "reps": 13, "probability": 0.1},
                {"finished": False, "reps": 14, "probability": 0.3},
                {"finished": True, "reps": 16, "probability": 0.6},
            ],
            "counting": "reps in turn",
            "reps_asked": 16,
            "rounds_done": 0,
            "reps_in_round": 14,
            "good_reps": 14,
            "missing_reps": 0,
            "penalties_s": 0.0,
            "time_uncertainty_s": 0.1,
            "tie_break": None,
            "undecided": [open_call(11), open_call(13)],
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
    answer, details = answer_of(workout), score_details(read(workout))
    assert answer.workout == "Two ladders at the boathouse"
    assert answer.value == "13 reps to a finish in 1:35.5"
    assert answer.words == (
        "most probable: a finish (60 %); "
        "finish 1:35.5 if reps 11 and 13 both count; 13 reps if neither does"
    )
    assert "98 % sure that the score lies in this range" in details
    assert "clock starts at the beep, 0:05.0 of the film (99 % sure)" in details


def test_the_chart_shows_the_score_and_not_all_good_reps(workout: AuditRecord) -> None:
    html = report_html(workout)
    assert "Probability of each count: 13 reps 10 %, 14 reps 30 %, finish 60 %" in html


def open_call(rep: int) -> dict[str, Any]:
    fourteen = {"finished": False, "reps": 14}
    return {"rep": rep, "why": "too close", "if_good": fourteen, "if_no_rep": fourteen}


@pytest.mark.parametrize(
    ("open_reps", "words"),
    [
        ([], "every rep is called"),
        ([11], "finish 1:35.5 if rep 11 counts; otherwise 13 reps"),
        ([3, 7, 9], "finish 1:35.5 if reps 3, 7 and 9 all count; 13 reps if none does"),
        (list(range(1, 9)), "finish 1:35.5 if the 8 uncalled reps all count; 13 reps if none does"),
    ],
)
def test_the_range_says_on_which_reps_it_hangs(open_reps: list[int], words: str) -> None:
    assert range_words(part_of([], undecided=[open_call(rep) for rep in open_reps])) == words


def test_open_reps_that_change_nothing_are_said_to_change_nothing() -> None:
    same = {"finished": False, "reps": 14}
    part = part_of([], undecided=[open_call(3)], worst=same, best=same)
    assert range_words(part) == "the uncalled reps cannot change it"


def test_an_unsure_tie_break_tells_the_chance_that_the_block_was_completed() -> None:
    tie = TieBreakPart(
        words="end of block 1",
        time_s=62.04,
        earliest_s=62.0,
        latest_s=64.0,
        uncertainty_s=0.1,
        reached=0.62,
    )
    assert tie_break_words(tie) == (
        "1:02.0 (end of block 1), between 1:02.0 and 1:04.0; 62 % chance that block 1 was completed"
    )


def test_the_clock_stops_at_the_finish_without_its_penalties(attempt: AuditRecord) -> None:
    done = {"finished": True, "reps": 16, "time_s": 70.0}
    record = msgspec.structs.replace(attempt, workout=part_of([], likely=done, penalties_s=10.0))
    assert clock_stop_s(record) == 65.0
    assert clock_stop_s(msgspec.structs.replace(attempt, workout=part_of([]))) is None


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
    assert shares == pytest.approx({"moving": 60.0, "breaks": 36.0, "transition": 24.0})


def test_the_page_shows_score_splits_and_what_a_judge_would_stop_at(workout: AuditRecord) -> None:
    html = report_html(msgspec.structs.replace(workout, start_s=5.0))
    assert "<h1>Two ladders at the boathouse</h1>" in html
    assert "13 reps to a finish in 1:35.5" in html
    assert "1:19.2 (film 1:24.2): rested 8.1 s of 10 s" in html
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
    assert "tie-break: not reached (end of block 1)" in score_details(read(record))
