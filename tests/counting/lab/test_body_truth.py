"""From labelled films on disk to a calibration table."""

import json

import numpy as np
import pytest
from synthetic.labelled import label, landmark_file

from counting.checks.table import load_table
from counting.lab.body_truth import read_body_truth
from counting.lab.calibrate import main
from counting.lab.reading_code import landmark_digest, reading_digest


@pytest.fixture(scope="module")
def films(tmp_path_factory):
    root = tmp_path_factory.mktemp("labelled")
    (root / "tracks").mkdir()
    for name, body, view_deg in (("ann_side", "ann", 80.0), ("bo_side", "bo", 95.0)):
        track = label(root / "films" / name, body, view_deg)
        (root / "tracks" / f"{name}.npz").write_bytes(landmark_file(track))
    return root


def test_the_truth_is_read(films):
    film = read_body_truth(films / "films" / "ann_side")
    assert (film.name, film.body, film.movement.name) == ("ann_side", "ann", "air squat")
    assert film.view_deg == 80.0
    assert [rep.number for rep in film.reps] == [1, 2, 3]
    assert all(rep.start_index < rep.turn_index < rep.end_index for rep in film.reps)


def test_a_stated_margin_is_turned_back_into_a_value(films):
    film = read_body_truth(films / "films" / "ann_side")
    depth = film.movement.checks[0]
    for rep, margins in zip(film.reps, film.margins, strict=True):
        assert film.true_value(rep, depth) == pytest.approx(-margins["depth"])


def test_without_a_margin_the_extreme_of_the_phase_is_taken(films):
    film = read_body_truth(films / "films" / "ann_side")
    knees = next(check for check in film.movement.checks if check.name == "knees")
    rows = (film.time_s >= film.reps[0].turn_s) & (film.time_s <= film.reps[0].end_s)
    expected = film.measures["left_knee"][rows].max()
    assert film.true_value(film.reps[0], knees) == pytest.approx(expected)


def test_what_the_truth_does_not_state_is_unknown(films):
    film = read_body_truth(films / "films" / "ann_side")
    assert film.true_series("chin above bar") is None


def film_of_one_frame(folder, movement, measures, **joints):
    """A film of one frame and no repetition; joints are heights in metres."""
    folder.mkdir()
    truth = {"movement": movement, "body": "ann", "camera": {"az": 0.0}, "reps": []}
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")
    sides = {f"{side}_{name}": z for name, z in joints.items() for side in ("left", "right")}
    np.savez(
        folder / "frames.npz",
        t=[0.0],
        measure_names=list(measures),
        measures=[list(measures.values())],
        joint_names=list(sides),
        joints_m=[[(0.0, 0.0, z) for z in sides.values()]],
    )
    return read_body_truth(folder)


@pytest.mark.parametrize(
    ("movement", "measures", "quantity", "true"),
    [
        ("t2b", {"toe_bar_gap_cm": 9.0}, "feet to bar gap", 9.0),
        ("lunge", {"knee_floor_cm": 3.0}, "knee above floor", 3.0),
        ("kb", {"wrist_above_crown_cm": 14.5}, "wrists above crown", 14.5),
        ("situp", {"left_hip": 70.0, "right_hip": 60.0}, "hip angle", 60.0),
        ("ohs", {"left_elbow": 170.0, "right_elbow": 160.0}, "elbow angle", 160.0),
        (
            "squat_clean",
            {"left_crease_above_kneetop_cm": -3.0, "right_crease_above_kneetop_cm": 2.0},
            "hip crease above knee top",
            2.0,
        ),
    ],
)
def test_a_measure_of_the_frames_is_the_quantity_that_it_measures(
    tmp_path, movement, measures, quantity, true
):
    film = film_of_one_frame(tmp_path / "film", movement, measures, wrist=1.0, eye=1.6)
    assert film.true_series(quantity) == pytest.approx([true])


def test_the_head_is_above_the_floor_by_what_the_hands_are_less_what_they_are_above_it(tmp_path):
    film = film_of_one_frame(tmp_path / "film", "hspu", {"wrist_above_crown_cm": 4.0}, wrist=0.06)
    assert film.true_series("head above floor") == pytest.approx([2.0])


def test_what_has_no_measure_is_taken_from_the_joints(tmp_path):
    heights = {"wrist": 2.0, "eye": 1.7, "knee": 1.9, "elbow": 1.95}
    film = film_of_one_frame(tmp_path / "film", "t2b", {"chest_floor_cm": 90.0}, **heights)
    assert film.true_series("knees above elbows") == pytest.approx([-5.0])
    assert film.true_series("wrists above crown") == pytest.approx([19.0])
    assert film.true_series("head above floor") is None


def calibrated(films, *folders):
    out = films / "table.json"
    main(
        [
            *(str(films / "films"), *map(str, folders)),
            *("--tracks", str(films / "tracks")),
            *("--readings", str(films / "kept.xz"), "--out", str(out)),
        ]
    )
    return load_table(out)


@pytest.mark.slow
def test_the_command_writes_a_table_and_prints_its_errors(films, capsys):
    (films / "films" / "nobody").mkdir(exist_ok=True)
    table = calibrated(films)
    entry = table.entries["hip crease above knee top / standing"]
    assert entry.films["side"] == 2
    assert 0.0 < entry.between["side"] < 8.0
    assert table.made_from.words == "2 rendered films of 2 bodies"
    assert table.made_from.landmarks == landmark_digest()
    assert table.made_from.reading == reading_digest()
    assert set(table.made_from.films) == {"ann_side", "bo_side"}
    assert "hip crease above knee top / standing" in capsys.readouterr().out


def test_a_film_without_landmarks_is_left_out_by_name(films, capsys):
    lonely = films / "lonely"
    label(lonely / "cy_side", "cy", 85.0)
    calibrated(films, lonely)
    assert "cy_side: no landmark file" in capsys.readouterr().err
