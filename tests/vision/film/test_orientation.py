"""Display matrices, turned pictures worked out by hand (ISO/IEC 14496-12, 8.3.2.3)."""

import struct
from types import SimpleNamespace

import numpy as np
import pytest
from av.sidedata.sidedata import Type

from vision.film.orientation import Orientation, orientation_of

STORED = [[1, 2, 3], [4, 5, 6]]
# (anticlockwise turn, mirrored first), then a b c d, then what a player shows of the picture above
SHOWN = {
    (0, False): ((1, 0, 0, 1), [[1, 2, 3], [4, 5, 6]]),
    (90, False): ((0, -1, 1, 0), [[3, 6], [2, 5], [1, 4]]),
    (180, False): ((-1, 0, 0, -1), [[6, 5, 4], [3, 2, 1]]),
    (270, False): ((0, 1, -1, 0), [[4, 1], [5, 2], [6, 3]]),
    (0, True): ((-1, 0, 0, 1), [[3, 2, 1], [6, 5, 4]]),
    (90, True): ((0, 1, 1, 0), [[1, 4], [2, 5], [3, 6]]),
    (180, True): ((1, 0, 0, -1), [[4, 5, 6], [1, 2, 3]]),
    (270, True): ((0, -1, -1, 0), [[6, 3], [5, 2], [4, 1]]),
}


def frame(*matrix: float) -> SimpleNamespace:
    """A decoded frame with a display matrix: nine numbers, or (a, b, c, d)."""
    if len(matrix) == 4:
        a, b, c, d = matrix
        matrix = (a, b, 0, c, d, 0, 0, 0, 16384)
    data = struct.pack("=9i", *(round(65536 * value) for value in matrix))
    return SimpleNamespace(side_data={Type.STEREO3D: b"none", Type.DISPLAYMATRIX: data})


@pytest.mark.parametrize("case", SHOWN)
def test_every_turn_and_mirroring_is_undone(case: tuple[int, bool]) -> None:
    matrix, shown = SHOWN[case]
    orientation = Orientation(*matrix)
    assert (orientation.rotation_deg, orientation.mirrored) == case
    assert Orientation.of(*case) == orientation
    assert orientation_of(frame(*matrix)) == orientation
    assert orientation.swaps_sides == (len(shown) == 3)
    picture = np.array(STORED, np.uint8)[:, :, None].repeat(3, axis=2)
    upright = orientation.upright(picture)
    assert upright[:, :, 0].tolist() == upright[:, :, 2].tolist() == shown
    assert upright.flags.c_contiguous


def test_a_frame_without_a_matrix_or_with_an_empty_one_is_upright() -> None:
    assert orientation_of(SimpleNamespace(side_data={})) == Orientation(1, 0, 0, 1)
    assert orientation_of(frame(0, 0, 0, 0)) == Orientation(1, 0, 0, 1)


@pytest.mark.parametrize(
    ("matrix", "nearest"),
    [
        # 30, 60 and exactly 45 degrees; a stretched and a sheared picture
        ((0.866, -0.5, 0.5, 0.866), (1, 0, 0, 1)),
        ((0.5, -0.866, 0.866, 0.5), (0, -1, 1, 0)),
        ((0.707, -0.707, 0.707, 0.707), (1, 0, 0, 1)),
        ((-2.0, 0.0, 0.0, 3.0), (-1, 0, 0, 1)),
        ((0.5, 2.0, 0.4, -0.2), (0, 1, 1, 0)),
        ((0.0, 0.1, 0.0, -0.2), (1, 0, 0, -1)),
        ((-0.2, -0.1, 0.25, 0.1), (0, -1, 1, 0)),
    ],
)
def test_what_is_no_quarter_turn_is_taken_as_the_nearest(
    matrix: tuple[float, ...], nearest: tuple[int, ...]
) -> None:
    assert orientation_of(frame(*matrix)) == Orientation(*nearest)
