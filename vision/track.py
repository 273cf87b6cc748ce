"""The landmarks of one athlete over one film, and the file that keeps them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from vision.arrays import ArraysError, read_arrays
from vision.pose.landmarks import LANDMARK_COUNT

_SCALARS: Final = ("width_px", "height_px")
_OPTIONAL: Final = ("covariance_px2", "looked")
_DTYPES: Final = {
    "filled": np.dtype(np.bool_),
    "looked": np.dtype(np.bool_),
    "identity": np.dtype(np.int64),
    **{name: np.dtype(np.int64) for name in _SCALARS},
}

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

TRACK_FORMAT: Final = "repwitness.track/2"


class TrackError(ValueError):
    """A landmark file or array that does not have the documented shape."""


@dataclass(frozen=True, slots=True, eq=False)
class PoseTrack:
    """Landmarks of the athlete, one row a film frame.

    Attributes
    ----------
    time_s
        (N,) presentation times, strictly increasing.
    image_px
        (N, 33, 2) landmark positions in the upright picture, x right and y down, pixels.
        NaN where the athlete was not found.
    depth_px
        (N, 33) the model's depth relative to the hips in the picture's scale, pixels, positive
        away from the camera. Synthetic: a prior, not a measurement. NaN as above.
    world_m
        (N, 33, 3) the model's own metric guess, origin between the hips, x right, y down,
        z away from the camera, metres. NaN as above.
    visibility
        (N, 33) the model's probability that a landmark is in the picture and not hidden, 0 to 1;
        0 where the athlete was not found.
    filled
        (N,) True where a short gap was bridged by interpolation; such rows are no observation.
    identity
        (N,) number of the stretch of unbroken identity a row belongs to, from 0; -1 where the
        athlete was not found.
    camera_shift_px
        (N, 2) how far the still background has moved since the film's reference frame, pixels:
        subtract it from ``image_px`` for a steadied picture. 0 where it could not be measured.
    camera_roll_rad
        (N,) likewise the background's turn about the picture's centre, positive clockwise as seen.
    width_px, height_px
        Size of the upright picture.
    covariance_px2
        (N, 33, 2, 2) error covariance of each landmark's position, square pixels, hidden or not.
        NaN where not found or not known (the default).
    looked
        (N,) True where the network looked at the frame (the default). Where it did not, the
        athlete rests or moves evenly between two looks, and the row lies on the line between them.
    """

    time_s: FloatArray
    image_px: FloatArray
    depth_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    filled: BoolArray
    identity: IntArray
    camera_shift_px: FloatArray
    camera_roll_rad: FloatArray
    width_px: int
    height_px: int
    covariance_px2: FloatArray = field(default_factory=lambda: np.empty((0, 0, 2, 2)))
    looked: BoolArray = field(default_factory=lambda: np.empty(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        n = self.time_s.shape[0]
        if self.covariance_px2.size == 0:
            unknown = np.full((n, LANDMARK_COUNT, 2, 2), np.nan)
            object.__setattr__(self, "covariance_px2", unknown)
        if self.looked.size == 0:
            object.__setattr__(self, "looked", np.ones(n, dtype=np.bool_))
        expected: dict[str, tuple[int, ...]] = {
            "time_s": (n,),
            "image_px": (n, LANDMARK_COUNT, 2),
            "depth_px": (n, LANDMARK_COUNT),
            "world_m": (n, LANDMARK_COUNT, 3),
            "visibility": (n, LANDMARK_COUNT),
            "filled": (n,),
            "identity": (n,),
            "camera_shift_px": (n, 2),
            "camera_roll_rad": (n,),
            "covariance_px2": (n, LANDMARK_COUNT, 2, 2),
            "looked": (n,),
        }
        for name, shape in expected.items():
            actual = getattr(self, name).shape
            if actual != shape:
                raise TrackError(f"{name} has shape {actual}, expected {shape}")
        if n and not np.all(np.diff(self.time_s) > 0):
            raise TrackError("time_s does not increase strictly")
        if self.width_px <= 0 or self.height_px <= 0:
            raise TrackError(f"picture size {self.width_px} x {self.height_px} is not positive")

    @classmethod
    def unobserved(cls, time_s: FloatArray, width_px: int, height_px: int) -> "PoseTrack":
        """Return a track of a film in which nobody has been found (yet)."""
        n = time_s.shape[0]
        return cls(
            time_s=time_s,
            image_px=np.full((n, LANDMARK_COUNT, 2), np.nan),
            depth_px=np.full((n, LANDMARK_COUNT), np.nan),
            world_m=np.full((n, LANDMARK_COUNT, 3), np.nan),
            visibility=np.zeros((n, LANDMARK_COUNT)),
            filled=np.zeros(n, dtype=bool),
            identity=np.full(n, -1, dtype=np.int64),
            camera_shift_px=np.zeros((n, 2)),
            camera_roll_rad=np.zeros(n),
            width_px=width_px,
            height_px=height_px,
        )

    @property
    def frames(self) -> int:
        """Number of rows, one a film frame."""
        return int(self.time_s.shape[0])

    @property
    def error_px(self) -> FloatArray:
        """(N, 33) standard error of each landmark along an axis, pixels; NaN where not known."""
        square = np.trace(self.covariance_px2, axis1=2, axis2=3) / 2.0
        error: FloatArray = np.sqrt(square)
        return error

    @property
    def seen(self) -> BoolArray:
        """(N,) True where the athlete was observed, not filled."""
        found: BoolArray = np.isfinite(self.image_px[:, :, 0]).any(axis=1) & ~self.filled
        return found


TRACK_ARRAYS: Final = ("format", *(f.name for f in fields(PoseTrack)))
"""Names of the arrays of a landmark file."""


def track_arrays(track: PoseTrack) -> dict[str, npt.NDArray[Any]]:
    """Give the arrays of a landmark file."""
    arrays = {f.name: np.asarray(getattr(track, f.name)) for f in fields(track)}
    return {**arrays, "format": np.array(TRACK_FORMAT)}


def load_track(path: Path) -> PoseTrack:
    """Read a landmark file.

    Raises
    ------
    TrackError
        The file is no landmark file of this format, or an array has the wrong shape.
    """
    try:
        arrays = read_arrays(path, TRACK_ARRAYS)
    except ArraysError as error:
        raise TrackError(f"{path}: not a readable landmark file ({error})") from error
    try:
        return track_of(arrays)
    except TrackError as error:
        raise TrackError(f"{path}: {error}") from error


def track_of(arrays: Mapping[str, npt.NDArray[Any]]) -> PoseTrack:
    """Make a track of the arrays of a landmark file.

    Raises
    ------
    TrackError
        They are none of this format, or one has the wrong shape.
    """
    names = TRACK_ARRAYS[1:]
    try:
        _check_kind(arrays, names)
    except ArraysError as error:
        raise TrackError(f"not a readable landmark file ({error})") from error
    values: dict[str, Any] = {name: arrays[name] for name in names if name in arrays}
    for name in ("width_px", "height_px"):
        values[name] = int(values[name])
    return PoseTrack(**values)


def _check_kind(arrays: Mapping[str, npt.NDArray[Any]], names: Sequence[str]) -> None:
    written = arrays.get("format")
    if written is None or str(written) != TRACK_FORMAT:
        raise ArraysError(f"format {written}, expected {TRACK_FORMAT}")
    for name in names:
        dtype = _DTYPES.get(name, np.dtype(np.float64))
        array = arrays.get(name)
        if array is None:
            if name not in _OPTIONAL:
                raise ArraysError(f"{name} is missing")
        elif array.dtype != dtype:
            raise ArraysError(f"{name} holds {array.dtype}, expected {dtype}")
        elif (array.ndim == 0) != (name in _SCALARS):
            raise ArraysError(f"{name} has shape {array.shape}")
    if not np.isfinite(arrays["time_s"]).all():
        raise ArraysError("time_s holds a time that is not a number")
