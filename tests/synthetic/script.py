"""Motion as a script of moves and holds, played as a landmark track."""

from dataclasses import dataclass, field

import numpy as np

from synthetic.figure import Camera, Posture, landmarks
from vision.track import PoseTrack


def minimum_jerk(share: np.ndarray) -> np.ndarray:
    """Course of a limb from rest to rest (Flash and Hogan 1985)."""
    course: np.ndarray = share**3 * (10 - 15 * share + 6 * share**2)
    return course


def cosine(share: np.ndarray) -> np.ndarray:
    """Another smooth course, so that tests do not hang on the first."""
    course: np.ndarray = (1 - np.cos(np.pi * share)) / 2
    return course


@dataclass
class Script:
    """A growing motion; every method that adds to it takes seconds."""

    posture: Posture
    course: str = "minimum jerk"
    parts: list[tuple[float, float, np.ndarray, np.ndarray]] = field(default_factory=list)
    now_s: float = 0.0

    def hold(self, seconds: float) -> "Script":
        return self.move(self.posture, seconds)

    def move(self, posture: Posture, seconds: float) -> "Script":
        start, end = self.posture.numbers(), posture.numbers()
        self.parts.append((self.now_s, self.now_s + seconds, start, end))
        self.posture, self.now_s = posture, self.now_s + seconds
        return self

    def numbers_at(self, time_s: np.ndarray) -> np.ndarray:
        course = minimum_jerk if self.course == "minimum jerk" else cosine
        rows = np.zeros((time_s.size, self.posture.numbers().size))
        for first_s, last_s, start, end in self.parts:
            inside = (time_s >= first_s) & (time_s <= last_s)
            share = (time_s[inside] - first_s) / max(last_s - first_s, 1e-9)
            rows[inside] = start + course(share)[:, None] * (end - start)
        return rows

    def play(
        self,
        camera: Camera | None = None,
        rate_hz: float = 30.0,
        time_s: np.ndarray | None = None,
        noise: float = 0.0,
        wild: float = 0.0,
        seed: int = 0,
    ) -> PoseTrack:
        """Film it.

        ``time_s`` sets the frame times by hand, ``noise`` is the standard deviation of every
        landmark in statures, ``wild`` the share of frames whose landmarks are scattered anywhere.
        """
        camera = camera or Camera()
        rng = np.random.default_rng(seed)
        if time_s is None:
            time_s = np.arange(int(self.now_s * rate_hz)) / rate_hz
        image = camera.picture(landmarks(self.numbers_at(time_s)))
        image += rng.normal(0, 1, image.shape) * noise * camera.focal_px / camera.distance
        astray = rng.random(time_s.size) < wild
        image[astray] = rng.uniform(0, camera.width_px, image[astray].shape)
        return track_of(time_s, image, camera)


def track_of(time_s: np.ndarray, image_px: np.ndarray, camera: Camera) -> PoseTrack:
    """Wrap picture positions as a track; frames that hold NaN are frames without athlete."""
    n = time_s.size
    lost = ~np.isfinite(image_px[:, 0, 0])
    missing = np.where(lost, np.nan, 0.0)
    return PoseTrack(
        time_s=time_s,
        image_px=image_px,
        depth_px=missing[:, None] + np.zeros((n, image_px.shape[1])),
        world_m=missing[:, None, None] + np.zeros((n, image_px.shape[1], 3)),
        visibility=np.where(lost, 0.0, 1.0)[:, None] * np.ones(image_px.shape[1]),
        filled=np.zeros(n, bool),
        identity=np.where(lost, -1, 0).astype(np.int64),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=camera.width_px,
        height_px=camera.height_px,
    )


def with_gap(track: PoseTrack, start_s: float, end_s: float) -> PoseTrack:
    """Lose the athlete between two times."""
    image = track.image_px.copy()
    image[(track.time_s >= start_s) & (track.time_s < end_s)] = np.nan
    camera = Camera(width_px=track.width_px, height_px=track.height_px)
    return track_of(track.time_s, image, camera)


def mirrored(track: PoseTrack) -> PoseTrack:
    """Film the athlete through a mirror: left becomes right in the picture, names stay."""
    image = track.image_px.copy()
    image[..., 0] = track.width_px - image[..., 0]
    camera = Camera(width_px=track.width_px, height_px=track.height_px)
    return track_of(track.time_s, image, camera)
