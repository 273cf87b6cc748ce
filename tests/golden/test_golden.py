"""From landmarks on, results are those that are kept; and no call of theirs is surely wrong."""

import json
from pathlib import Path

import pytest

from tests.golden.compact import pack, unpack
from tests.golden.reference import LANDMARKS, kept_json, moved, record_file, record_of

QUICK = LANDMARKS[::6]
ALL = [
    pytest.param(path, id=path.stem, marks=() if path in QUICK else pytest.mark.slow)
    for path in LANDMARKS
]


def test_there_are_enough_of_them() -> None:
    assert len(LANDMARKS) >= 30
    assert {path.stem for path in LANDMARKS} == {
        path.stem for path in record_file(LANDMARKS[0]).parent.glob("*.json")
    }


@pytest.mark.parametrize("landmarks", ALL)
def test_the_record_is_the_one_that_is_kept(landmarks: Path) -> None:
    track, facts = unpack(landmarks)
    found = kept_json(record_of(track, facts["movement"]))
    kept = record_file(landmarks).read_text(encoding="utf-8")
    assert moved(kept, found) == [], "understand it, then python -m tests.golden --write"
    assert found == kept


def test_what_moved_in_a_record_is_named_by_its_field() -> None:
    kept = '{"counts":{"good":2},"reps":[{"end_s":1.5,"verdict":"good"}],"warnings":[]}'
    found = '{"counts":{"good":1},"reps":[{"end_s":1.5,"verdict":"no-rep"}],"warnings":["dark"]}'
    assert moved(kept, kept) == []
    assert moved(kept, found) == [
        "counts.good: 2, now 1",
        "reps[0].verdict: good, now no-rep",
        "warnings: [], now nothing",
        "warnings[0]: nothing, now dark",
    ]


@pytest.mark.parametrize("landmarks", LANDMARKS, ids=lambda path: path.stem)
def test_no_kept_call_contradicts_the_truth_of_its_film(landmarks: Path) -> None:
    """Where as many reps were found as the film has, each sure call is the film's own."""
    _, facts = unpack(landmarks)
    reps = json.loads(record_file(landmarks).read_text(encoding="utf-8"))["reps"]
    if len(reps) != len(facts["no_rep"]):
        pytest.skip("a cycle at the edge of the stretch was not found, or found besides")
    wrong = [
        rep["number"]
        for rep, no_rep in zip(reps, facts["no_rep"], strict=True)
        if rep["verdict"] == ("good" if no_rep else "no-rep")
    ]
    assert not wrong


def test_packing_is_exact_from_the_first_rounding_on(tmp_path: Path) -> None:
    track, facts = unpack(LANDMARKS[0])
    again = tmp_path / "again.xz"
    again.write_bytes(pack(track, facts))
    assert again.read_bytes() == LANDMARKS[0].read_bytes()
