"""Pictures come upright, in their size, with their own row and time."""

import itertools
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from tests.vision.film.films import write_film
from vision.film.frames import Glance, Picture, frames, grey, thinned
from vision.film.opening import decoded, open_film
from vision.film.orientation import Orientation
from vision.film.reading import read_film

TICKS = [3000 * n for n in range(20)]
CORNERS = {
    "top left": (0, 0),
    "top right": (0, -1),
    "bottom left": (-1, 0),
    "bottom right": (-1, -1),
}

# Where red (top left) and green (top right) of the stored picture are shown, by the definition of
# the display matrix in ISO/IEC 14496-12, 8.3.2.3: x' = a x + c y, y' = b x + d y.
SHOWN = {
    (1, 0, 0, 1): ("top left", "top right", 0, False),
    (0, 1, -1, 0): ("top right", "bottom right", 270, False),
    (-1, 0, 0, -1): ("bottom right", "bottom left", 180, False),
    (0, -1, 1, 0): ("bottom left", "top left", 90, False),
    (-1, 0, 0, 1): ("top right", "top left", 0, True),
    (1, 0, 0, -1): ("bottom left", "bottom right", 180, True),
    (0, 1, 1, 0): ("top left", "bottom left", 90, True),
    (0, -1, -1, 0): ("bottom right", "top right", 270, True),
}


def _colour_at(picture: npt.NDArray[np.uint8], corner: str) -> str:
    row, column = CORNERS[corner]
    height, width = picture.shape[:2]
    patch = picture[5 if row == 0 else height - 6, 5 if column == 0 else width - 6]
    if patch[0] > 150 and patch[1] < 100:
        return "red"
    return "green" if patch[1] > 150 and patch[0] < 100 else "grey"


@pytest.mark.parametrize("matrix", list(SHOWN))
def test_the_picture_is_shown_as_the_container_says(
    tmp_path: Path, matrix: tuple[int, int, int, int]
) -> None:
    red, green, rotation_deg, mirrored = SHOWN[matrix]
    film = read_film(write_film(tmp_path / "film.mp4", TICKS[:3], matrix=matrix))
    (frame, *_) = frames(film)
    assert _colour_at(frame.picture, red) == "red"
    assert _colour_at(frame.picture, green) == "green"
    assert frame.picture.shape == (film.height_px, film.width_px, 3)
    assert (film.rotation_deg, film.mirrored) == (rotation_deg, mirrored)


@pytest.mark.parametrize(
    ("rotation_deg", "mirrored"), list(itertools.product((0, 90, 180, 270), (0, 1)))
)
def test_turn_and_mirroring_tell_an_orientation(rotation_deg: int, mirrored: int) -> None:
    orientation = Orientation.of(rotation_deg, bool(mirrored))
    assert orientation.rotation_deg == rotation_deg
    assert orientation.mirrored == bool(mirrored)


def test_a_stretch_holds_the_frames_from_start_up_to_end(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    shown = list(frames(film, film.time_s[7], film.time_s[13]))
    assert [frame.index for frame in shown] == list(range(7, 13))
    assert [frame.time_s for frame in shown] == list(film.time_s[7:13])


def test_stretches_side_by_side_hold_every_frame_once(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    edges = [0.0, 0.21, 0.33, 0.5, 1.0]
    shown = [f.index for a, b in itertools.pairwise(edges) for f in frames(film, a, b)]
    assert shown == list(range(film.frames))


def test_a_thinned_film_keeps_the_least_time_apart(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    shown = [frame.index for frame in frames(film, every_s=0.1)]
    assert shown == [0, 3, 6, 9, 12, 15, 18]


def test_a_small_picture_keeps_its_shape(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS[:2], width=320, height=180))
    (frame, *_) = frames(film, long_side_px=160)
    assert frame.picture.shape == (90, 160, 3)
    assert frame.scale == 0.5


@pytest.mark.slow
def test_frames_do_not_pile_up_in_memory(tmp_path: Path) -> None:
    """A hundred pictures of 2 MB pass through well under 100 MB."""
    ticks = [3000 * n for n in range(100)]
    film = read_film(write_film(tmp_path / "film.mp4", ticks, width=960, height=720))
    before = _resident_mb()
    assert sum(1 for _ in frames(film)) == 100
    assert _resident_mb() - before < 100


def _resident_mb() -> float:
    statm = Path("/proc/self/statm")
    if not statm.exists():
        pytest.skip("this system does not tell a process's memory")
    return int(statm.read_text().split()[1]) * 4096 / 1e6


def test_only_the_rows_asked_for_are_given_but_all_are_glanced_at(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    rows = np.arange(film.frames) % 4 == 1
    glanced: list[float] = []
    glance = Glance(32, lambda time_s, _picture: glanced.append(time_s))
    shown = list(frames(film, rows=rows, glance=glance))
    assert [frame.index for frame in shown] == [1, 5, 9, 13, 17]
    assert glanced == film.time_s.tolist()


@pytest.mark.parametrize("matrix", sorted(SHOWN))
def test_a_glance_is_the_upright_picture_in_grey_scaled_down(
    tmp_path: Path, matrix: tuple[int, int, int, int]
) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS, matrix=matrix))
    glanced: list[Picture] = []
    glance = Glance(32, lambda _time_s, picture: glanced.append(picture))
    for frame, small in zip(list(frames(film, glance=glance)), glanced, strict=True):
        assert max(small.shape) == 32
        expected = cv2.resize(grey(frame.picture), small.shape[::-1], interpolation=cv2.INTER_AREA)
        # Colours are converted before the one is scaled and not for the other.
        assert np.abs(small.astype(int) - expected).max() <= 5


def test_pictures_that_are_spared_change_nothing_in_the_others(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    rows = np.arange(film.frames) % 2 == 0
    glanced: list[float] = []
    glance = Glance(32, lambda time_s, _picture: glanced.append(time_s))
    spared = list(frames(film, rows=rows, glance=glance, sparing=True))
    whole = [frame for frame in frames(film) if rows[frame.index]]
    assert [frame.index for frame in spared] == [frame.index for frame in whole]
    assert glanced == film.time_s[rows].tolist()
    for one, other in zip(spared, whole, strict=True):
        assert np.array_equal(one.picture, other.picture)


def test_pictures_on_which_none_rests_are_spared_the_decoding(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", TICKS))
    with open_film(film.path) as (container, stream):
        kept = sum(1 for _ in decoded(container, stream, lambda _packet: True))
    with open_film(film.path) as (container, stream):
        whole = sum(1 for _ in decoded(container, stream, lambda _packet: False))
    assert 0 < kept < whole == film.frames


def test_times_are_thinned_from_the_first_on() -> None:
    time_s = np.array([0.0, 0.02, 0.04, 0.055, 0.06, 0.3, 0.31])
    assert thinned(time_s, 0.04).tolist() == [True, False, True, False, False, True, False]
    assert thinned(time_s, 0.0).all()
