"""Films of somebody who throws a ball at a wall, seen from behind, with exactly known heights."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import numpy.typing as npt

from vision.film.reading import read_film
from vision.film.types import Film
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
Picture = npt.NDArray[np.uint8]
Colour = tuple[int, int, int]

WIDTH, HEIGHT, RATE_HZ, TICKS = 360, 640, 30, 90_000
FOCAL_PX = 480.0
CAMERA_M = 1.2
ATHLETE_M, WALL_M = 4.8, 5.7
"""Distances from the camera, which looks level at the wall."""
STATURE_M = 1.73
FALL_M_S2 = 9.81
FROM_M = 2.1
"""Height at which the ball leaves the hands and comes back into them."""
REP_S, RELEASE_S = 3.0, 1.3
LINE_M = 2.75
ROLLS_PX = 330

_BODY = {
    "NOSE": (0.0, 1.6),
    "SHOULDER": (0.2, 1.42),
    "HIP": (0.15, 0.92),
    "KNEE": (0.15, 0.5),
    "ANKLE": (0.15, 0.07),
}


@dataclass(frozen=True)
class Scene:
    """What is filmed: how high the ball goes in each rep, and what else is there."""

    tops_m: tuple[float, ...] = (2.9, 2.6)
    colour: Colour | None = (150, 40, 40)
    radius_m: float = 0.165
    shadow: bool = False
    another_rolls_by: bool = False
    shake_px: float = 0.0
    seed: int = 4

    @property
    def length_s(self) -> float:
        return REP_S * len(self.tops_m)


def seen(x_m: float, height_m: float, distance_m: float) -> FloatArray:
    """Where the camera sees a point."""
    return np.array(
        [
            WIDTH / 2 + FOCAL_PX * x_m / distance_m,
            HEIGHT / 2 - FOCAL_PX * (height_m - CAMERA_M) / distance_m,
        ]
    )


def ball_at(scene: Scene, time_s: float) -> tuple[float, float]:
    """Height and distance of the ball's middle."""
    rep = min(int(time_s / REP_S), len(scene.tops_m) - 1)
    since_s = time_s - rep * REP_S - RELEASE_S
    top_m = scene.tops_m[rep]
    rise_s = np.sqrt(2 * (top_m - FROM_M) / FALL_M_S2)
    if 0 <= since_s <= 2 * rise_s:
        away = abs(since_s / rise_s - 1.0)
        at_wall_m = WALL_M - scene.radius_m
        return top_m - (top_m - FROM_M) * away**2, at_wall_m - (at_wall_m - ATHLETE_M) * away
    lift = np.clip(1.0 + since_s / 0.3, 0.0, 1.0) if since_s < 0 else 0.0
    lift = lift if since_s < 0 else float(np.clip(1.0 - (since_s - 2 * rise_s) / 0.3, 0.0, 1.0))
    return 1.35 + (FROM_M - 1.35) * lift, ATHLETE_M


def in_flight(scene: Scene, time_s: float) -> bool:
    """Whether the ball has left the hands."""
    return ball_at(scene, time_s)[1] > ATHLETE_M


def places(scene: Scene, time_s: float) -> dict[str, FloatArray]:
    """Both sides' landmarks by their bare names: the left one of each pair."""
    hand_m = min(ball_at(scene, time_s)[0], FROM_M) - 0.1
    return {
        **{name: np.array(place) for name, place in _BODY.items()},
        "ELBOW": np.array([0.26, min(1.2 + 0.6 * (hand_m - 1.25), 1.65)]),
        "WRIST": np.array([0.14, hand_m]),
    }


def room(seed: int) -> Picture:
    """A wall of blotches and joints over a floor, with the target's line on it."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(120, 170, (HEIGHT // 8, WIDTH // 8, 1)).repeat(3, axis=2)
    picture = cv2.resize(coarse, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    for x in range(30, WIDTH, 75):
        cv2.line(picture, (x, 0), (x, HEIGHT), (95.0, 95.0, 90.0), 2)
    floor = round(seen(0, 0, WALL_M)[1])
    picture[floor:] = picture[floor:] * 0.5
    left, right = line_px()
    cv2.line(picture, _whole(left), _whole(right), (70.0, 70.0, 160.0), 4)
    return np.clip(picture, 0, 255).astype(np.uint8)


def line_px() -> FloatArray:
    """(2, 2) ends of the target's line."""
    return np.stack([seen(-0.6, LINE_M, WALL_M), seen(0.6, LINE_M, WALL_M)])


def _whole(point: FloatArray) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))


