"""Stream copies of one film in every container: their times are the film's, or none are told."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from tests.faults.hostile import made_by_ffmpeg
from tests.faults.tally import Headway, Part, Tally
from vision.continuity.steps import small_grey
from vision.film.errors import FilmError
from vision.film.frames import frames
from vision.film.reading import read_film
from vision.film.types import Film

SUFFIXES: Final = ("avi", "asf", "wmv", "ts", "flv", "mkv", "mov", "mp4")
CONTAINER_OF: Final = {"wmv": "asf"}
OFF_S: Final = 0.05
"""A frame and a half: a container of milliseconds, or of decoding times, is off by less."""
LOST_OFF_S: Final = 0.15
"""Where uneven times were lost on the way, and others written, within a few frames."""
SAME_LEVEL: Final = 3.0
B_FRAMES: Final = ("0", "2", "8")
RATES: Final = ("24000/1001", "30", "60")
CODERS: Final = {
    "x264": ["-c:v", "libx264", "-b_strategy", "0", "-x264-params", "b-pyramid=normal"],
    "x265": ["-c:v", "libx265", "-x265-params", "log-level=none"],
}
DROPS: Final = {"": "null", ", frames dropped": "select='gt(random(1),0.3)'"}


@dataclass(frozen=True)
class Copy:
    """A copy of a source, which lasts as long, or ``times`` as long, give or take ``off_s``."""

    name: str
    path: Path
    source: Path
    times: int = 1
    off_s: float = OFF_S


def count() -> int:
    """How many copies `copies` makes."""
    sources = len(CODERS) * len(B_FRAMES) * len(RATES) * len(DROPS)
    return sources * (len(SUFFIXES) + 3)


def time_copies(folder: Path, film: Path, part: Part, tally: Tally) -> None:
    """Read every copy and hold its times and pictures against its source's."""
    headway = Headway("copies", count(), part)
    for index, copy in enumerate(copies(folder, film, part)):
        if copy is None or not part.takes(index):
            continue
        tally.inputs += 1
        tally.wrong += [f"{copy.name}: {words}" for words in contradictions(copy)]
        headway.step(tally)


def copies(folder: Path, film: Path, part: Part) -> Iterator[Copy | None]:
    """Two seconds of the film encoded in many ways, each copied; None for what nobody asked of."""
    number = 0
    for coder, codec in CODERS.items():
        for early in B_FRAMES:
            for rate in RATES:
                for dropped, picked in DROPS.items():
                    name = f"{coder}, {early} early, {rate} a second{dropped}"
                    indices = range(number, number + len(SUFFIXES) + 3)
                    number = indices.stop
                    if not any(part.takes(index) for index in indices):
                        yield from [None] * len(indices)
                        continue
                    source = folder / "source.mp4"
                    filters = f"fps={rate},scale=-2:120,{picked}"
                    encode = ["-t", "2", "-an", "-vf", filters, "-fps_mode", "vfr", *codec]
                    assert made_by_ffmpeg(
                        source, ["-i", str(film), *encode, "-bf", early, "-crf", "10"]
                    )
                    yield from _copies_of(folder, source, name)


def _copies_of(folder: Path, source: Path, name: str) -> Iterator[Copy | None]:
    for suffix in SUFFIXES:
        path = _copied(folder / f"copy.{suffix}", source, CONTAINER_OF.get(suffix))
        yield Copy(f"{name}, {suffix}", path, source) if path else None
    by_avi = folder / "copy.avi"
    for suffix in ("mp4", "mkv"):
        way = _copied(folder / "by avi.mp4", by_avi) if by_avi.exists() else None
        path = _copied(folder / f"by way of avi.{suffix}", way) if way else None
        lost = f"{name}, {suffix} by way of avi"
        yield Copy(lost, path, source, off_s=LOST_OFF_S) if path else None
    stream = folder / "copy.ts"
    twice = folder / "twice.ts"
    twice.write_bytes(2 * stream.read_bytes() if stream.exists() else b"")
    yield Copy(f"{name}, ts twice", twice, source, 2) if stream.exists() else None


def _copied(path: Path, source: Path, container: str | None = None) -> Path | None:
    path.unlink(missing_ok=True)
    form = ["-f", container] if container else []
    return path if made_by_ffmpeg(path, ["-i", str(source), "-c", "copy", *form]) else None


def contradictions(copy: Copy) -> list[str]:
    """Say what a copy is told to be that its source is not."""
    source = read_film(copy.source)
    try:
        found = read_film(copy.path)
    except FilmError:
        return []
    if not found.times_known:
        told = any("no time, split or score is told" in line for line in found.warnings)
        return [] if told else ["no time is known and nobody is told"]
    if copy.times != 1 or found.frames != source.frames:
        return [f"{found.frames} timed frames of {copy.times} times {source.frames}"]
    wrong = []
    off_s = found.time_s - source.time_s
    if np.ptp(off_s) > copy.off_s:
        wrong.append(f"times are off by {np.ptp(off_s):.2f} s against one another")
    if abs(found.duration_s - source.duration_s) > copy.off_s:
        wrong.append(f"lasts {found.duration_s:.2f} instead of {source.duration_s:.2f} s")
    if np.abs(_pictures(found) - _pictures(source)).mean(axis=(1, 2)).max() > SAME_LEVEL:
        wrong.append("pictures stand at others' times")
    return wrong


def _pictures(film: Film) -> npt.NDArray[np.float32]:
    shown = sorted(frames(film, long_side_px=160), key=lambda frame: frame.index)
    return np.array([small_grey(frame.picture) for frame in shown], dtype=np.float32)
