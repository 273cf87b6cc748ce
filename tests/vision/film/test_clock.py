"""A picture's time is the container's, or none is told."""

from pathlib import Path

import av
import numpy as np
import pytest
from av.bitstream import BitStreamFilterContext

from tests.vision.film.films import TICK
from vision.film.clock import clock_of
from vision.film.frames import frames
from vision.film.reading import read_film

EVEN_S = np.arange(12) / 30
SHADES, STEP = 60, 3


def _film(path: Path, times_s: list[float], **encoder: str) -> Path:
    """A film in H.264 whose pictures' shades tell their order; pictures are stored early in it."""
    options = {
        "g": "12",
        "crf": "4",
        "bf": "3",
        "b_strategy": "0",
        "x264-params": "b-pyramid=normal",
    } | encoder
    with av.open(str(path), "w") as output:
        stream = output.add_stream("libx264", rate=30, options=options)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        stream.time_base = stream.codec_context.time_base = TICK
        for number, time_s in enumerate(times_s):
            shade = np.full((48, 64), 30 + STEP * (number % SHADES), np.uint8)
            frame = av.VideoFrame.from_ndarray(shade, format="gray").reformat(format="yuv420p")
            frame.pts, frame.time_base = round(time_s / TICK), TICK
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    return path


def _copied(film: Path, path: Path, **options: str) -> Path:
    """The packets of a film in another container, as stream copies are made."""
    with av.open(str(film)) as source, av.open(str(path), "w", options=options) as target:
        pictures = source.streams.video[0]
        stream = target.add_stream_from_template(pictures)
        name = "h264_mp4toannexb" if path.suffix == ".avi" else "null"
        form = BitStreamFilterContext(name, pictures)
        for packet in source.demux(pictures):
            if packet.size:
                for part in form.filter(packet):
                    part.stream = stream
                    target.mux(part)
    return path


def _shown_in_order(path: Path) -> list[int]:
    """Place in the source of each picture, as its shade tells, in the order of its row."""
    shown = sorted(frames(read_film(path)), key=lambda frame: frame.index)
    return [round((float(frame.picture.mean()) - 30) / STEP) for frame in shown]


@pytest.mark.parametrize("suffix", [".avi", ".asf", ".ts", ".flv", ".mkv", ".mov"])
@pytest.mark.parametrize("early", ["2", "8"])
def test_a_stream_copy_lasts_as_long_as_its_source(tmp_path: Path, suffix: str, early: str) -> None:
    """Pictures stored up to eight places early; AVI and ASF keep decoding times alone."""
    source = _film(tmp_path / "source.mp4", [n / 30 for n in range(60)], bf=early)
    path = _copied(source, tmp_path / f"film{suffix}")
    film = read_film(path)
    assert film.times_known
    assert film.duration_s == pytest.approx(2.0, abs=0.01)
    assert np.diff(film.time_s) == pytest.approx(np.full(59, 1 / 30), abs=1.1e-3)
    assert film.warnings == ()
    assert _shown_in_order(path) == list(range(60))


def test_uneven_times_survive_a_container_of_decoding_times(tmp_path: Path) -> None:
    """Encoders give presentation times, put in order and delayed, as decoding times."""
    kept = [n for n in range(60) if n % 7 not in (3, 5)]
    source = _film(tmp_path / "source.mp4", [n / 30 for n in kept])
    film = read_film(_copied(source, tmp_path / "film.avi"))
    expected = read_film(source).time_s
    assert np.diff(film.time_s)[:-3] == pytest.approx(np.diff(expected)[:-3], abs=1e-6)


@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_pictures_whose_container_took_decoding_times_for_theirs_keep_their_order(
    tmp_path: Path, suffix: str
) -> None:
    """Copied by way of AVI, each picture carries the time of another."""
    source = _film(tmp_path / "source.mp4", [n / 30 for n in range(60)])
    by_way = _copied(source, tmp_path / "film.avi")
    path = _copied(_copied(by_way, tmp_path / "film.mp4"), tmp_path / f"again{suffix}")
    film = read_film(path)
    assert film.clock == "sorted"
    assert np.diff(film.time_s) == pytest.approx(np.full(59, 1 / 30), abs=1.1e-3)
    assert _shown_in_order(path) == list(range(60))


