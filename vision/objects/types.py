"""Where an object is in a film."""

from dataclasses import dataclass

import numpy as np

from vision.track import FloatArray, TrackError


@dataclass(frozen=True, slots=True, eq=False)
class ObjectTrack:
    """A round object over one film, one row a film frame.

    Attributes
    ----------
    time_s
        (N,) presentation times, as the athlete's track has them.
    centre_px
        (N, 2) centre in the upright picture, x right and y down, pixels, with the camera's measured
        shift and roll taken out. NaN where it was not found or not looked for.
    radius_px
        (N,) apparent radius, pixels. NaN as above.
    covariance_px2
        (N, 2, 2) error covariance of the centre, square pixels. NaN as above.
    looked
        (N,) True where it was looked for.
    """

    time_s: FloatArray
    centre_px: FloatArray
    radius_px: FloatArray
    covariance_px2: FloatArray
    looked: "np.ndarray[tuple[int], np.dtype[np.bool_]]"

    def __post_init__(self) -> None:
        n = self.time_s.shape[0]
        shapes = {"centre_px": (n, 2), "radius_px": (n,), "covariance_px2": (n, 2, 2)}
        for name, shape in {**shapes, "looked": (n,)}.items():
            actual = getattr(self, name).shape
            if actual != shape:
                raise TrackError(f"{name} has shape {actual}, expected {shape}")

    @classmethod
    def nowhere(cls, time_s: FloatArray) -> "ObjectTrack":
        """Return a track of an object that has not been found (yet)."""
        n = time_s.shape[0]
        return cls(
            time_s=time_s,
            centre_px=np.full((n, 2), np.nan),
            radius_px=np.full(n, np.nan),
            covariance_px2=np.full((n, 2, 2), np.nan),
            looked=np.zeros(n, dtype=np.bool_),
        )

    @property
    def found(self) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
        """(N,) True where it was found."""
        found: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.isfinite(self.radius_px)
        return found
