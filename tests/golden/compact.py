"""Landmarks in a few kilobytes: rounded, differenced over time and compressed."""

import json
import lzma
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from vision.track import PoseTrack

STEPS: Final = {
    "time_s": 90_000.0,
    "image_px": 4.0,
    "depth_px": 0.5,
    "world_m": 200.0,
    "visibility": 25.0,
    "camera_shift_px": 16.0,
    "camera_roll_rad": 4096.0,
    "error_px": 8.0,
}
"""Steps a unit: quarters of a pixel, five millimetres, four per cent. Of a landmark's error
covariance the size is kept, not the direction."""
_NOT_FOUND: Final = -(2**31)


def pack(track: PoseTrack, facts: dict[str, Any]) -> bytes:
    """Write a track and facts about it; the bytes are the same for the same input."""
    head: dict[str, Any] = {
        "facts": facts,
        "size": [track.width_px, track.height_px],
        "filled": np.flatnonzero(track.filled).tolist(),
        "identity": track.identity.tolist(),
        "shapes": {},
    }
    parts = []
    for name, steps in STEPS.items():
        values = getattr(track, name).astype(np.float64)
        found = np.isfinite(values)
        whole = np.where(found, np.rint(np.nan_to_num(values) * steps), _NOT_FOUND)
        changes = np.diff(whole.astype(np.int64), axis=0, prepend=0)
        head["shapes"][name] = list(values.shape)
        parts.append(changes.reshape(len(changes), -1).T.astype("<i8").tobytes())
    text = json.dumps(head, separators=(",", ":")).encode()
    content = len(text).to_bytes(4, "little") + text + b"".join(parts)
    return lzma.compress(content, preset=9 | lzma.PRESET_EXTREME)


def unpack(path: Path) -> tuple[PoseTrack, dict[str, Any]]:
    """Read a track and its facts."""
    content = lzma.decompress(path.read_bytes())
    length = int.from_bytes(content[:4], "little")
    head = json.loads(content[4 : 4 + length])
    place = 4 + length
    arrays: dict[str, npt.NDArray[np.float64]] = {}
    for name, shape in head["shapes"].items():
        size = int(np.prod(shape)) * 8
        changes = np.frombuffer(content[place : place + size], dtype="<i8")
        place += size
        whole = np.cumsum(changes.reshape(-1, shape[0]).T, axis=0).reshape(shape)
        arrays[name] = np.where(whole == _NOT_FOUND, np.nan, whole / STEPS[name])
    filled = np.zeros(len(head["identity"]), dtype=bool)
    filled[head["filled"]] = True
    width_px, height_px = head["size"]
    square = arrays.pop("error_px")[..., None, None] ** 2
    track = PoseTrack(
        **arrays,
        covariance_px2=square * np.eye(2),
        filled=filled,
        identity=np.array(head["identity"], dtype=np.int64),
        width_px=width_px,
        height_px=height_px,
    )
    return track, head["facts"]
