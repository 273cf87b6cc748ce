"""The second family of pose networks: everybody in a picture, and one body in a square.

MoveNet (Apache-2.0) places 17 joints. Unlike BlazePose it was trained on upright pictures: squares
are never turned for it, also for bodies that lie or hang head down.
"""

import hashlib
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.pose.bundle import MODELS, ModelError
from vision.pose.interpreter import Interpreter
from vision.pose.landmarks import Landmark
from vision.pose.region import Picture, Region

FloatArray = npt.NDArray[np.float64]

JOINTS: Final = (
    Landmark.NOSE,
    Landmark.LEFT_EYE,
    Landmark.RIGHT_EYE,
    Landmark.LEFT_EAR,
    Landmark.RIGHT_EAR,
    Landmark.LEFT_SHOULDER,
    Landmark.RIGHT_SHOULDER,
    Landmark.LEFT_ELBOW,
    Landmark.RIGHT_ELBOW,
    Landmark.LEFT_WRIST,
    Landmark.RIGHT_WRIST,
    Landmark.LEFT_HIP,
    Landmark.RIGHT_HIP,
    Landmark.LEFT_KNEE,
    Landmark.RIGHT_KNEE,
    Landmark.LEFT_ANKLE,
    Landmark.RIGHT_ANKLE,
)
"""What each of the 17 joints is among the landmarks of a track (COCO order)."""

MODELS_SHA256: Final = {
    "thunder": "8157e149a360e1bf1d89a83f4855eb6f32633e280f36be7963df32bfc1796fef",
    "multipose": "7926597dcf5521bbe30783d87bd244e23974fa6d4f7d03c7d71e7762cdd720d4",
}
SINGLE_PX: Final = 256
SEVERAL_PX: Final = (448, 256)
"""Longer and shorter side of the picture in which everybody is looked for; multiples of 32."""
_STRIDE: Final = 4
_NEIGHBOURHOOD: Final = np.ones((5, 5), np.uint8)
LEAST_SCORE: Final = 0.1
MOST_PEOPLE: Final = 8
_DISTANCE_CELLS: Final = 1.8
"""Added to the distance from a joint's predicted place, in cells of the heat map, by which its
peaks are divided: the published post-processing of these networks."""
_CENTRE_SPREAD_CELLS: Final = 2.5
"""How far, in cells of 64 a square, a body's centre may be from where it is expected."""
_STRAYED: Final = 0.3
"""A peak further from the predicted place than this share of the body is another's: the predicted
place stands."""


@dataclass(frozen=True, slots=True, eq=False)
class Person:
    """Somebody in a picture.

    Attributes
    ----------
    score
        How surely there is a person, 0 to 1.
    image_px
        (17, 2) joints, x right, y down, pixels.
    peak
        (17,) height of each joint's heat map there, 0 to 1.
    """

    score: float
    image_px: FloatArray
    peak: FloatArray


@cache
def movenet_model(name: str) -> bytes:
    """Read a shipped network, "thunder" or "multipose".

    Raises
    ------
    ModelError
        It is missing or not the one that was shipped.
    """
    path = MODELS / f"movenet_{name}.tflite"
    try:
        content = path.read_bytes()
    except OSError as error:
        raise ModelError(f"{path}: pose model cannot be read ({error.strerror})") from error
    if hashlib.sha256(content).hexdigest() != MODELS_SHA256[name]:
        raise ModelError(f"{path}: pose model is damaged (checksum differs); install again")
    return content


class PeopleFinder:
    """Finds everybody in a picture; not to be shared between threads.

    Parameters
    ----------
    size_px
        Longer and shorter side of what the network sees, multiples of 32.
    """

    def __init__(self, size_px: tuple[int, int] = SEVERAL_PX) -> None:
        self._size_px = size_px
        self._networks: dict[bool, Interpreter] = {}

    def find(self, picture: Picture) -> list[Person]:
        """Find the people in an RGB picture, surest first, each once."""
        height, width = picture.shape[:2]
        portrait = height > width
        rows, columns = self._size_px if portrait else self._size_px[::-1]
        scale = min(rows / height, columns / width)
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        frame = np.zeros((1, rows, columns, 3), np.int32)
        frame[0, : size[1], : size[0]] = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        if portrait not in self._networks:
            self._networks[portrait] = Interpreter(movenet_model("multipose"), frame.shape)
        heads = self._networks[portrait].run(frame)
        people = _people(heads, _STRIDE / scale)
        return [p for n, p in enumerate(people) if all(_apart(p, q) > _SAME for q in people[:n])]


