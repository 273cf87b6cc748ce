"""From labelled films on disk to a calibration table."""

import json

import numpy as np
import pytest
from synthetic.figure import Camera, landmarks
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.checks.calibrate import main
from counting.checks.labelled import load_labelled
from counting.checks.table import parse_table
from counting.quantities.clues import inner_angle_deg
from vision.pose.landmarks import Landmark
from vision.track import track_bytes

DEPTHS = (1.0, 0.85, 0.95)
STATURE_M = 1.8


def label(folder, body, view_deg):
    """Film squats of a figure and write the film's truth and landmarks."""
    script, moments = Script(standing()), []
    script.hold(0.4)
    for depth in DEPTHS:
        start = script.now_s
        script.move(squat(depth), 0.6).hold(0.2)
        moments.append((start, script.now_s - 0.1, script.now_s + 0.6))
        script.move(standing(), 0.6).hold(0.3)
    camera = Camera(view_deg=view_deg)
    track = play_in_metres(script, camera, rate_hz=12.0)
    points = landmarks(script.numbers_at(track.time_s)) * STATURE_M
    hip, knee = points[:, Landmark.LEFT_HIP], points[:, Landmark.LEFT_KNEE]
    ankle, shoulder = points[:, Landmark.LEFT_ANKLE], points[:, Landmark.LEFT_SHOULDER]
    series = {
        "crease_above_kneetop_cm": 100 * (hip - knee)[:, 2] - 6.0,
        "knee": inner_angle_deg(hip, knee, ankle),
        "hip": inner_angle_deg(shoulder, hip, knee),
    }
    folder.mkdir(parents=True)
    reps = []
    for number, (start, turn, end) in enumerate(moments):
        rows = (track.time_s >= start) & (track.time_s <= end)
        depth = -float(series["crease_above_kneetop_cm"][rows].min())
        criteria = {"depth": {"margin": depth, "unit": "cm"}}
        reps.append(
            {"rep": number, "start": start, "bottom": turn, "end": end, "criteria": criteria}
        )
    truth = {"movement": "air_squat", "body": body, "camera": {"az": -view_deg, "dist": 4.0,
             "height": 1.0}, "reps": reps}  # fmt: skip
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")
    names = [f"{side}_{name}" for side in ("left", "right") for name in series]
    joints = [landmark.name.lower() for landmark in Landmark]
    np.savez(
        folder / "frames.npz",
        t=track.time_s,
        measure_names=names,
        measures=np.stack([series[name.split("_", 1)[1]] for name in names], axis=1),
        joint_names=joints,
        joints_m=points,
    )
    return track


@pytest.fixture(scope="module")
def films(tmp_path_factory):
    root = tmp_path_factory.mktemp("labelled")
    (root / "tracks").mkdir()
    for name, body, view_deg in (("ann_side", "ann", 80.0), ("bo_side", "bo", 95.0)):
        track = label(root / "films" / name, body, view_deg)
        (root / "tracks" / f"{name}.npz").write_bytes(track_bytes(track))
    return root


def test_the_truth_is_read(films):
    film = load_labelled(films / "films" / "ann_side")
    assert (film.name, film.body, film.movement.name) == ("ann_side", "ann", "air squat")
    assert film.view_deg == 80.0
    assert [rep.number for rep in film.reps] == [1, 2, 3]
    assert all(rep.start_index < rep.turn_index < rep.end_index for rep in film.reps)


def test_a_stated_margin_is_turned_back_into_a_value(films):
    film = load_labelled(films / "films" / "ann_side")
    depth = film.movement.checks[0]
    for rep, margins in zip(film.reps, film.margins, strict=True):
        assert film.true_value(rep, depth) == pytest.approx(-margins["depth"])


def test_without_a_margin_the_extreme_of_the_phase_is_taken(films):
    film = load_labelled(films / "films" / "ann_side")
    knees = next(check for check in film.movement.checks if check.name == "knees")
    rows = (film.time_s >= film.reps[0].turn_s) & (film.time_s <= film.reps[0].end_s)
    expected = film.measures["left_knee"][rows].max()
    assert film.true_value(film.reps[0], knees) == pytest.approx(expected)


def test_what_the_truth_does_not_state_is_unknown(films):
    film = load_labelled(films / "films" / "ann_side")
    assert film.true_series("chin above bar") is None


def test_the_command_writes_a_table_and_prints_its_errors(films, capsys):
    out = films / "table.json"
    (films / "films" / "nobody").mkdir(exist_ok=True)
    main([str(films / "films"), "--tracks", str(films / "tracks"), "--out", str(out)])
    table = parse_table(json.loads(out.read_text(encoding="utf-8")))
    entry = table.entries["hip crease above knee top / standing"]
    assert entry.films["side"] == 2
    assert entry.between["side"] < 4.0
    assert "2 rendered films of 2 bodies" in table.made_from
    assert "hip crease above knee top / standing" in capsys.readouterr().out


def test_a_film_without_landmarks_is_left_out_by_name(films, capsys):
    lonely = films / "lonely"
    label(lonely / "cy_side", "cy", 85.0)
    main([str(films / "films"), str(lonely), "--tracks", str(films / "tracks")])
    assert "cy_side: no landmark file" in capsys.readouterr().err