def shake_at(scene: Scene, time_s: float) -> FloatArray:
    """How far the camera has moved the picture."""
    swing = [np.sin(2.1 * time_s) + 0.4 * np.sin(9.0 * time_s), np.sin(1.3 * time_s)]
    return scene.shake_px * np.array(swing)


def pictures(scene: Scene) -> Iterator[Picture]:
    """All pictures of the scene in order: blurred over half of a frame, with noise."""
    background = room(scene.seed)
    rng = np.random.default_rng(scene.seed)
    for number in range(round(scene.length_s * RATE_HZ)):
        time_s = number / RATE_HZ
        exposed = [_moment(background, scene, time_s + part / 240) for part in range(4)]
        blurred = np.mean(exposed, axis=0)
        dx, dy = shake_at(scene, time_s)
        moved = cv2.warpAffine(
            blurred,
            np.array([[1, 0, dx], [0, 1, dy]], dtype=np.float64),
            (WIDTH, HEIGHT),
            borderMode=cv2.BORDER_REPLICATE,
        )
        noise = rng.normal(0, 2.5, moved.shape[:2])[:, :, None]
        yield np.clip(moved + noise, 0, 255).astype(np.uint8)


def _moment(background: Picture, scene: Scene, time_s: float) -> Picture:
    picture = background.copy()
    height_m, distance_m = ball_at(scene, time_s)
    centre, radius = seen(0, height_m, distance_m), FOCAL_PX * scene.radius_m / distance_m
    if scene.colour is not None and scene.shadow:
        shade = picture.copy()
        cv2.circle(shade, _whole(centre + np.array([60.0, 35.0])), round(radius), (0, 0, 0), -1)
        picture = cv2.addWeighted(picture, 0.65, shade, 0.35, 0)
    if scene.colour is not None and scene.another_rolls_by:
        along = 40 + 60 * (time_s % REP_S)
        cv2.circle(picture, (round(along), ROLLS_PX), round(radius), scene.colour, -1, cv2.LINE_AA)
    _draw_athlete(picture, scene, time_s)
    if scene.colour is not None:
        fine = 1 << 4
        place = np.rint(centre * fine).astype(int)
        cv2.circle(
            picture,
            (int(place[0]), int(place[1])),
            round(radius * fine),
            scene.colour,
            -1,
            cv2.LINE_AA,
            4,
        )
    return picture


def _draw_athlete(picture: Picture, scene: Scene, time_s: float) -> None:
    body = places(scene, time_s)
    for sign in (-1, 1):
        spots = {
            name: _whole(seen(sign * place[0], place[1], ATHLETE_M)) for name, place in body.items()
        }
        for one, other, width, colour in (
            ("HIP", "KNEE", 17, (40, 50, 90)),
            ("KNEE", "ANKLE", 13, (150, 110, 90)),
            ("SHOULDER", "ELBOW", 11, (150, 110, 90)),
            ("ELBOW", "WRIST", 9, (150, 110, 90)),
            ("SHOULDER", "HIP", 26, (60, 110, 70)),
        ):
            cv2.line(picture, spots[one], spots[other], colour, width, cv2.LINE_AA)
        cv2.circle(picture, spots["NOSE"], 11, (90, 70, 50), -1, cv2.LINE_AA)


def film_of(path: Path, scene: Scene) -> tuple[Film, PoseTrack]:
    """Write the scene's film and give it with the athlete's exact track."""
    with av.open(str(path), "w") as output:
        stream = output.add_stream("libx264", rate=RATE_HZ, options={"preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS)
        for number, picture in enumerate(pictures(scene)):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = number * TICKS // RATE_HZ, Fraction(1, TICKS)
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    film = read_film(path)
    return film, track_of(scene, film.time_s)


def track_of(scene: Scene, time_s: Sequence[float] | FloatArray) -> PoseTrack:
    """The athlete's exact track at some times."""
    times = np.asarray(time_s, dtype=np.float64)
    empty = PoseTrack.unobserved(times, WIDTH, HEIGHT)
    points = empty.image_px.copy()
    for row, when_s in enumerate(times):
        for name, (x, z) in places(scene, float(when_s)).items():
            for side, sign in (("LEFT_", 1), ("RIGHT_", -1)):
                landmark = Landmark["NOSE"] if name == "NOSE" else Landmark[side + name]
                points[row, landmark] = seen(sign * x, z, ATHLETE_M)
    shift = np.array([shake_at(scene, float(when_s)) for when_s in times])
    return replace(
        empty,
        image_px=points + shift[:, None, :],
        visibility=np.ones_like(empty.visibility),
        identity=np.zeros(len(times), dtype=np.int64),
        camera_shift_px=shift,
    )
