"""What stated probabilities are worth, learnt from films judged as users' films are."""

import json

import numpy as np
import pytest
from synthetic.labelled import label

from counting.checks.table import packaged_table, parse_table
from counting.decision.conformance import Risk
from counting.decision.reliability import AS_STATED
from counting.lab.body_truth import films_with_landmarks
from counting.lab.held_out import judged_reps
from counting.lab.verdict_tables import JudgedCheck
from counting.lab.worth import main, stated_checks, stated_reps, worth_of
from vision.track import track_bytes


def check(stated, met):
    return JudgedCheck(
        quantity="elbow angle",
        unit="deg",
        value=170.0,
        uncertainty=5.0,
        true_value=170.0,
        true_margin=5.0 if met else -5.0,
        probability_met=stated,
    )


def test_what_is_stated_too_carefully_is_worth_more():
    checks = [check(0.9, number % 50 != 0) for number in range(500)]
    assert worth_of(checks).corrected(np.array([0.9]))[0] == pytest.approx(0.98, abs=0.005)


def test_what_is_stated_too_boldly_is_worth_less():
    checks = [check(0.98, number % 10 != 0) for number in range(500)]
    assert worth_of(checks).corrected(np.array([0.98]))[0] == pytest.approx(0.9, abs=0.01)


def test_nothing_is_learnt_from_nothing():
    assert worth_of([]) == AS_STATED


@pytest.fixture(scope="module")
def films(tmp_path_factory):
    root = tmp_path_factory.mktemp("labelled")
    (root / "tracks").mkdir()
    for name, body in (("ann_side", "ann"), ("bo_side", "bo"), ("bo_lost", "bo")):
        track = label(root / "films" / name, body, 85.0)
        if name != "bo_lost":
            (root / "tracks" / f"{name}.npz").write_bytes(track_bytes(track))
    return root


def test_films_without_landmarks_are_left_out(films):
    read = list(films_with_landmarks([films / "films"], films / "tracks"))
    assert [film.name for film, _ in read] == ["ann_side", "bo_side"]


def test_checks_are_those_of_the_table_without_its_correction(films):
    read = list(films_with_landmarks([films / "films"], films / "tracks"))
    reps = stated_reps(read, packaged_table())
    assert {body for body, _ in reps} == {"ann", "bo"}
    checks = stated_checks([rep for _, rep in reps])
    assert len(checks) == 2 * 3 * 3
    corrected = [
        check.probability_met
        for film, track in read
        for rep in judged_reps(film, track, Risk(), packaged_table())
        for check in rep.checks
    ]
    stated = np.array([check.probability_met for check in checks])
    assert packaged_table().reliability.corrected(stated) == pytest.approx(corrected)


def test_only_the_correction_of_the_table_changes(films, tmp_path, capsys):
    out = tmp_path / "table.json"
    main([str(films / "films"), "--tracks", str(films / "tracks"), "--out", str(out)])
    table = parse_table(json.loads(out.read_text(encoding="utf-8")))
    assert table.entries == packaged_table().entries
    assert table.made_from.endswith("worth by 2 films of 2 bodies")
    shift = f"log odds {table.reliability.shift:+.2f}"
    assert f"reps: {shift}" in capsys.readouterr().out
