"""Key frames that come by count draw the whole picture anew; a cut shows at them all the same."""

import numpy as np
import pytest

from tests.vision.continuity.conftest import Write, scene
from vision.continuity.assess import assess_continuity
from vision.continuity.cuts import redraw_times_s, regular_key_frames
from vision.continuity.watch import watch_film
from vision.film.reading import read_film

COARSE = {"preset": "veryfast", "g": "30"}


@pytest.mark.parametrize(
    ("key", "regular"),
    [
        ([0, 250], [250]),
        ([0, 130, 380], [380]),
        ([0, 130], []),
        ([0, 30, 60, 71, 101], [30, 60, 101]),
        ([0, 29, 59, 88], [29, 59, 88]),
        ([0], []),
        ([], []),
    ],
)
def test_a_key_frame_is_regular_where_it_comes_by_count(key: list[int], regular: list[int]) -> None:
    frames = np.zeros(400, dtype=np.bool_)
    frames[key] = True
    assert np.flatnonzero(regular_key_frames(frames)).tolist() == regular


@pytest.mark.slow
def test_a_picture_drawn_anew_every_second_is_no_cut(write_film: Write) -> None:
    """At low quality next to nothing of a slow motion is stored before the next key frame."""
    slow = [scene(1.0 + 2e-3 * n) for n in range(150)]
    film = read_film(write_film(slow, quality=45, **COARSE))
    watched = watch_film(film)
    assert {jump.index for jump in watched.jumps} >= {30, 60}
    assert redraw_times_s(film) == pytest.approx([1.0, 2.0, 3.0, 4.0])
    assert assess_continuity(film, watched=watched).continuous


@pytest.mark.slow
def test_a_cut_at_a_regular_key_frame_is_found(write_film: Write) -> None:
    """Films put together without encoding them again are cut there."""
    before = [scene(1.0 + 2e-3 * n) for n in range(60)]
    after = [scene(1.6 + 2e-3 * n) for n in range(90)]
    film = read_film(write_film(before + after, quality=40, **COARSE))
    assert film.time_s[60] in redraw_times_s(film)
    found = assess_continuity(film)
    assert [(f.kind, f.end_s) for f in found.findings if f.breaks] == [
        ("cut", pytest.approx(2.0, abs=1e-3))
    ]
