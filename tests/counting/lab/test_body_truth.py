"""From labelled films on disk to a calibration table."""

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
