"""The athlete's height by the plates of the barbell, which are made to measure.

Where plates stand in the pictures follows from the body that two films show to hold the bar; how
large they look there tells how large everything is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from counting.body.cameras import as_seen
from counting.body.motion import BodyMotion
from counting.body.skeleton import FloatArray, G, camera_axes
from counting.checks.films import FilmsReading
from counting.checks.stature import Stature, by_plates
from counting.signals.body import steadied_px
from vision.film.types import Film
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

if TYPE_CHECKING:
    from vision.barbell.ruler import Rim

IntArray = npt.NDArray[np.int64]

_MOST_ROWS: Final = 24
"""Pictures of a film in which plates are measured, evenly taken: a bound on the time it takes."""
_LEAST_TURN: Final = 0.3
"""Sine of the angle between sight and plate from which a plate is seen round enough."""
_MIDDLE: Final = ("hip", "shoulder", "knee", "ankle")


@dataclass(frozen=True, slots=True, eq=False)
class PlatePlane:
    """The plane of one plate in one picture.

    Attributes
    ----------
    film
        0 is the first film.
    time_s
        When, on that film's own clock.
    side
        -1 is the left plate, 1 the right.
    to_px
        (3, 3) from metres ahead and up to the picture.
    hand_m
        (2,) place of the hands in the plane.
    """

    film: int
    time_s: float
    side: int
    to_px: FloatArray
    hand_m: FloatArray


def stature_by_plates(
    reading: FilmsReading, tracks: Sequence[PoseTrack], films: Sequence[Film], known: Stature
) -> Stature:
    """Tell the athlete's height by plates, as far as they can be seen.

    Parameters
    ----------
    reading
        What was read of the films.
    tracks, films
        The first film and the further ones.
    known
        What is known of the height without plates.
    """
    # Pictures take long to load, and most films hold no barbell.
    from vision.barbell.ruler import SLEEVE_M, plates_scale

    planes = list(plate_planes(reading, tracks, SLEEVE_M / known.scale))
    rims = [rim for film, one in enumerate(films) for rim in _rims(one, planes, film)]
    seen = plates_scale(rims)
    return known if seen is None else by_plates(known, *seen)


def _rims(film: Film, planes: Sequence["PlatePlane"], number: int) -> "Iterator[Rim]":
    from vision.barbell.ruler import rim_of
    from vision.film.frames import frames

    wanted: dict[int, list[PlatePlane]] = {}
    for plane in planes:
        if plane.film == number:
            row = int(np.abs(film.time_s - plane.time_s).argmin())
            wanted.setdefault(row, []).append(plane)
    rows = np.isin(np.arange(film.frames), list(wanted))
    for frame in frames(film, rows=rows, sparing=True):
        for plane in wanted[frame.index]:
            yield rim_of(frame.picture, (number, plane.side), plane.to_px, plane.hand_m)


def plate_planes(
    reading: FilmsReading, tracks: Sequence[PoseTrack], sleeve_m: float
) -> Iterator[PlatePlane]:
    """Place the plates in pictures in which two films show the body.

    Parameters
    ----------
    reading
        What was read of the films.
    tracks
        The first film's and the further ones'.
    sleeve_m
        How far plates are from the bar's middle.
    """
    for index, (fitted, clock) in enumerate(zip(reading.fitted, reading.clocks, strict=True)):
        if fitted is None:
            continue
        motion = fitted.motion
        rows = np.flatnonzero(np.isfinite(motion.joints_m[:, 0, 0]))
        rows = rows[np.unique(np.linspace(0, len(rows) - 1, _MOST_ROWS).astype(int))]
        moments = clock.second_s(motion.time_s[rows])
        others = np.abs(tracks[index + 1].time_s[:, None] - moments).argmin(axis=0)
        for camera, film, own_rows in ((0, 0, rows), (1, index + 1, others)):
            yield from _of_film(motion, rows, camera, film, tracks[film], own_rows, sleeve_m)


def _of_film(
    motion: BodyMotion,
    rows: IntArray,
    camera: int,
    film: int,
    track: PoseTrack,
    own_rows: IntArray,
    sleeve_m: float,
) -> Iterator[PlatePlane]:
    shared = as_seen(motion.shared, camera)
    axes = camera_axes(shared)
    sin, cos = np.sin(shared[G["yaw"]]), np.cos(shared[G["yaw"]])
    ahead = axes[:, 0] * sin - axes[:, 1] * cos
    side = -(axes[:, 0] * cos + axes[:, 1] * sin)
    from_camera = np.exp(shared[G["log_distance"]]) * axes[:, 1] - shared[G["height"]] * axes[:, 2]
    centre = np.array([track.width_px / 2, track.height_px / 2])
    focal = np.exp(shared[G["log_focal"]])
    lens = np.array([[focal, 0, 0], [0, focal, 0], [0, 0, 1.0]])
    if abs(side[2]) < _LEAST_TURN:
        return
    steady = steadied_px(track)
    for row, own in zip(rows, own_rows, strict=True):
        body = {name: motion.joint(name)[row] for name in (*_MIDDLE, "wrist")}
        seen = {name: _middle(steady[own], name) - centre for name in _MIDDLE}
        shift = _sideways(body, seen, ahead, side, axes[:, 2], from_camera, focal)
        if shift is None:
            continue
        turn, (x, y) = track.camera_roll_rad[own], centre + track.camera_shift_px[own]
        shake = np.array(
            [[np.cos(turn), -np.sin(turn), x], [np.sin(turn), np.cos(turn), y], [0, 0, 1.0]]
        )
        for which in (-1, 1):
            base = from_camera + side * (shift + which * sleeve_m)
            plane = np.stack([ahead, axes[:, 2], base], axis=1)
            yield PlatePlane(
                film, float(track.time_s[own]), which, shake @ lens @ plane, body["wrist"][[0, 2]]
            )


def _middle(points_px: FloatArray, joint: str) -> FloatArray:
    pair = [Landmark[f"{side}_{joint}".upper()] for side in ("left", "right")]
    middle: FloatArray = points_px[pair].mean(axis=0)
    return middle


def _sideways(
    body: dict[str, FloatArray],
    seen: dict[str, FloatArray],
    ahead: FloatArray,
    side: FloatArray,
    up: FloatArray,
    from_camera: FloatArray,
    focal: float,
) -> float | None:
    """How far the body stands to its right of where it usually does, by its middle in a picture."""
    shifts = []
    for name in _MIDDLE:
        forward, _, height = body[name]
        place = ahead * forward + up * height + from_camera
        # the picture's place is linear in the shift but for depth, which it hardly changes
        off = seen[name] * place[2] / focal - place[:2]
        along = side[:2] - seen[name] / focal * side[2]
        shifts.append(float(off @ along / (along @ along)))
    known = [shift for shift in shifts if np.isfinite(shift)]
    return float(np.median(known)) if known else None
