"""What is known of a film before anybody looks at its pictures."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from vision.film.limits import DEFAULT_LIMITS, FilmLimits

ClockSource = Literal["stored", "sorted", "counted"]
"""Times as stored with each picture; stored times put in order; pictures counted at a rate."""

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LARGE_PX: Final = 4e6
"""Pictures larger than this are neither decoded, where it can be helped, nor watched for cuts
unless they are looked at: of films of 50 frames a second and more, every second one is left out."""


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """Facts of one film, counted from its packets and frames, never read from its header.

    Attributes
    ----------
    path
        The file.
    sha256
        Digest of the whole file, lower-case hexadecimal.
    duration_s
        From the first frame's presentation to the end of the last frame's.
    time_s
        (frames,) presentation times on the container's clock, strictly increasing.
    width_px, height_px
        Size of the upright picture, after the stored rotation has been applied.
    rotation_deg
        Rotation stored in the container, anticlockwise, one of 0, 90, 180, 270.
    mirrored
        Whether the stored display matrix also mirrors.
    frame_rate_mean_hz
        Frames over duration.
    variable_frame_rate
        Whether frame intervals differ by more than rounding to the container's clock.
    codec
        Name of the video codec.
    has_sound
        Whether there is an audio stream that can be decoded.
    broken_at_s
        Time of the last readable frame where the film breaks off, else None.
    warnings
        Sentences for the user, each naming a time where it has one.
    clock
        Where ``time_s`` comes from; a counted clock tells where something is, and no time.
    limits
        The limits it was read under, which hold for decoding it too.
    key
        (frames,) which frames are key frames, stored whole; empty where times are not as stored.
    """

    path: Path
    sha256: str
    duration_s: float
    time_s: FloatArray
    width_px: int
    height_px: int
    rotation_deg: int
    mirrored: bool
    frame_rate_mean_hz: float
    variable_frame_rate: bool
    codec: str
    has_sound: bool
    broken_at_s: float | None
    warnings: tuple[str, ...]
    clock: ClockSource = "stored"
    limits: FilmLimits = DEFAULT_LIMITS
    key: BoolArray = field(default_factory=lambda: np.empty(0, dtype=np.bool_))

    @property
    def by_order(self) -> bool:
        """Whether pictures are told by their order, as they do not carry their own times."""
        return self.clock != "stored"

    @property
    def times_known(self) -> bool:
        """Whether ``time_s`` are times of the film."""
        return self.clock != "counted"

    @property
    def frames(self) -> int:
        """Number of frames that decode."""
        return int(self.time_s.shape[0])