def test_a_clock_that_runs_over_in_mid_film_goes_on(tmp_path: Path) -> None:
    """The clock of MPEG-TS has 33 bits at 90 kHz (ISO/IEC 13818-1, 2.4.3.7): 26.5 hours."""
    source = _film(tmp_path / "source.mp4", [n / 30 for n in range(90)])
    over_s = 2**33 / 90_000
    path = _copied(source, tmp_path / "film.ts", output_ts_offset=f"{over_s - 1.0:.3f}")
    film = read_film(path)
    assert film.clock == "stored"
    assert film.duration_s == pytest.approx(3.0, abs=1e-3)


def test_two_films_put_one_behind_the_other_tell_no_time(tmp_path: Path) -> None:
    source = _film(tmp_path / "source.mp4", [n / 30 for n in range(60)])
    piece = _copied(source, tmp_path / "piece.ts").read_bytes()
    path = tmp_path / "film.ts"
    path.write_bytes(piece + piece)
    film = read_film(path)
    assert film.frames == 120
    assert not film.times_known
    (warning,) = film.warnings
    assert "back to" in warning
    assert "no time, split or score is told" in warning


def test_times_that_rise_are_taken_as_they_are() -> None:
    clock = clock_of([-0.2, 0.0, 0.1, 0.9], [None] * 4, 1 / 30)
    assert clock.source == "stored"
    assert list(clock.time_s) == [-0.2, 0.0, 0.1, 0.9]


def test_decoding_times_stand_in_for_presentation_times_that_are_missing() -> None:
    """Two pictures are held back; the last two come out when no packet is left."""
    brought_s = [*(EVEN_S[2:] + 0.5), None, None]
    clock = clock_of([None] * 12, brought_s, 1 / 7)
    assert clock.source == "sorted"
    assert clock.time_s == pytest.approx(EVEN_S + 0.5)


def test_a_gap_between_decoding_times_stays() -> None:
    brought_s = np.concatenate((EVEN_S[:6], EVEN_S[6:] + 2.0))
    assert clock_of([None] * 12, list(brought_s), 1 / 30).time_s == pytest.approx(brought_s)


@pytest.mark.parametrize(
    ("stored_s", "doubt"),
    [
        ([None] * 12, "12 of 12 pictures have no time"),
        ([None, None, *EVEN_S[2:]], "2 of 12 pictures have no time"),
        ([*EVEN_S[:6], *([None] * 6)], "6 of 12 pictures have no time"),
        ([0.0] * 12, "from 0.00 s back to 0.00 s"),
    ],
)
def test_where_neither_is_complete_pictures_are_counted(
    stored_s: list[float | None], doubt: str
) -> None:
    clock = clock_of(stored_s, [None] * 12, 0.04)
    assert clock.source == "counted"
    assert clock.time_s == pytest.approx(0.04 * np.arange(12))
    assert doubt in clock.doubt


def test_one_missing_time_lies_between_its_neighbours() -> None:
    stored_s = [None if n == 5 else float(t) for n, t in enumerate(EVEN_S)]
    clock = clock_of(stored_s, [None] * 12, 1 / 30)
    assert clock.source == "sorted"
    assert clock.time_s == pytest.approx(EVEN_S)


def test_one_wild_time_is_no_reason_to_move_the_others() -> None:
    """Sorting would take the picture at 99 s for the last of forty, and shift those between."""
    stored_s = list(np.arange(40) / 30)
    stored_s[10] = 99.0
    assert clock_of(stored_s, [None] * 40, 1 / 30).source == "counted"


def test_pictures_are_told_by_order_where_they_lack_their_own_times(tmp_path: Path) -> None:
    source = _film(tmp_path / "source.mp4", [n / 30 for n in range(20)])
    assert not read_film(source).by_order
    assert read_film(_copied(source, tmp_path / "film.avi")).by_order
