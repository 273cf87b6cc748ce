"""Labelled films of a figure on disk, as a renderer of athletes leaves them."""

import json
from pathlib import Path

import numpy as np

from counting.quantities.features import inner_angle_deg
from synthetic.figure import Camera, landmarks
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres
from vision.arrays import packed
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack, track_arrays

DEPTHS = (1.0, 0.85, 0.95)
STATURE_M = 1.8


def landmark_file(track: PoseTrack) -> bytes:
    """Give a landmark file as audits keep it."""
    return packed(track_arrays(track), "repwitness")


def label(folder: Path, body: str, view_deg: float) -> PoseTrack:
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
