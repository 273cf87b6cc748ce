"""Tracks made longer for the bench."""

import numpy as np
import pytest

from tests.bench.from_landmarks import Growth, lengthened
from vision.track import PoseTrack


def test_a_track_is_repeated_without_a_jump_in_time() -> None:
    track = PoseTrack.unobserved(np.arange(90) / 30.0, 640, 360)
    track.image_px[:] = np.arange(90)[:, None, None]
    longer = lengthened(track, 1.0)
    assert longer.frames == 20 * 90
    assert np.diff(longer.time_s) == pytest.approx(1 / 30)
    assert longer.image_px[90 * 7 + 4, 0, 0] == 4.0


def test_linear_growth_has_the_exponent_one() -> None:
    assert Growth([1.0, 5.0, 60.0], [0.2, 1.0, 12.0], [0.1, 0.5, 6.0]).exponent == pytest.approx(
        1.0
    )
