"""The figures over labelled films count what they say."""

import json
from pathlib import Path

import pytest

from counting.movements.loader import built_in_movements
from counting.workout.file import parse_workout
from counting.workout.measure import main, workout_file

TRUTH = {
    "name": "jetty_ladder",
    "stations": [],
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
    workout = parse_workout(workout_file(TRUTH), "w.toml", known)
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
