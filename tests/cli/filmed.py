"""An audit whose film lies beside it: a figure that squats, on grey pictures."""

from pathlib import Path
from typing import Any

import av
import msgspec
import numpy as np
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from cli.audit.kept import LANDMARKS, Kept
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.types import AuditRecord
from vision.film.reading import read_film
from vision.track import PoseTrack, track_arrays


def filmed_audit(place: Path, attempt: AuditRecord, **check: Any) -> tuple[Path, AuditRecord]:
    """Make ``attempt.mp4`` and ``attempt.audit`` with one rep of one check, changed as asked."""
    track = squat_track()
    film = read_film(grey_film(place / "attempt.mp4", track.frames))
    part = attempt.reps[0]
    changed = replace(part.checks[0], **{"at_s": 1.0, "value": 5.0, "uncertainty": 1.0} | check)
    folder = place / "attempt.audit"
    file = Kept(folder, LANDMARKS).put(film.sha256, track_arrays(track))
    record = sealed(
        replace(
            attempt,
            film=replace(attempt.film, file="attempt.mp4", sha256=film.sha256),
            reps=[replace(part, start_s=0.3, turn_s=1.0, end_s=2.0, checks=[changed])],
            sets=[],
            breaks=[],
            pauses=[],
            series=None,
            landmarks_file=file.name,
        )
    )
    (folder / "audit.json").write_text(record_json(record), encoding="utf-8")
    return folder, record


def squat_track() -> PoseTrack:
    """Give the landmarks of one squat."""
    script = Script(standing())
    script.hold(0.3).move(squat(), 0.6).hold(0.3).move(standing(), 0.6).hold(0.3)
    return play_in_metres(script, Camera(view_deg=70.0, width_px=360, height_px=640, focal_px=450))


def grey_film(path: Path, frames: int, rate: int = 20) -> Path:
    """Write a film of grey pictures."""
    with av.open(str(path), "w") as sink:
        stream = sink.add_stream("libx264", rate=rate)
        stream.width, stream.height, stream.pix_fmt = 360, 640, "yuv420p"
        for _ in range(frames):
            picture = av.VideoFrame.from_ndarray(np.full((640, 360, 3), 128, np.uint8), "rgb24")
            for packet in stream.encode(picture):
                sink.mux(packet)
        for packet in stream.encode():
            sink.mux(packet)
    return path


replace = msgspec.structs.replace
