"""Labelled films of a figure on disk, as a renderer of athletes leaves them."""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from counting.quantities.features import inner_angle_deg
from synthetic.figure import Camera, Posture, landmarks
from synthetic.films import squat, standing
from synthetic.moves import on_the_back
from synthetic.script import Script
from synthetic.world import play_in_metres
from vision.arrays import packed
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack, track_arrays

DEPTHS = (1.0, 0.85, 0.95)
SITTING_UP = (1.0, 0.62, 0.95, 0.7)
"""How far the trunk of each sit-up comes up, 1 all the way: the second and fourth fall short."""
STATURE_M = 1.8

Moment = tuple[float, float, float]
"""Start, turn and end of a repetition, seconds."""


def landmark_file(track: PoseTrack) -> bytes:
    """Give a landmark file as audits keep it."""
    return packed(track_arrays(track), "repwitness")


def label(folder: Path, body: str, view_deg: float) -> PoseTrack:
    """Film squats of a figure and write the film's truth and landmarks."""
    script = Script(standing()).hold(0.4)
    moments = [_there_and_back(script, squat(depth), standing(), 0.6) for depth in DEPTHS]
    track = play_in_metres(script, Camera(view_deg=view_deg), rate_hz=12.0)
    points = landmarks(script.numbers_at(track.time_s)) * STATURE_M
    series = _of_legs(points)
    depths = [-_lowest(track, series["crease_above_kneetop_cm"], moment) for moment in moments]
    criteria = [{"depth": {"margin": depth, "unit": "cm"}} for depth in depths]
    _write(folder, "air_squat", body, view_deg, track, points, series, moments, "bottom", criteria)
    return track


def label_sit_ups(folder: Path, body: str, view_deg: float, seed: int) -> PoseTrack:
    """Film sit-ups, a movement of phases, of a figure whose landmarks tremble."""
    rng = np.random.default_rng(seed)
    lying = on_the_back(0.0)
    script = Script(lying).hold(0.8)
    ups = [up + rng.uniform(-0.03, 0.03) for up in SITTING_UP]
    moments = [_there_and_back(script, on_the_back(up), lying, 0.9) for up in ups]
    camera = Camera(view_deg=view_deg, distance=3.0 + 0.1 * seed)
    track = play_in_metres(script, camera, rate_hz=12.0, noise=0.002, seed=seed)
    points = landmarks(script.numbers_at(track.time_s)) * STATURE_M
    series = _of_legs(points)
    # the margin is about a limit of the renderer's own, which nobody here asks for
    lowest = [_lowest(track, series["hip"], moment) for moment in moments]
    criteria = [{"up": {"margin": 75.0 - angle, "unit": "deg"}} for angle in lowest]
    _write(folder, "situp", body, view_deg, track, points, series, moments, "top", criteria)
    return track


def _there_and_back(script: Script, there: Posture, back: Posture, seconds: float) -> Moment:
    start = script.now_s
    script.move(there, seconds).hold(0.2)
    moment = (start, script.now_s - 0.1, script.now_s + seconds)
    script.move(back, seconds).hold(0.3)
    return moment


def _of_legs(points: np.ndarray) -> dict[str, np.ndarray]:
    hip, knee = points[:, Landmark.LEFT_HIP], points[:, Landmark.LEFT_KNEE]
    ankle, shoulder = points[:, Landmark.LEFT_ANKLE], points[:, Landmark.LEFT_SHOULDER]
    return {
        "crease_above_kneetop_cm": 100 * (hip - knee)[:, 2] - 6.0,
        "knee": inner_angle_deg(hip, knee, ankle),
        "hip": inner_angle_deg(shoulder, hip, knee),
    }


def _lowest(track: PoseTrack, series: np.ndarray, moment: Moment) -> float:
    start, _, end = moment
    return float(series[(track.time_s >= start) & (track.time_s <= end)].min())


def _write(
    folder: Path,
    movement: str,
    body: str,
    view_deg: float,
    track: PoseTrack,
    points: np.ndarray,
    series: dict[str, np.ndarray],
    moments: Sequence[Moment],
    turn: str,
    criteria: Sequence[dict[str, dict[str, object]]],
) -> None:
    folder.mkdir(parents=True)
    reps = [
        {"rep": number, "start": start, turn: turn_s, "end": end, "criteria": criteria[number]}
        for number, (start, turn_s, end) in enumerate(moments)
    ]
    camera = {"az": -view_deg, "dist": 4.0, "height": 1.0}
    truth = {"movement": movement, "body": body, "camera": camera, "reps": reps}
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
