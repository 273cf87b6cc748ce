"""Films for the bench, made from a sample clip with ffmpeg: longer, larger, other codecs."""

import subprocess
from dataclasses import dataclass, replace
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Make:
    """How a film is made: its length, height of the shorter side, rate and encoder."""

    seconds: float
    short_side_px: int
    rate_hz: int
    encoder: str


HD = ("libx264", 1080, 30)
UHD = ("libx265", 2160, 60)

LONGEST_CODED_S = 60.0
LAP_S = 20.0
"""Films longer than a minute are joined of laps this long: coding an hour would take longer than
what is measured on it."""


def make_film(clip: Path, folder: Path, make: Make) -> Path:
    """Loop and convert a clip; a film that is already there is used again."""
    film = (
        folder
        / f"{clip.stem}_{make.short_side_px}p{make.rate_hz}_{make.encoder}_{make.seconds:g}s.mp4"
    )
    if film.exists():
        return film
    folder.mkdir(parents=True, exist_ok=True)
    part = film.with_suffix(".part.mp4")
    if make.seconds > LONGEST_CODED_S:
        lap = make_film(clip, folder, replace(make, seconds=LAP_S))
        joining = ["ffmpeg", "-v", "error", "-y", "-stream_loop", "-1", "-i", str(lap)]
        subprocess.run(
            [*joining, "-c", "copy", "-t", f"{make.seconds:g}", str(part)],
            check=True,
        )
        part.rename(film)
        return film
    scale = f"scale='if(gt(iw,ih),-2,{make.short_side_px})':'if(gt(iw,ih),{make.short_side_px},-2)'"
    reading = ["ffmpeg", "-v", "error", "-y", "-stream_loop", "-1", "-i", str(clip)]
    picture = ["-vf", f"{scale}:flags=bicubic,fps={make.rate_hz}", "-pix_fmt", "yuv420p"]
    # A key frame a second, as phones write them (common practice, no source).
    coding = ["-c:v", make.encoder, "-preset", "veryfast", "-g", str(make.rate_hz)]
    if make.encoder == "libx265":
        coding += ["-x265-params", "log-level=error"]
    writing = [*coding, "-an", "-t", f"{make.seconds}"]
    subprocess.run([*reading, *picture, *writing, str(part)], check=True)
    part.rename(film)
    return film
