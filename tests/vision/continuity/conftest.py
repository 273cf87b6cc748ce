"""A textured scene filmed by the test: an athlete of cloth going up and down before a wall."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt
import pytest

Picture = npt.NDArray[np.uint8]

WIDTH, HEIGHT = 320, 240
RATE_HZ = 30
TICKS = 90_000


def wall(seed: int) -> npt.NDArray[np.float64]:
    """(HEIGHT + 40, WIDTH + 40) of blotches."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(60, 190, ((HEIGHT + 40) // 8 + 1, (WIDTH + 40) // 8 + 1))
    return np.kron(coarse, np.ones((8, 8)))[: HEIGHT + 40, : WIDTH + 40]


def scene(
    time_s: float,
    *,
    seed: int = 3,
    camera_px: tuple[int, int] = (0, 0),
    cycle_s: float = 2.0,
    still: bool = False,
) -> Picture:
    """Film the scene at a time; the athlete's cycles drift, so that no two are alike."""
    x0, y0 = 20 + camera_px[0], 20 + camera_px[1]
    picture = wall(seed)[y0 : y0 + HEIGHT, x0 : x0 + WIDTH].copy()
    cloth = np.random.default_rng(seed + 1).uniform(0, 255, (20, 6)).repeat(6, 0).repeat(6, 1)
    angle = 2 * np.pi * time_s / cycle_s
    height = 0.0 if still else 45 * np.sin(angle) + 4 * np.sin(0.31 * angle)
    sway = 0.0 if still else 10 * np.sin(0.43 * angle)
    top, left = 60 + height - camera_px[1], 140 + sway - camera_px[0]
    rows = np.arange(HEIGHT)[:, None] - top
    columns = np.arange(WIDTH)[None, :] - left
    inside = (rows >= 0) & (rows < 119) & (columns >= 0) & (columns < 35)
    r, c = np.broadcast_arrays(np.clip(rows, 0, 118), np.clip(columns, 0, 34))
    picture[inside] = bilinear(cloth, r[inside], c[inside])
    noise = np.random.default_rng(int(time_s * 1e5) + seed).normal(0, 2.0, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


def bilinear(
    image: npt.NDArray[np.float64], rows: npt.NDArray[np.float64], columns: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    r0, c0 = rows.astype(int), columns.astype(int)
    fr, fc = rows - r0, columns - c0
    above = image[r0, c0] * (1 - fc) + image[r0, c0 + 1] * fc
    below = image[r0 + 1, c0] * (1 - fc) + image[r0 + 1, c0 + 1] * fc
    return above * (1 - fr) + below * fr


Write = Callable[..., Path]


@pytest.fixture
def write_film(tmp_path: Path) -> Write:
    """Write grey pictures as a film with given times, and sound where samples are given.

    Further options go to the encoder.
    """

    def write(
        pictures: Sequence[Picture],
        times_s: Sequence[float] | None = None,
        sound: npt.NDArray[np.float64] | None = None,
        quality: int = 23,
        **encoder: str,
    ) -> Path:
        path = tmp_path / f"film{len(list(tmp_path.iterdir()))}.mp4"
        times = times_s or [n / RATE_HZ for n in range(len(pictures))]
        with av.open(str(path), "w") as container:
            stream = container.add_stream("libx264", rate=RATE_HZ)
            stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
            stream.options = {"preset": "ultrafast", "crf": str(quality)} | encoder
            stream.time_base = stream.codec_context.time_base = Fraction(1, TICKS)
            voice = (
                container.add_stream("aac", rate=16_000, layout="mono")
                if sound is not None
                else None
            )
            for picture, time_s in zip(pictures, times, strict=True):
                frame = av.VideoFrame.from_ndarray(picture, format="gray").reformat(
                    format="yuv420p"
                )
                frame.pts, frame.time_base = round(time_s * TICKS), Fraction(1, TICKS)
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
            if voice is not None and sound is not None:
                samples = av.AudioFrame.from_ndarray(
                    sound.astype(np.float32)[None, :], format="fltp", layout="mono"
                )
                samples.sample_rate, samples.pts = 16_000, 0
                container.mux(voice.encode(samples))
                container.mux(voice.encode(None))
        return path

    return write


@pytest.fixture(scope="session")
def take() -> list[Picture]:
    """Ten seconds in one take."""
    return [scene(n / RATE_HZ) for n in range(10 * RATE_HZ)]