_SAME: Final = 0.12
"""Median distance between the joints of two skeletons, over their size, below which they are one
person found twice."""


class BodyReader:
    """Reads the joints of one person in a square; not to be shared between threads."""

    def __init__(self) -> None:
        self._network = Interpreter(movenet_model("thunder"))

    def read(
        self, picture: Picture, region: Region, expected_px: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Read the person who is expected there, not whoever else is in the square.

        The network's own choice is whoever stands most in the middle of it.

        Parameters
        ----------
        picture
            RGB picture.
        region
            An upright square.
        expected_px
            (17, 2) where the joints are expected.

        Returns
        -------
        joints_px, peak
            (17, 2) joints in the picture, pixels, and (17,) the heights of their heat maps.
        """
        heads = self._network.run(region.cut(picture, SINGLE_PX)[None].astype(np.int32))
        centre = _head(heads, "center")[..., 0]
        cells = np.array(centre.shape[::-1])
        expected = (region.to_unit(expected_px) * cells).mean(axis=0)
        x = np.arange(cells[0])[None] - expected[0]
        y = np.arange(cells[1])[:, None] - expected[1]
        near = np.exp(-0.5 * (x * x + y * y) / _CENTRE_SPREAD_CELLS**2)
        score = _sigmoid(centre.astype(np.float64)) * near
        row, column = np.unravel_index(int(score.argmax()), score.shape)
        joints, peak = _joints_from(heads, int(row), int(column))
        return region.to_picture(joints / cells), peak


def _people(heads: dict[str, Any], pixels_a_cell: float) -> list[Person]:
    centre = _head(heads, "center")[..., 0]
    score = _sigmoid(centre.astype(np.float64))
    peaks = (centre == cv2.dilate(centre, _NEIGHBOURHOOD)) & (score > LEAST_SCORE)
    rows, columns = np.nonzero(peaks)
    order = np.argsort(-score[rows, columns], kind="stable")[:MOST_PEOPLE]
    people = []
    for row, column in zip(rows[order].tolist(), columns[order].tolist(), strict=True):
        joints, peak = _joints_from(heads, row, column)
        people.append(Person(float(score[row, column]), joints * pixels_a_cell, peak))
    return people


def _joints_from(heads: dict[str, Any], row: int, column: int) -> tuple[FloatArray, FloatArray]:
    """Joints of the person whose centre lies in a cell, (17, 2) cells, and (17,) their peaks.

    The centre predicts each joint; the nearest high peak of its heat map is taken.
    """
    # Heads give (y, x); places are kept as (x, y).
    regression, offsets = _head(heads, "kpt_regress"), _head(heads, "kpt_offset")
    predicted = regression[row, column].reshape(-1, 2)[:, ::-1].astype(np.float64)
    predicted += np.array([column, row])
    heat = _sigmoid(_head(heads, "kpt_heatmap").astype(np.float64))
    rows, columns, count = heat.shape
    x = np.arange(columns)[None, :, None] - predicted[:, 0]
    y = np.arange(rows)[:, None, None] - predicted[:, 1]
    distance = np.sqrt(x * x + y * y)
    best = (heat / (_DISTANCE_CELLS + distance)).reshape(-1, count).argmax(axis=0)
    y_best, x_best = np.unravel_index(best, (rows, columns))
    joint = np.arange(count)
    offset = offsets[y_best, x_best].reshape(count, count, 2)[joint, joint, ::-1]
    found = np.stack([x_best, y_best], axis=1) + offset
    size = max(float(np.ptp(predicted, axis=0).max()), 1.0)
    strayed = distance[y_best, x_best, joint] > _STRAYED * size
    return np.where(strayed[:, None], predicted, found), heat[y_best, x_best, joint]


def _apart(one: Person, other: Person) -> float:
    return separation(one.image_px, other.image_px)


def separation(one_px: FloatArray, other_px: FloatArray) -> float:
    """Median distance between the joints of two (J, 2) skeletons over the larger one's size."""
    size = max(float(np.ptp(one_px, axis=0).max()), float(np.ptp(other_px, axis=0).max()), 1.0)
    return float(np.median(np.hypot(*(one_px - other_px).T))) / size


def _head(heads: dict[str, Any], part: str) -> npt.NDArray[np.float32]:
    values: npt.NDArray[np.float32] = next(v for name, v in heads.items() if part in name)[0]
    return values


def _sigmoid(x: FloatArray) -> FloatArray:
    result: FloatArray = 1.0 / (1.0 + np.exp(-np.clip(x, -60.0, 60.0)))
    return result
