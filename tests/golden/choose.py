"""Make the landmark files from labelled films: two cycles of each.

python -m tests.golden.choose TRACK.npz TRUTH.json [TRACK.npz TRUTH.json ...]
"""

import json
import sys
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from tests.golden.compact import pack
from tests.golden.reference import FOLDER
from vision.track import PoseTrack, load_track

CYCLES = 2
MARGIN_S = 1.0
LONGEST_S = 13.0
NAMES = {
    "press": "strict press",
    "c2b": "chest-to-bar pull-up",
    "muscle_up": "bar muscle-up",
    "pull_up": "pull-up",
    "push_up": "push-up",
}


def stretch(track: PoseTrack, start_s: float, end_s: float) -> PoseTrack:
    """Cut a track between two times; its clock starts anew."""
    inside = (track.time_s >= start_s) & (track.time_s <= end_s)
    cut: dict[str, Any] = {}
    for field in fields(PoseTrack):
        value = getattr(track, field.name)
        cut[field.name] = value[inside] if isinstance(value, np.ndarray) else value
    cut["time_s"] = cut["time_s"] - cut["time_s"][0]
    return replace(track, **cut)


def main() -> None:
    """Run from the command line."""
    for track_file, truth_file in zip(sys.argv[1::2], sys.argv[2::2], strict=True):
        truth = json.loads(Path(truth_file).read_text(encoding="utf-8"))
        cycles = truth["reps"]
        # Cycles around a no-rep where there is one, so that both verdicts are kept.
        faults = [number for number, rep in enumerate(cycles) if rep["no_rep"]]
        first = max(0, min(faults[0] - 1 if faults else 1, len(cycles) - CYCLES))
        chosen = cycles[first : first + CYCLES]
        while chosen[-1]["end"] - chosen[0]["start"] > LONGEST_S and len(chosen) > 1:
            chosen = chosen[:-1]
        start_s, end_s = chosen[0]["start"] - MARGIN_S, chosen[-1]["end"] + MARGIN_S
        movement = truth["movement"]
        facts = {
            "movement": NAMES.get(movement, movement.replace("_", " ")),
            "no_rep": [bool(rep["no_rep"]) for rep in chosen],
        }
        track = stretch(load_track(Path(track_file)), start_s, end_s)
        target = FOLDER / "landmarks" / f"{Path(track_file).stem.replace('held_', 'more_')}.xz"
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(pack(track, facts))
        print(target.name, track.frames, "frames", target.stat().st_size, "bytes", facts)


if __name__ == "__main__":
    main()
