"""The figures over labelled films count what they say."""

import json
from pathlib import Path

import numpy as np
import pytest
from msgspec import convert

from counting.lab.truth import Truth
from counting.lab.workouts import agreement, main, with_complete_times, workout_file
from counting.movements.loader import built_in_movements
from counting.record.files import record_json
from counting.workout.file import parse_workout
from tests.counting.workout.attempts import CLEAN, COUPLET, done

TRUTH = {
    "name": "jetty_ladder",
    "stations": [],
    "reps": [],
    "config": {
        "blocks": [
            {
                "rounds": 2,
                "rest_after_s": 12,
                "stations": [
                    {"movement": "thruster", "sets": [3]},
                    {"movement": "c2b", "sets": [2, 2]},
                ],
            },
            {"rounds": 1, "stations": [{"movement": "muscle_up", "sets": [1, 1]}]},
        ]
    },
}


def test_a_labelled_film_becomes_a_workout_file_that_loads() -> None:
    known = [movement.name for movement in built_in_movements()]
    workout = parse_workout(workout_file(convert(TRUTH, Truth)), "w.toml", known)
    assert workout.blocks[0].rest_after_s == 12
    assert [station.movement for station in workout.blocks[0].stations] == [
        "thruster",
        "chest-to-bar pull-up",
    ]
    assert workout.blocks[0].stations[1].reps == 4
    assert workout.tie_break is not None


def test_files_are_written_for_every_film(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "clips" / "jetty_ladder").mkdir(parents=True)
    (tmp_path / "clips" / "jetty_ladder" / "truth.json").write_text(json.dumps(TRUTH))
    assert main(["files", str(tmp_path / "clips"), str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "jetty_ladder.toml").exists()
    assert main(["figures", str(tmp_path / "clips"), str(tmp_path / "none")]) == 3
    assert main([]) == 2
    assert "no audits" in capsys.readouterr().err


SHORT_NAMES = {"thruster": "thruster", "pull-up": "pull_up", "bar muscle-up": "muscle_up"}


def truth_of_clean() -> dict[str, object]:
    """Truth of the clean attempt: reps of 2 s, complete after 1.5 s of them."""
    places = [(0, 0, 0), (0, 0, 1), (0, 1, 0), (0, 1, 1), (1, 0, 0)]
    reps = [
        {
            "movement": SHORT_NAMES[movement],
            "block": place[0],
            "round": place[1],
            "station": place[2],
            "start": 5.0 + begin_s + 2.0 * index,
            "top": 6.5 + begin_s + 2.0 * index,
            "end": 7.0 + begin_s + 2.0 * index,
            "no_rep": False,
            "criteria": {"depth": {"margin": 1.0 if index == 0 else 9.0, "unit": "cm"}},
        }
        for place, (_, movement, calls, begin_s) in zip(places, CLEAN, strict=True)
        for index in range(len(calls))
    ]
    return {"stations": [], "reps": reps, "clock_zero_s": 5.0, "start_signal_s": 4.98}


def test_an_audit_like_the_truth_agrees_in_every_figure() -> None:
    record, _ = done(*CLEAN)
    found = agreement("clean", convert(truth_of_clean(), Truth), record)
    assert (found.reps, found.placed, found.invented) == (12, 12, 0)
    assert (found.holds, found.truth, found.width, found.marginal) == (True, 12, 0, 5)
    assert found.start_error_s == pytest.approx(0.02)
    assert found.tie_break_error_s == pytest.approx(0.0)
    assert found.split_errors_s == pytest.approx([0.0] * 5)


def test_a_missed_and_a_misplaced_rep_show(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record, _ = done((0, "thruster", "gg", 2.0), (3, "pull-up", "gg", 12.0), *CLEAN[2:])
    found = agreement("faulty", convert(truth_of_clean(), Truth), record)
    assert (found.reps, found.placed, found.invented) == (12, 9, 0)
    assert not found.holds
    (tmp_path / "clips" / "faulty").mkdir(parents=True)
    (tmp_path / "clips" / "faulty" / "truth.json").write_text(json.dumps(truth_of_clean()))
    (tmp_path / "audits" / "faulty").mkdir(parents=True)
    (tmp_path / "audits" / "faulty" / "audit.json").write_text(record_json(record))
    assert main(["figures", str(tmp_path / "clips"), str(tmp_path / "audits")]) == 0
    assert "9 of 12 reps (75.0 %)" in capsys.readouterr().out


def test_the_moment_of_completion_is_read_from_the_true_body(tmp_path: Path) -> None:
    time_s = np.arange(0.0, 3.0, 0.1)
    chin_cm = -30.0 + 40.0 * np.sin(np.pi * np.clip(time_s / 2.0, 0.0, 1.0))
    np.savez(
        tmp_path / "frames.npz",
        t=time_s,
        measure_names=np.array(["chin_above_bar_cm"]),
        measures=chin_cm[:, None],
    )
    truth = {"reps": [{"movement": "pull_up", "start": 0.0, "top": 1.0, "end": 2.0}]}
    (rep,) = with_complete_times(convert(truth, Truth), tmp_path / "frames.npz").reps
    # the sine passes 30/40 at 0.54 s: the first frame after it is at 0.6 s
    assert rep.complete == pytest.approx(0.6)


def test_a_burpee_is_complete_in_the_air_not_in_the_plank(tmp_path: Path) -> None:
    """In the plank and at the top of the jump hips are straight and heels up; hands are not."""
    time_s = np.arange(0.0, 4.0, 0.1)
    plank, jump = (time_s > 1.0) & (time_s < 2.0), (time_s > 2.95) & (time_s < 3.35)
    joints = ("nose", "wrist", "shoulder", "knee", "ankle")
    standing = dict(zip(joints, (165.0, 95.0, 145.0, 50.0, 8.0), strict=True))
    lying = dict(zip(joints, (0.0, 4.0, 10.0, 12.0, 17.0), strict=True))
    flying = dict(zip(joints, (176.0, 210.0, 160.0, 60.0, 17.0), strict=True))
    names = [
        name if name == "nose" else f"{s}_{name}" for name in joints for s in ("left", "right")
    ]
    names = list(dict.fromkeys(names))
    joints_m = np.zeros((time_s.size, len(names), 3))
    for index, name in enumerate(names):
        part = name.split("_")[-1]
        height_cm = np.where(plank, lying[part], np.where(jump, flying[part], standing[part]))
        joints_m[:, index, 2] = height_cm / 100.0
    np.savez(
        tmp_path / "frames.npz",
        t=time_s,
        measure_names=np.array(["left_hip", "right_hip"]),
        measures=np.full((time_s.size, 2), 170.0),
        joint_names=np.array(names),
        joints_m=joints_m,
    )
    truth = {"reps": [{"movement": "burpee", "start": 0.0, "bottom": 1.5, "top": 2.6, "end": 3.9}]}
    (rep,) = with_complete_times(convert(truth, Truth), tmp_path / "frames.npz").reps
    assert rep.complete == pytest.approx(3.0)


def test_the_workout_of_the_tests_is_the_one_in_the_record() -> None:
    assert done(*CLEAN)[1].definition == COUPLET
