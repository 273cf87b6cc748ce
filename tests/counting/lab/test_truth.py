"""One reader of truth files serves all who measure against labelled films."""

import json
from pathlib import Path

import pytest

from counting.lab.body_truth import read_body_truth
from counting.lab.labels import labelled_films
from counting.lab.truth import TruthError, film_of, movement_name, read_truth, truth_files
from counting.lab.workouts import main
from counting.movements.loader import find_movement

SAMPLES = Path(__file__).parents[3] / "sample_clips"


def test_the_truth_of_every_sample_clip_is_read() -> None:
    films = truth_files(SAMPLES)
    assert set(films) == {clip.stem for clip in SAMPLES.glob("*.mp4")}
    for name, file in films.items():
        assert film_of(name, file).exists()
        truth = read_truth(file)
        assert truth.reps
        assert all(rep.start < rep.end for rep in truth.reps)
        assert (truth.named_movement() is None) == (truth.stations is not None)


def test_labels_go_by_the_standards_own_names() -> None:
    assert movement_name("c2b") == "chest-to-bar pull-up"
    assert movement_name("air_squat") == "air squat"
    assert movement_name("juggling") == "juggling"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[]", "Expected `object`, got `array`"),
        ('{"reps": [{"start": 1.0}]}', "missing required field `end`"),
        ('{"reps": [{"start": 1.0, "end": "late"}]}', r"\$\.reps\[0\]\.end"),
    ],
)
def test_whoever_reads_a_broken_file_names_it_and_the_key(
    tmp_path: Path, text: str, said: str
) -> None:
    file = tmp_path / "one" / "truth.json"
    file.parent.mkdir()
    file.write_text(text, encoding="utf-8")
    readers = [
        lambda: labelled_films(tmp_path),
        lambda: read_body_truth(tmp_path / "one"),
        lambda: main(["files", str(tmp_path), str(tmp_path / "out")]),
    ]
    for read in readers:
        with pytest.raises(TruthError, match=rf"one/truth\.json.*{said}"):
            read()


@pytest.mark.parametrize(
    ("movement", "criterion", "margin", "check", "met_by"),
    [
        ("situp", "up", -2.0, "up", -2.0),
        ("t2b", "contact", 2.5, "contact", 1.0),
        ("t2b", "contact", -6.0, "contact", -7.5),
        ("lunge", "knee_down", 3.0, "knee", 3.0),
        ("hspu", "head", -3.0, "head", -3.0),
        ("hspu", "lockout", -5.0, "lockout", -5.0),
        ("kb", "overhead", 14.6, "overhead", 14.6),
        ("ohs", "elbow", 12.0, "lockout", 12.0),
        ("squat_clean", "knees", 4.0, "knees", 4.0),
    ],
)
def test_a_margin_about_a_films_own_limit_is_one_about_the_standards(
    tmp_path: Path, movement: str, criterion: str, margin: float, check: str, met_by: float
) -> None:
    """Feet within 3 cm of the bar touch it in a film that allows it; our standard asks for 1.5."""
    rep = {"start": 0.0, "end": 2.0, "criteria": {criterion: {"margin": margin}}}
    limits = {"knee_ext_deg": 165.0, "hip_ext_deg": 165.0, "elbow_lock_deg": 165.0}
    truth = {"movement": movement, "fps": 30, "camera": {"az": 40}, "breaks": [], "reps": [rep]}
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "truth.json").write_text(json.dumps(truth | {"standard": limits}))
    ((film,), left_out) = labelled_films(tmp_path)
    assert left_out == {}
    asked = next(c for c in find_movement(film.movement).checks if c.name == check)
    assert film.reps[0].margin(asked) == pytest.approx(met_by)


def test_a_body_without_a_camera_is_refused(tmp_path: Path) -> None:
    (tmp_path / "truth.json").write_text(json.dumps({"movement": "air_squat", "reps": []}))
    with pytest.raises(TruthError, match="lacks the movement or the camera"):
        read_body_truth(tmp_path)
