"""How far extracted landmarks lie from a labelled film's truth.

    python -m tests.bench.landmarks CLIPS [--tracks DIR] [--model full]

CLIPS is a folder of labelled clips, each with ``clip.mp4``, ``truth.json`` and ``frames.npz``
(pixel positions ``px`` of ``joint_names``, metric ones ``joints_m``, the phase and repetition of
each frame). With ``--tracks`` landmark files ``DIR/<clip>.npz`` are measured, else the films are
looked at. Errors are in percent of the athlete's stature in the picture; a frame is grossly wrong
when the mean error of its joints is over 15 %.
"""

import argparse
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from vision.pose.landmarks import Landmark
from vision.track import PoseTrack, load_track

FloatArray = npt.NDArray[np.float64]

PAIRS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
GROSS = 0.15
TURN_FRAMES = 2


@dataclass(frozen=True, slots=True)
class Measured:
    """Errors of one clip, shares of stature; ``by_joint`` medians in the order of `PAIRS`."""

    clip: str
    movement: str
    view_deg: float
    found: float
    found_in_reps: float
    gross_in_reps: float
    gross: float
    by_joint: FloatArray
    at_turns: float
    hidden_gross: float


def measure(folder: Path, track: PoseTrack) -> Measured:
    """Compare a track with the truth of a labelled clip."""
    truth = json.loads((folder / "truth.json").read_text())
    with np.load(folder / "frames.npz") as data:
        names, phase = list(data["joint_names"]), data["phase"]
        px, metres = data["px"].astype(float), data["joints_m"].astype(float)
        in_rep = data["rep"] >= 0 if "rep" in data else phase == "rep"
    joints = [f"{side}_{pair}" for side in ("left", "right") for pair in PAIRS]
    chosen = [names.index(joint) for joint in joints]
    landmarks = [int(Landmark[joint.upper()]) for joint in joints]
    n = min(len(px), track.frames)
    error = np.linalg.norm(track.image_px[:n, landmarks] - px[:n, chosen], axis=2)
    error /= (truth["height_m"] * _px_per_metre(px, metres)[:n])[:, None]
    mean = error.mean(axis=1)
    found = np.isfinite(mean)
    in_rep = in_rep[:n]
    gross = found & (mean > GROSS)
    trusted = track.visibility[:n][:, landmarks].mean(axis=1) > 0.5
    turns = np.zeros(n, dtype=bool)
    for rep in truth["reps"]:
        for moment in ("bottom", "top"):
            if rep.get(moment) is not None:
                turns |= np.abs(np.arange(n) / truth["fps"] - rep[moment]) <= (
                    (TURN_FRAMES + 0.5) / truth["fps"]
                )
    both = error.reshape(n, 2, len(PAIRS))[found & in_rep]
    by_joint = np.median(both.reshape(-1, len(PAIRS)), axis=0) if both.size else np.full(6, np.nan)
    at_turns = mean[turns & found]
    return Measured(
        clip=folder.name,
        movement=truth.get("movement", "workout"),
        view_deg=float(truth["camera"]["az"]),
        found=float(found.mean()),
        found_in_reps=float(found[in_rep].mean()),
        gross_in_reps=float(gross[in_rep].mean()),
        gross=float(gross.mean()),
        by_joint=by_joint,
        at_turns=float(np.median(at_turns)) if at_turns.size else float("nan"),
        hidden_gross=float((gross & trusted)[in_rep].mean()),
    )


def _px_per_metre(px: FloatArray, metres: FloatArray) -> FloatArray:
    """(N,) picture scale at the body: the best weak-perspective fit of its joints."""
    scale = np.empty(len(px))
    for row, (flat, solid) in enumerate(zip(px, metres, strict=True)):
        centred = solid - solid.mean(axis=0)
        matrix, *_ = np.linalg.lstsq(centred, flat - flat.mean(axis=0), rcond=1e-3)
        scale[row] = np.linalg.svd(matrix, compute_uv=False)[0]
    return scale


def _track_of(folder: Path, arguments: Any) -> PoseTrack:
    if arguments.tracks:
        return load_track(arguments.tracks / f"{folder.name}.npz")
    from vision.athlete.extraction import extract
    from vision.film.reading import read_film

    return extract(read_film(folder / "clip.mp4"), model=arguments.model)


def main() -> None:
    """Measure each clip of a folder and print one line for it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clips", type=Path)
    parser.add_argument("--tracks", type=Path)
    parser.add_argument("--model", default="full")
    parser.add_argument("--only", default="")
    arguments = parser.parse_args()
    print(
        f"{'clip':22}{'view':>6}{'found':>7}{'in reps':>8}{'gross':>7}{'in reps':>8}"
        f"{'trusted':>8}{'turns':>7}  " + "".join(f"{pair[:5]:>7}" for pair in PAIRS)
    )
    results = []
    for folder in sorted(path.parent for path in arguments.clips.glob("*/frames.npz")):
        if arguments.only and arguments.only not in folder.name:
            continue
        if arguments.tracks and not (arguments.tracks / f"{folder.name}.npz").exists():
            continue
        result = measure(folder, _track_of(folder, arguments))
        results.append(result)
        print(
            f"{result.clip:22}{result.view_deg:6.0f}{result.found:7.1%}{result.found_in_reps:8.1%}"
            f"{result.gross:7.1%}{result.gross_in_reps:8.1%}{result.hidden_gross:8.1%}"
            f"{result.at_turns:7.1%}  " + "".join(f"{value:7.1%}" for value in result.by_joint),
            flush=True,
        )
    if results:
        print(
            f"{'mean':28}{np.mean([r.found for r in results]):7.1%}"
            f"{np.mean([r.found_in_reps for r in results]):8.1%}"
            f"{np.mean([r.gross for r in results]):7.1%}"
            f"{np.mean([r.gross_in_reps for r in results]):8.1%}"
            f"{np.mean([r.hidden_gross for r in results]):8.1%}"
            f"{np.nanmean([r.at_turns for r in results]):7.1%}  "
            + "".join(
                f"{value:7.1%}" for value in np.nanmean([r.by_joint for r in results], axis=0)
            )
        )


if __name__ == "__main__":
    main()
